"""What a stage says: where it rests, what it gives, and which ratings it keeps."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from curvelab.reference.records import Figure
from curvelab.sweep.records import FloatArray

__all__ = ["QuiescentPoint", "RatingCheck", "Stage", "StageOutcome"]


class StageOutcome(StrEnum):
    """How a stage came out; only ``GOOD`` carries power and distortion."""

    GOOD = "good"
    OVER_RATING = "over a rating"
    POSITIVE_GRID = "the grid is driven positive"
    CUT_OFF = "the plate current is cut off"
    NO_CURRENT = "no plate current"


@dataclass(frozen=True, slots=True)
class QuiescentPoint:
    """Where a tube rests without signal. [V], [V], [A]."""

    plate_voltage: float
    grid_voltage: float
    plate_current: float

    @property
    def dissipation(self) -> float:
        """Plate dissipation at rest [W], which in class A is the most there is."""
        return self.plate_voltage * self.plate_current


@dataclass(frozen=True, slots=True)
class RatingCheck:
    """A value at rest beside the limit that a sheet prints. SI units."""

    quantity: str
    value: float
    limit: Figure

    @property
    def exceeded(self) -> bool:
        """Whether the value lies above the limit."""
        return self.value > self.limit.value


@dataclass(frozen=True, slots=True, eq=False)
class Stage:
    """A single-ended class A stage.

    Attributes
    ----------
    load_resistance, signal_peak : float
        [ohm], [V].
    plate_voltage, plate_current : ndarray, shape (5,)
        At the signal's positive peak, half of it, none, half the negative peak and the
        negative peak [V], [A].
    output_power, gain : float or None
        [W], and plate over grid signal; None unless ``outcome`` is good.
    second, third, fourth : float or None
        Harmonics as fractions of the fundamental.
    extrapolated : bool
        Whether some part of the load line lies where no reading backs the family.
    ratings : tuple of RatingCheck
        Empty where the type's ratings are not known.
    """

    rest: QuiescentPoint
    load_resistance: float
    signal_peak: float
    plate_voltage: FloatArray
    plate_current: FloatArray
    output_power: float | None
    gain: float | None
    second: float | None
    third: float | None
    fourth: float | None
    extrapolated: bool
    ratings: tuple[RatingCheck, ...]
    outcome: StageOutcome
    reason: str | None = None

    @property
    def distortion(self) -> float | None:
        """Root of the sum of squares of the harmonics, as a fraction of the fundamental."""
        if self.second is None or self.third is None or self.fourth is None:
            return None
        return float((self.second**2 + self.third**2 + self.fourth**2) ** 0.5)
