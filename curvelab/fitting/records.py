"""What a fit says: a family of curves, constants with uncertainty, and an outcome."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Protocol

from curvelab.fitting.hull import Hull
from curvelab.sweep.records import BoolArray, FloatArray, IntArray

__all__ = [
    "Constant",
    "Constants",
    "FitResult",
    "LawFit",
    "LeftOut",
    "LeftOutReason",
    "Outcome",
    "PlateFamily",
]


class Outcome(StrEnum):
    """How a value came out; only ``GOOD`` carries a number."""

    GOOD = "good"
    NOT_COVERED = "not covered by the sweep"
    TOO_FEW = "too few readings"
    ILL_CONDITIONED = "ill-conditioned"
    UNPHYSICAL = "unphysical"
    NO_CURRENT = "no plate current"
    NOT_MEASURED = "not measured"


@dataclass(frozen=True, slots=True)
class Constant:
    """A value with its expanded uncertainty, or the reason there is none. SI units.

    Attributes
    ----------
    value : float or None
        None unless ``outcome`` is ``Outcome.GOOD``.
    u95 : float or None
        Expanded uncertainty at 95 % (JCGM 100:2008, annex G).
    reason : str or None
        Why there is no value, in one plain sentence.
    """

    value: float | None
    u95: float | None
    outcome: Outcome = Outcome.GOOD
    reason: str | None = None

    @classmethod
    def missing(cls, outcome: Outcome, reason: str) -> Constant:
        """Return a constant without a value, with the reason."""
        return cls(None, None, outcome, reason)


@dataclass(frozen=True, slots=True)
class Constants:
    """The constants at one operating point. [A], [S], [ohm], [1]."""

    plate_current: Constant
    transconductance: Constant
    plate_resistance: Constant
    amplification_factor: Constant

    @classmethod
    def missing(cls, outcome: Outcome, reason: str) -> Constants:
        """Return four constants without a value, all for the same reason."""
        none = Constant.missing(outcome, reason)
        return cls(none, none, none, none)


class PlateFamily(Protocol):
    """A family of plate curves: measured and fitted, or from a handbook."""

    def current(self, plate_voltage: FloatArray, grid_voltage: FloatArray) -> FloatArray:
        """Return the plate current [A]; arguments [V] broadcast together."""
        ...

    def slopes(
        self, plate_voltage: FloatArray, grid_voltage: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Return (dIp/dVp, dIp/dVg) [S], that is (1/rp, gm)."""
        ...

    def evaluate(
        self, plate_voltage: FloatArray, grid_voltage: FloatArray
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return (Ip [A], dIp/dVp [S], dIp/dVg [S]) in one go."""
        ...

    def amplification_factor(
        self, plate_voltage: FloatArray, grid_voltage: FloatArray
    ) -> FloatArray:
        """Return mu against the plate; of a tube with a screen grid, against the screen."""
        ...

    def covers(self, plate_voltage: FloatArray, grid_voltage: FloatArray) -> BoolArray:
        """Tell where the family is backed by readings or handbook points."""
        ...


class LeftOutReason(StrEnum):
    """Why a reading takes no part in the fit."""

    CONTACT = "contact"
    CLIPPED = "clipped"
    GRID_STEP = "grid-step"


@dataclass(frozen=True, slots=True, eq=False)
class LeftOut:
    """Readings of one bench fault, left out of the fit."""

    reason: LeftOutReason
    readings: IntArray


@dataclass(frozen=True, slots=True, eq=False)
class LawFit:
    """One plate-current law fitted to one tube.

    Attributes
    ----------
    parameters : mapping of str to float
        In the law's own symbols, SI units.
    covariance : ndarray, shape (k, k)
        Of the logarithms of the parameters, in their order.
    aicc : float
        Corrected Akaike criterion; smaller is better.
    rms : float
        Root mean square residual over the readings used [A].
    """

    name: str
    parameters: Mapping[str, float]
    covariance: FloatArray
    aicc: float
    rms: float
    outcome: Outcome


@dataclass(frozen=True, slots=True, eq=False)
class FitResult:
    """The fit of one sweep.

    Attributes
    ----------
    used : ndarray of bool, shape (n,)
        Readings that took part.
    left_out : tuple of LeftOut
        Bench faults among the readings.
    law : LawFit or None
        The law with the smallest AICc; None where no law could be fitted.
    laws : tuple of LawFit
        Every law tried.
    corrected : bool
        Whether a smooth correction on top of the law carries the family.
    family : PlateFamily or None
        Law with correction; None where the readings do not span a plane.
    residual : ndarray, shape (n,)
        Measured minus fitted current [A]; NaN where there is no family.
    noise : ndarray, shape (n,)
        Standard deviation of a single reading as estimated from the fit [A]; NaN where
        there is no family.
    hull : Hull or None
        What the accepted readings cover; None where there is none.
    rms : float or None
        Root mean square of ``residual`` over the readings used [A].
    outcome, reason : Outcome, str or None
        Why there is no family, where there is none.
    """

    used: BoolArray
    left_out: tuple[LeftOut, ...]
    law: LawFit | None
    laws: tuple[LawFit, ...]
    corrected: bool
    family: PlateFamily | None
    residual: FloatArray
    noise: FloatArray
    hull: Hull | None
    rms: float | None
    outcome: Outcome
    reason: str | None = None

    def without(self, reason: LeftOutReason) -> IntArray | None:
        """Return the readings left out for one reason, or None."""
        return next((item.readings for item in self.left_out if item.reason is reason), None)
