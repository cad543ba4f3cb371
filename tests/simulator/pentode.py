"""Simulated tubes with a screen grid, by a law that curvelab does not fit.

The cathode's current is that of an uneven grid (`MixtureLaw`) in ``Vs + D Vp``; its foot and its
contact offset are volts of their own, so that the current is homogeneous in the voltages only
nearly. What passes the screen's wires reaches the plate but for a part that turns back below
the knee, whose volts grow with the current; a beam tube may lose some more in a dip::

    Ip = Ik s (1 - exp(-(Vp/Vk)^p)) (1 + e tanh(Vp/Vs - 1)) (1 - dip),   Vk = V0 (Ik/I0)^(2/3)

Slopes are central differences. Every figure is invented.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from curvelab.sweep.records import Readings

from .law import FloatArray, Foot, MixtureLaw

__all__ = [
    "PentodePlan",
    "SimulatedPentode",
    "plan_for",
    "random_pentode",
    "run_pentode_sweep",
]

_STEP = 1e-3
_SCREEN = 250.0


@dataclass(frozen=True, slots=True)
class SimulatedPentode:
    """One tube; the attributes are the symbols of the module in order, currents in [A]."""

    cathode: MixtureLaw
    plate_reach: float
    passed: float
    knee: float
    knee_power: float
    climb: float
    dip: float
    knee_current: float

    def currents(
        self, plate_voltage: ArrayLike, grid_voltage: ArrayLike, screen_voltage: ArrayLike
    ) -> tuple[FloatArray, FloatArray]:
        """Return plate and screen current [A]; arguments [V] broadcast together."""
        plate = np.maximum(np.asarray(plate_voltage, dtype=float), 1e-6)
        screen = np.asarray(screen_voltage, dtype=float)
        whole = self.cathode.current(screen + self.plate_reach * plate, grid_voltage)
        load = np.maximum(whole / self.knee_current, 1e-9)
        ratio = plate / screen
        knee = self.knee * load ** (2 / 3)
        arrives = -np.expm1(-((plate / knee) ** self.knee_power))
        lost = self.dip * np.exp(-(((ratio - 0.3) / 0.12) ** 2) - 2.0 * load)
        share = self.passed * arrives * (1.0 + self.climb * np.tanh(ratio - 1.0)) * (1.0 - lost)
        return whole * share, whole * (1.0 - share)

    def plate_current(
        self, plate_voltage: ArrayLike, grid_voltage: ArrayLike, screen_voltage: ArrayLike
    ) -> FloatArray:
        """Return the plate current [A]."""
        return self.currents(plate_voltage, grid_voltage, screen_voltage)[0]

    def constants(self, plate: float, grid: float, screen: float) -> dict[str, float]:
        """Return Ip, gm, rp and the mu of grid to screen at a point, in SI units."""

        def rise(*shift: float) -> float:
            up, down = (
                float(
                    self.plate_current(
                        *(
                            v + sign * s * _STEP
                            for v, s in zip((plate, grid, screen), shift, strict=True)
                        )
                    )
                )
                for sign in (1.0, -1.0)
            )
            return (up - down) / (2 * _STEP)

        gm = rise(0, 1, 0)
        return {
            "plate_current": float(self.plate_current(plate, grid, screen)),
            "transconductance": gm,
            "plate_resistance": 1.0 / rise(1, 0, 0),
            "amplification_factor": gm / rise(0, 0, 1),
        }

    def grid_for(self, plate: float, screen: float, current: float) -> float:
        """Return the grid voltage that makes a plate current [A], by bisection."""
        low, high = -150.0, 0.0
        for _ in range(60):
            middle = 0.5 * (low + high)
            if float(self.plate_current(plate, middle, screen)) < current:
                low = middle
            else:
                high = middle
        return 0.5 * (low + high)


@dataclass(frozen=True, slots=True)
class PentodePlan:
    """Set-points of a sweep [V], and the scatter of its meters (of the reading; of the largest)."""

    plate_voltage: tuple[float, ...]
    grid_voltage: tuple[float, ...]
    screen_voltage: tuple[float, ...]
    noise: float = 0.003
    floor: float = 2e-4
    screen_metered: bool = False


def random_pentode(rng: np.random.Generator, *, beam: bool = False) -> SimulatedPentode:
    """Return a tube that draws 20 to 80 mA at 250 V on plate and screen."""
    mu, count = float(rng.uniform(7.0, 25.0)), 7
    place = np.linspace(-1.0, 1.0, count)
    weights = np.exp(-(place**2)) * np.exp(rng.normal(0.0, 0.15, count))
    weights /= weights.sum()
    factors = mu * np.exp(rng.uniform(0.05, 0.15) * place)
    offset = float(rng.uniform(0.1, 0.7))
    law = MixtureLaw(
        perveance=1.0,
        weights=tuple(weights.tolist()),
        amplification_factors=tuple(factors.tolist()),
        offsets=(offset,) * count,
        foot=Foot.DIFFUSION,
        foot_width=float(rng.uniform(0.25, 0.6)),  # its law clips a drive of 200 widths
        knee=1e-3,
    )
    reach, wanted = float(rng.uniform(0.01, 0.05)), float(rng.uniform(0.02, 0.08))
    grid = -0.55 * _SCREEN / mu
    perveance = 1.1 * wanted / float(law.current(_SCREEN * (1.0 + reach), grid))
    law = MixtureLaw(
        perveance,
        law.weights,
        law.amplification_factors,
        law.offsets,
        law.foot,
        law.foot_width,
        law.knee,
    )
    return SimulatedPentode(
        cathode=law,
        plate_reach=reach,
        passed=float(rng.uniform(0.85, 0.95)),
        knee=float(rng.uniform(15.0, 35.0)),
        knee_power=float(rng.uniform(0.7, 1.1)),
        climb=float(rng.uniform(0.0, 0.04)),
        dip=float(rng.uniform(0.1, 0.3)) if beam else 0.0,
        knee_current=wanted,
    )


def plan_for(tube: SimulatedPentode, *, screens: tuple[float, ...] = (_SCREEN,)) -> PentodePlan:
    """Return the plan of an automatic bench: from no bias to cut-off, 10 to 350 V on the plate."""
    cutoff = tube.grid_for(_SCREEN, max(screens), 0.02 * tube.knee_current)
    plates = (10.0, 20.0, 30.0, 45.0, 60.0, *np.arange(80.0, 351.0, 15.0).tolist())
    return PentodePlan(plates, tuple(np.linspace(0.0, cutoff, 9).round(2).tolist()), screens)


def run_pentode_sweep(
    tube: SimulatedPentode, plan: PentodePlan, rng: np.random.Generator
) -> Readings:
    """Return the readings of a sweep; screen current only where the plan meters it."""
    plate, grid, screen = (
        axis.ravel()
        for axis in np.meshgrid(
            plan.plate_voltage, plan.grid_voltage, plan.screen_voltage, indexing="ij"
        )
    )
    order = np.lexsort((plate, -grid, screen))
    plate, grid, screen = plate[order], grid[order], screen[order]
    read = []
    for flowing in tube.currents(plate, grid, screen):
        scatter = rng.normal(0.0, plan.noise, plate.size)
        base = rng.normal(0.0, plan.floor * flowing.max(), plate.size)
        read.append(flowing * (1.0 + scatter) + base)
    return Readings(
        plate_voltage=plate,
        grid_voltage=grid,
        plate_current=read[0],
        line=np.arange(2, plate.size + 2),
        screen_voltage=screen,
        screen_current=read[1] if plan.screen_metered else None,
    )
