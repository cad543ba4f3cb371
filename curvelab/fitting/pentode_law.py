"""The law of a tube with a screen grid: its cathode current, and how plate and screen share it.

The cathode's current is drawn by the weighted sum of all voltages, as in a triode, and follows
the three-halves power of them all together::

    h  = ln(1 + exp(K w)) / K,   w = 1 + D Vp/Vs + mu (Vg + Vc)/Vs
    Ik = G Vs^(3/2) h^x

with mu the amplification factor of the control grid against the screen, D how much less the
plate acts upon the cathode than the screen does, Vc the contact offset. Written in ratios to
the screen voltage, the law is a homogeneous one of degree 3/2: all electrode volts n times as
high make n^(3/2) times the current. That is what handbooks print as conversion factors for
pentodes, and it is what carries readings at one screen voltage to another.

The screen's wires intercept a share of it at any plate voltage; of the rest the plate takes the
more, the higher it stands above the screen::

    Ip = Ik / (1 + r) * q / (1 + q),   q = (Vp / (y0 Vs))^n h^m,   Is = Ik - Ip

q alone would be the division by a power of the ratio of the voltages; h^m lets the knee move with
the current.

References
----------
Child, Physical Review 32 (1911) 492, and Langmuir, Physical Review 2 (1913) 450, for the power;
Koren, "Improved vacuum tube models for SPICE simulations", Glass Audio 8(5), 1996, for the foot
that widens with the screen voltage; Spangenberg, Vacuum Tubes, 1948, for the division by a power
of the voltage ratio; Leach, "SPICE models for vacuum-tube amplifiers", J. Audio Eng. Soc. 43(3),
1995, for a cathode current by a triode's law that is then divided.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from curvelab.fitting.conversion import DEGREE
from curvelab.fitting.laws import NamedParameters, softplus
from curvelab.sweep.records import FloatArray

__all__ = ["PENTODE", "PentodeCurrents", "PentodeLaw", "PentodeSlopes"]

_TINY = 1e-300
_LEAST_VOLT = 1e-3


@dataclass(frozen=True, slots=True, eq=False)
class PentodeCurrents:
    """Plate and screen current [A], shape (t, n), and derivatives by the internal parameters.

    The Jacobians have shape (t, n, p).
    """

    plate: FloatArray
    screen: FloatArray
    plate_jacobian: FloatArray
    screen_jacobian: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class PentodeSlopes:
    """The law at some points; every derivative is that of a logarithm [1/V].

    Attributes
    ----------
    plate, cathode : ndarray
        Plate and cathode current [A].
    plate_by_plate, plate_by_grid, plate_by_screen : ndarray
        Derivatives of ln(plate current) by Vp, Vg and Vs.
    cathode_by_plate, cathode_by_grid : ndarray
        Derivatives of ln(cathode current) by Vp and Vg.
    """

    plate: FloatArray
    cathode: FloatArray
    plate_by_plate: FloatArray
    plate_by_grid: FloatArray
    plate_by_screen: FloatArray
    cathode_by_plate: FloatArray
    cathode_by_grid: FloatArray

    def reshaped(self, shape: tuple[int, ...]) -> PentodeSlopes:
        """Return the same with arrays of another shape."""
        return PentodeSlopes(*(getattr(self, item.name).reshape(shape) for item in fields(self)))


@dataclass(frozen=True, slots=True, eq=False)
class _Inner:
    """What both evaluations need, shape (t, n)."""

    ratio: FloatArray  # Vp / Vs
    screen_voltage: FloatArray
    drive: FloatArray  # w
    gate: FloatArray  # dh/dw over h
    soft: FloatArray  # h
    log_soft: FloatArray
    cathode: FloatArray
    share: FloatArray  # q / (1 + q)
    intercepted: FloatArray  # 1 / (1 + r)


class PentodeLaw(NamedParameters):
    """See the module; parameters in internal coordinates as those of `laws.Law`."""

    name = "pentode"
    symbols = ("G", "mu", "D", "x", "K", "Vc", "n", "y0", "m", "r")
    logarithmic = (True, True, True, True, True, False, True, True, False, True)

    def evaluate(
        self,
        plate_voltage: FloatArray,
        grid_voltage: FloatArray,
        screen_voltage: FloatArray,
        internal: FloatArray,
    ) -> PentodeCurrents:
        """Return both currents with their derivatives by the internal parameters.

        Parameters
        ----------
        plate_voltage, grid_voltage, screen_voltage : ndarray, shape (t, n)
            To the cathode [V].
        internal : ndarray, shape (t, 10)
        """
        p = [internal[..., k, None] for k in range(internal.shape[-1])]
        at = _inner(plate_voltage, grid_voltage, screen_voltage, p)
        mu, exponent, power, knee_shift = np.exp(p[1]), np.exp(p[3]), np.exp(p[6]), p[8]
        bias = mu * (grid_voltage + p[5]) / at.screen_voltage
        zero = np.zeros_like(at.cathode)
        # Derivatives of ln h, then of ln Ik and of ln q.
        soft = [zero] * len(p)
        soft[1] = at.gate * bias
        soft[2] = at.gate * np.exp(p[2]) * at.ratio
        soft[4] = at.gate * at.drive - 1.0
        soft[5] = at.gate * mu / at.screen_voltage
        cathode = [exponent * item for item in soft]
        cathode[0] = zero + 1.0
        cathode[3] = exponent * at.log_soft
        division = [knee_shift * item for item in soft]
        division[6] = power * (np.log(at.ratio) - p[7])
        division[7] = zero - power
        division[8] = at.log_soft
        plate = [c + (1.0 - at.share) * d for c, d in zip(cathode, division, strict=True)]
        plate[9] = plate[9] - (1.0 - at.intercepted)
        current = at.cathode * at.intercepted * at.share
        plate_jacobian = current[..., None] * np.stack(plate, axis=-1)
        whole = at.cathode[..., None] * np.stack(cathode, axis=-1)
        return PentodeCurrents(
            current, at.cathode - current, plate_jacobian, whole - plate_jacobian
        )

    def slopes(
        self,
        plate_voltage: FloatArray,
        grid_voltage: FloatArray,
        screen_voltage: FloatArray,
        internal: FloatArray,
    ) -> PentodeSlopes:
        """Return the currents and how their logarithms vary with the voltages."""
        p = [internal[..., k, None] for k in range(internal.shape[-1])]
        at = _inner(plate_voltage, grid_voltage, screen_voltage, p)
        exponent, power, knee_shift = np.exp(p[3]), np.exp(p[6]), p[8]
        per_volt = at.gate / at.screen_voltage
        by_plate, by_grid = per_volt * np.exp(p[2]), per_volt * np.exp(p[1])
        by_screen = -per_volt * (at.drive - 1.0)
        left = 1.0 - at.share
        bent = exponent + left * knee_shift
        divided = left * power / np.maximum(plate_voltage, _LEAST_VOLT)
        return PentodeSlopes(
            plate=at.cathode * at.intercepted * at.share,
            cathode=at.cathode,
            plate_by_plate=bent * by_plate + divided,
            plate_by_grid=bent * by_grid,
            plate_by_screen=bent * by_screen + (DEGREE - left * power) / at.screen_voltage,
            cathode_by_plate=exponent * by_plate,
            cathode_by_grid=exponent * by_grid,
        )


def _inner(
    plate_voltage: FloatArray,
    grid_voltage: FloatArray,
    screen_voltage: FloatArray,
    p: list[FloatArray],
) -> _Inner:
    screen = np.maximum(screen_voltage, _LEAST_VOLT)
    ratio = np.maximum(plate_voltage, _LEAST_VOLT) / screen
    steepness = np.exp(p[4])
    drive = 1.0 + np.exp(p[2]) * ratio + np.exp(p[1]) * (grid_voltage + p[5]) / screen
    raised, gate = softplus(steepness * drive)
    soft = np.maximum(raised / steepness, _TINY)  # after the division, which may underflow
    log_soft = np.log(soft)
    cathode = np.exp(p[0] + DEGREE * np.log(screen) + np.exp(p[3]) * log_soft)
    log_division = np.exp(p[6]) * (np.log(ratio) - p[7]) + p[8] * log_soft
    decay = np.exp(-np.abs(log_division))
    share = np.where(log_division >= 0, 1.0, decay) / (1.0 + decay)
    return _Inner(
        ratio=ratio,
        screen_voltage=screen,
        drive=drive,
        gate=gate / soft,
        soft=soft,
        log_soft=log_soft,
        cathode=cathode,
        share=share,
        intercepted=1.0 / (1.0 + np.exp(p[9])),
    )


PENTODE = PentodeLaw()
