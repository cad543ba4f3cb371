"""What a bench check is made from. SI units."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from enum import StrEnum

from curvelab.errors import BenchCheckError

__all__ = [
    "CHECKED",
    "Estimate",
    "GoldenReading",
    "Measured",
    "Standing",
    "in_order",
    "moment",
]

CHECKED = {"plate_current": "plate current", "transconductance": "transconductance"}
"""The quantities of a golden tube that are followed, with their names in words."""


@dataclass(frozen=True, slots=True)
class Estimate:
    """A value with its expanded uncertainty at 95 % (JCGM 100:2008, annex G)."""

    value: float
    u95: float

    @property
    def stands_out(self) -> bool:
        """Whether the value differs from nothing by more than its uncertainty."""
        return abs(self.value) > self.u95


@dataclass(frozen=True, slots=True)
class Measured:
    """One quantity of a golden tube.

    Attributes
    ----------
    value : float
        [A] or [S].
    fit_u95 : float
        Expanded uncertainty from the readings alone, for the same bench on another day.
    u95 : float
        With the accuracy of the bench's meters, for another bench.
    """

    value: float
    fit_u95: float
    u95: float


class Standing(StrEnum):
    """What a golden reading is to those that come after it."""

    COUNTS = "counts"
    SET_ASIDE = "set aside"  # taken while something had moved
    STARTS_ANEW = "starts anew"  # a person has decided that what came before no longer counts


@dataclass(frozen=True, slots=True)
class GoldenReading:
    """A golden tube as one bench saw it on one day.

    Attributes
    ----------
    date : str
        ISO 8601, given by whoever took the readings.
    plate_voltage, grid_voltage : float
        The point at which it was taken [V].
    accuracy_stated : bool
        Whether the accuracy of the bench's meters is part of ``Measured.u95``.
    sha256 : str
        Of the sweep file.
    corrections : tuple of str
        Identities of the accepted corrections that were applied to the readings.
    """

    tube: str
    section: str | None
    type_name: str | None
    bench: str
    accuracy_stated: bool
    date: str
    plate_voltage: float
    grid_voltage: float
    plate_current: Measured
    transconductance: Measured
    file: str
    sha256: str
    corrections: tuple[str, ...] = ()
    standing: Standing = Standing.COUNTS

    def __post_init__(self) -> None:
        moment(self.date)

    @property
    def title(self) -> str:
        """Tube name with its section."""
        return self.tube if self.section is None else f"{self.tube} section {self.section}"

    def measured(self, quantity: str) -> Measured:
        """Return one of the quantities of ``CHECKED``."""
        return self.plate_current if quantity == "plate_current" else self.transconductance

    def is_of(self, other: GoldenReading) -> bool:
        """Tell whether both are the same tube at the same point on the same bench."""
        return self.same_point(other) and self.bench == other.bench

    def same_point(self, other: GoldenReading) -> bool:
        """Tell whether both are the same tube at the same point, on whichever bench."""
        return (
            (self.tube, self.section) == (other.tube, other.section)
            and abs(self.plate_voltage - other.plate_voltage) < 0.05
            and abs(self.grid_voltage - other.grid_voltage) < 0.005
        )


def moment(date: str) -> datetime:
    """Return an ISO 8601 date or time as a moment; one without a zone counts as UTC.

    Raises
    ------
    BenchCheckError
        If it is no such date.
    """
    try:
        found = datetime.fromisoformat(date)
    except (TypeError, ValueError) as error:
        raise BenchCheckError(
            f"{date!r} is no date as ISO 8601 writes it (such as 2024-05-17 or 2024-05-17T09:30)"
        ) from error
    return found if found.tzinfo is not None else found.replace(tzinfo=UTC)


def in_order(readings: tuple[GoldenReading, ...]) -> tuple[GoldenReading, ...]:
    """Return readings by date, those of one date as they came."""
    return tuple(sorted(readings, key=lambda reading: moment(reading.date)))
