"""A type's family of plate curves, solved from what its handbook prints."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from curvelab.fitting.family import FittedFamily
from curvelab.fitting.laws import law_named
from curvelab.fitting.pentode_family import PentodeFamily
from curvelab.sweep.records import BoolArray, FloatArray

__all__ = ["BackedRegion", "ReferenceFamily"]

# How far past the published points a law is trusted (house rule): a handbook prints one to
# three points and draws its curves from them to about these bounds.
_BELOW_VOLTAGE, _ABOVE_VOLTAGE = 0.3, 1.25
_BELOW_CURRENT, _ABOVE_CURRENT = 0.1, 3.0


@dataclass(frozen=True, slots=True)
class BackedRegion:
    """Plate voltages [V] and currents [A] of the points that back a family."""

    least_voltage: float
    most_voltage: float
    least_current: float
    most_current: float

    def holds(self, plate_voltage: FloatArray, plate_current: FloatArray) -> BoolArray:
        """Tell which points lie near enough to the published ones."""
        return np.asarray(
            (plate_voltage >= _BELOW_VOLTAGE * self.least_voltage)
            & (plate_voltage <= _ABOVE_VOLTAGE * self.most_voltage)
            & (plate_current >= _BELOW_CURRENT * self.least_current)
            & (plate_current <= _ABOVE_CURRENT * self.most_current)
        )


@lru_cache(maxsize=1024)  # every tube asks every family of the library
def _internal(law: str, parameters: tuple[tuple[str, float], ...]) -> FloatArray:
    found = law_named(law).internal(dict(parameters))
    found.setflags(write=False)
    return found


@dataclass(frozen=True, slots=True, eq=False)
class ReferenceFamily:
    """The average family of a type.

    Attributes
    ----------
    type_name : str
        Type the family belongs to.
    law : str
        Plate-current law that met the published figures best.
    parameters : mapping of str to float
        In the law's own symbols, SI units.
    residual : mapping of str to float
        Family's figure over the published one, minus one, by a label such as
        ``250 V, -8 V: gm``.
    near_cutoff : frozenset of str
        Labels of ``residual`` where next to no current is printed: there a law is right within
        a factor, not within percent.
    origin : str
        One sentence: which points, from which sources, how well known.
    from_memory : bool
        Whether any of the figures it rests on was not seen on a published page.
    region : BackedRegion
        Voltages and currents of what backs it.
    followed : FittedFamily, PentodeFamily or None
        The law with the correction that follows published curves, where a type has them; of a
        type with a screen grid always, at one screen voltage at a time.
    grid_shift : float
        Added to the grid volts asked for, where a file's are to another end of the filament
        than the sheet's [V].
    """

    type_name: str
    law: str
    parameters: Mapping[str, float]
    residual: Mapping[str, float]
    origin: str
    from_memory: bool
    region: BackedRegion
    near_cutoff: frozenset[str] = frozenset()
    followed: FittedFamily | PentodeFamily | None = None
    grid_shift: float = 0.0

    @property
    def internal(self) -> FloatArray:
        """Parameters in the law's internal coordinates; shape (p,)."""
        if isinstance(self.followed, PentodeFamily):
            return self.followed.internal
        return _internal(self.law, tuple(self.parameters.items()))

    def current(self, plate_voltage: FloatArray, grid_voltage: FloatArray) -> FloatArray:
        """Return the plate current [A]; arguments [V] broadcast together."""
        if self.followed is not None:
            grid = np.asarray(grid_voltage, dtype=float) + self.grid_shift
            return self.followed.current(plate_voltage, grid)
        return self.evaluate(plate_voltage, grid_voltage)[0]

    def screen_current(self, plate_voltage: FloatArray, grid_voltage: FloatArray) -> FloatArray:
        """Return the screen current by the law [A], of a type with a screen grid."""
        assert isinstance(self.followed, PentodeFamily)
        grid = np.asarray(grid_voltage, dtype=float) + self.grid_shift
        return self.followed.screen_current(plate_voltage, grid)

    def slopes(
        self, plate_voltage: FloatArray, grid_voltage: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Return (dIp/dVp, dIp/dVg) [S]."""
        _, by_plate, by_grid = self.evaluate(plate_voltage, grid_voltage)
        return by_plate, by_grid

    def covers(self, plate_voltage: FloatArray, grid_voltage: FloatArray) -> BoolArray:
        """Tell where the published figures back the family; elsewhere it extrapolates."""
        if self.followed is not None and self.follows_curves:
            return self.followed.covers(plate_voltage, grid_voltage + self.grid_shift)
        plate = np.asarray(plate_voltage, dtype=float)
        held = self.region.holds(plate, self.current(plate, grid_voltage))
        if isinstance(self.followed, PentodeFamily) and not self.followed.screen_was_read:
            return np.zeros_like(held)
        return held

    @property
    def follows_curves(self) -> bool:
        """Whether published curves were read off for it, and not points alone."""
        return self.followed is not None and self.followed.hull is not None

    def at_screen(self, screen_voltage: float) -> ReferenceFamily:
        """Return the family of a type with a screen grid at another screen voltage [V]."""
        assert isinstance(self.followed, PentodeFamily)
        return replace(self, followed=self.followed.at_screen(screen_voltage))

    @property
    def screen_voltage(self) -> float | None:
        """At which it is seen [V]; None for a triode, or a pentode connected as one."""
        return self.followed.screen_voltage if isinstance(self.followed, PentodeFamily) else None

    def amplification_factor(
        self, plate_voltage: FloatArray, grid_voltage: FloatArray
    ) -> FloatArray:
        """Return mu against the plate, or of a tube with a screen grid against the screen."""
        if self.followed is not None:
            grid = np.asarray(grid_voltage, dtype=float) + self.grid_shift
            return self.followed.amplification_factor(plate_voltage, grid)
        _, by_plate, by_grid = self.evaluate(plate_voltage, grid_voltage)
        return by_grid / by_plate

    def evaluate(
        self, plate_voltage: FloatArray, grid_voltage: FloatArray
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return (Ip [A], dIp/dVp [S], dIp/dVg [S]); arguments [V] broadcast together."""
        plate, grid = np.broadcast_arrays(
            np.asarray(plate_voltage, dtype=float),
            np.asarray(grid_voltage, dtype=float) + self.grid_shift,
        )
        if self.followed is not None:
            return self.followed.evaluate(plate, grid)
        law = law_named(self.law)
        with np.errstate(under="ignore", over="ignore"):
            found = law.slopes(plate.reshape(1, -1), grid.reshape(1, -1), self.internal[None])
        current, by_plate, by_grid = (item.reshape(plate.shape) for item in found)
        return current, by_plate, by_grid
