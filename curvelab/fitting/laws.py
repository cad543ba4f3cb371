"""Plate-current laws, each with its analytic Jacobian, over many tubes at once.

Every law is written for arrays of shape ``(n_tubes, n_readings)`` and parameters of shape
``(n_tubes, n_parameters)`` in *internal* coordinates: the logarithm of a quantity that
must be positive, the quantity itself where it may have either sign.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Protocol

import numpy as np

from curvelab.sweep.records import FloatArray

__all__ = [
    "KOREN",
    "LAWS",
    "SOFTPLUS",
    "THREE_HALVES",
    "Koren",
    "Law",
    "NamedParameters",
    "Softplus",
    "ThreeHalves",
    "law_named",
    "softplus",
]

_TINY = 1e-12
_LARGEST_LOG = 700.0


class Law(Protocol):
    """A plate-current law."""

    name: str
    symbols: tuple[str, ...]
    logarithmic: tuple[bool, ...]

    def evaluate(
        self, plate_voltage: FloatArray, grid_voltage: FloatArray, internal: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Return (current [A], its derivatives by the internal parameters).

        Shapes (n_tubes, n_readings) and (n_tubes, n_readings, n_parameters).
        """
        ...

    def slopes(
        self, plate_voltage: FloatArray, grid_voltage: FloatArray, internal: FloatArray
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return (Ip [A], dIp/dVp [S], dIp/dVg [S])."""
        ...


class NamedParameters:
    """What every law shares: its symbols and the way to physical parameters."""

    name: str
    symbols: tuple[str, ...]
    logarithmic: tuple[bool, ...]

    def physical(self, internal: FloatArray) -> dict[str, float]:
        """Return the parameters of one tube by symbol, in SI units."""
        return {  # a law that ran off stays a finite number; its outcome says what it is worth
            symbol: float(np.exp(np.clip(value, -_LARGEST_LOG, _LARGEST_LOG)) if log else value)
            for symbol, log, value in zip(self.symbols, self.logarithmic, internal, strict=True)
        }

    def internal(self, physical: Mapping[str, float]) -> FloatArray:
        """Return the internal coordinates of parameters given by symbol."""
        return np.array(
            [
                np.log(physical[symbol]) if log else physical[symbol]
                for symbol, log in zip(self.symbols, self.logarithmic, strict=True)
            ]
        )


def _columns(internal: FloatArray) -> list[FloatArray]:
    """Return each parameter as a column that broadcasts over readings."""
    return [internal[..., k, None] for k in range(internal.shape[-1])]


def softplus(argument: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return ln(1 + e^z) and its derivative 1 / (1 + e^-z), safe for any z."""
    decay = np.exp(-np.abs(argument))
    value = np.maximum(argument, 0.0) + np.log1p(decay)
    return value, np.where(argument >= 0, 1.0, decay) / (1.0 + decay)


class ThreeHalves(NamedParameters):
    """Ip = G (Vg + Vp/mu + Vc)^(3/2), zero below cut-off.

    References
    ----------
    Child, "Discharge from hot CaO", Physical Review 32 (1911) 492; Langmuir, "The effect
    of space charge and residual gases on thermionic currents in high vacuum", Physical
    Review 2 (1913) 450.
    """

    name = "three-halves"
    symbols = ("G", "mu", "Vc")
    logarithmic = (True, True, False)

    def evaluate(
        self, plate_voltage: FloatArray, grid_voltage: FloatArray, internal: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """See `Law.evaluate`."""
        log_g, log_mu, offset = _columns(internal)
        swing = plate_voltage * np.exp(-log_mu)
        drive = np.maximum(grid_voltage + swing + offset, 0.0)
        root = np.exp(log_g) * np.sqrt(drive)
        current = root * drive
        by_drive = 1.5 * root
        return current, np.stack([current, -by_drive * swing, by_drive], axis=-1)

    def slopes(
        self, plate_voltage: FloatArray, grid_voltage: FloatArray, internal: FloatArray
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        """See `Law.slopes`."""
        log_g, log_mu, offset = _columns(internal)
        inverse_mu = np.exp(-log_mu)
        drive = np.maximum(grid_voltage + plate_voltage * inverse_mu + offset, 0.0)
        root = np.exp(log_g) * np.sqrt(drive)
        return root * drive, 1.5 * root * inverse_mu, 1.5 * root


class Koren(NamedParameters):
    """Ip = 2 E^x / Kg1, E = (Vp/Kp) ln(1 + exp(Kp (1/mu + (Vg + Vct)/sqrt(Kvb + Vp^2)))).

    References
    ----------
    Koren, "Improved vacuum tube models for SPICE simulations", Glass Audio 8(5), 1996; the
    offset Vct: Cohen and Helie, "Measures and parameter estimation of triodes", AES 129th
    Convention, 2010.
    """

    name = "koren"
    symbols = ("mu", "x", "Kg1", "Kp", "Kvb", "Vct")
    logarithmic = (True, True, True, True, True, False)

    def evaluate(
        self, plate_voltage: FloatArray, grid_voltage: FloatArray, internal: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """See `Law.evaluate`."""
        log_mu, log_x, log_kg, log_kp, log_kvb, offset = _columns(internal)
        exponent, kp, kvb = np.exp(log_x), np.exp(log_kp), np.exp(log_kvb)
        plate = np.maximum(plate_voltage, _TINY)
        inverse_root = 1.0 / np.sqrt(kvb + plate * plate)
        grid = (grid_voltage + offset) * inverse_root
        inverse_mu = np.exp(-log_mu)
        inner = kp * (inverse_mu + grid)
        soft, gate = softplus(inner)
        drive = np.maximum(plate / kp * soft, 1e-300)  # after the division, which may underflow
        current = 2.0 * np.exp(exponent * np.log(drive) - log_kg)
        by_drive = exponent * current / drive * plate * gate  # dIp/d(inner/kp)
        jacobian = np.empty((*current.shape, 6))
        jacobian[..., 0] = -by_drive * inverse_mu
        jacobian[..., 1] = exponent * current * np.log(drive)
        jacobian[..., 2] = -current
        jacobian[..., 3] = by_drive * (inverse_mu + grid) - exponent * current
        jacobian[..., 4] = -0.5 * by_drive * grid * kvb * inverse_root**2
        jacobian[..., 5] = by_drive * inverse_root
        return current, jacobian

    def slopes(
        self, plate_voltage: FloatArray, grid_voltage: FloatArray, internal: FloatArray
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        """See `Law.slopes`."""
        log_mu, log_x, log_kg, log_kp, log_kvb, offset = _columns(internal)
        exponent, kp = np.exp(log_x), np.exp(log_kp)
        plate = np.maximum(plate_voltage, _TINY)
        inverse_root = 1.0 / np.sqrt(np.exp(log_kvb) + plate * plate)
        grid = (grid_voltage + offset) * inverse_root
        soft, gate = softplus(kp * (np.exp(-log_mu) + grid))
        drive = np.maximum(plate / kp * soft, 1e-300)
        current = 2.0 * np.exp(exponent * np.log(drive) - log_kg)
        scale = exponent * current / drive
        by_plate = scale * (soft / kp - plate * gate * grid * plate * inverse_root**2)
        return current, by_plate, scale * plate * gate * inverse_root


class Softplus(NamedParameters):
    """Ip = G (ln(1 + exp(C (Vp/mu + Vg))) / C)^gamma.

    The law's grid current is not taken off: at negative grids it is far below the plate
    current's own uncertainty.

    References
    ----------
    Dempwolf and Zoelzer, "A physically-motivated triode model for circuit simulations",
    Proc. DAFx-11, Paris, 2011.
    """

    name = "softplus"
    symbols = ("G", "mu", "gamma", "C")
    logarithmic = (True, True, True, True)

    def evaluate(
        self, plate_voltage: FloatArray, grid_voltage: FloatArray, internal: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """See `Law.evaluate`."""
        log_g, log_mu, log_gamma, log_c = _columns(internal)
        gamma, steepness = np.exp(log_gamma), np.exp(log_c)
        swing = plate_voltage * np.exp(-log_mu)
        total = swing + grid_voltage
        soft, gate = softplus(steepness * total)
        drive = np.maximum(soft / steepness, 1e-300)
        log_drive = np.log(drive)
        current = np.exp(log_g + gamma * log_drive)
        by_total = gamma * current / drive * gate
        jacobian = np.empty((*current.shape, 4))
        jacobian[..., 0] = current
        jacobian[..., 1] = -by_total * swing
        jacobian[..., 2] = gamma * current * log_drive
        jacobian[..., 3] = by_total * total - gamma * current
        return current, jacobian

    def slopes(
        self, plate_voltage: FloatArray, grid_voltage: FloatArray, internal: FloatArray
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        """See `Law.slopes`."""
        log_g, log_mu, log_gamma, log_c = _columns(internal)
        gamma, steepness, inverse_mu = np.exp(log_gamma), np.exp(log_c), np.exp(-log_mu)
        soft, gate = softplus(steepness * (plate_voltage * inverse_mu + grid_voltage))
        drive = np.maximum(soft / steepness, 1e-300)
        current = np.exp(log_g + gamma * np.log(drive))
        by_grid = gamma * current / drive * gate
        return current, by_grid * inverse_mu, by_grid


THREE_HALVES = ThreeHalves()
KOREN = Koren()
SOFTPLUS = Softplus()
LAWS: tuple[ThreeHalves | Koren | Softplus, ...] = (THREE_HALVES, KOREN, SOFTPLUS)


def law_named(name: str) -> ThreeHalves | Koren | Softplus:
    """Return the law of this name.

    Raises
    ------
    KeyError
        If there is none.
    """
    return {law.name: law for law in LAWS}[name]
