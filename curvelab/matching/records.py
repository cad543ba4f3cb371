"""What matching takes and gives. SI units; differences are fractions, not percent."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from types import MappingProxyType

import numpy as np

from curvelab.errors import MatchingInputError
from curvelab.sweep.records import FloatArray

__all__ = [
    "BY_BOTH",
    "BY_CURVE",
    "BY_POINT",
    "Candidate",
    "Difference",
    "Excluded",
    "LeftOver",
    "MatchRequest",
    "MatchResult",
    "MatchSet",
    "Mate",
    "MateRanking",
    "Measure",
    "Measured",
    "Neighbour",
    "Section",
    "WhatIf",
    "WorkingCurve",
]


class Measure(StrEnum):
    """What tubes are compared by."""

    PLATE_CURRENT = "plate current"
    TRANSCONDUCTANCE = "transconductance"
    CURVE = "curve"


BY_POINT = (Measure.PLATE_CURRENT, Measure.TRANSCONDUCTANCE)
BY_CURVE = (Measure.CURVE,)
BY_BOTH = (*BY_POINT, *BY_CURVE)

# Sets of so many per cent are what the trade sells (common practice, no source).
_USUAL_TOLERANCE = 0.05


@dataclass(frozen=True, slots=True)
class Measured:
    """A value with its uncertainty, what tubes of one bench share kept apart.

    Attributes
    ----------
    value : float
    u95 : float or None
        Expanded uncertainty at 95 % of this tube's value against others of the same bench:
        noise and fit. None where nobody knows it.
    bench_u95 : float
        Expanded uncertainty from the bench's meters, the same for every tube it measures.
    """

    value: float
    u95: float | None
    bench_u95: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class WorkingCurve:
    """Currents over a working region that tubes have in common.

    Attributes
    ----------
    plate_voltage, grid_voltage : ndarray, shape (p,)
        The points of the region [V]; curves are compared only at the same points.
    plate_current : ndarray, shape (p,)
        [A]
    relative_u95, relative_bench_u95 : ndarray, shape (p,)
        As in `Measured`, as fractions of the current; the first is NaN where not known.
    """

    plate_voltage: FloatArray
    grid_voltage: FloatArray
    plate_current: FloatArray
    relative_u95: FloatArray
    relative_bench_u95: FloatArray

    def __post_init__(self) -> None:
        size = np.shape(self.plate_voltage)
        for name in self.__slots__:
            array = np.array(getattr(self, name), dtype=float)
            if array.shape != size or array.ndim != 1 or not array.size:
                raise MatchingInputError(f"a curve's {name} has shape {array.shape}, not {size}")
            array.setflags(write=False)
            object.__setattr__(self, name, array)


def _positive(values: float | FloatArray) -> bool:
    return bool(np.all(np.greater(values, 0) & np.isfinite(values)))


@dataclass(frozen=True, slots=True, eq=False)
class Section:
    """One section of a tube; a tube with one section has one without a name.

    Attributes
    ----------
    at : tuple of float or None
        (Vp, Vg) [V] of the figures; only figures of one point are compared.
    plate_current, transconductance : Measured or None
        [A], [S]
    missing : mapping of Measure to str
        Why a measure is missing, in a few words.
    """

    name: str | None = None
    at: tuple[float, float] | None = None
    plate_current: Measured | None = None
    transconductance: Measured | None = None
    curve: WorkingCurve | None = None
    missing: Mapping[Measure, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        object.__setattr__(self, "missing", MappingProxyType(dict(self.missing)))

    def has(self, measure: Measure) -> bool:
        """Tell whether the section can be compared by a measure."""
        if measure is Measure.CURVE:
            return self.curve is not None and _positive(self.curve.plate_current)
        figure = self.figure(measure)
        return figure is not None and _positive(figure.value) and self.at is not None

    def figure(self, measure: Measure) -> Measured | None:
        """Return the figure of a measure that is one number."""
        if measure is Measure.PLATE_CURRENT:
            return self.plate_current
        return self.transconductance if measure is Measure.TRANSCONDUCTANCE else None


@dataclass(frozen=True, slots=True, eq=False)
class Candidate:
    """A tube that may be matched.

    Attributes
    ----------
    key : str
        Unlike every other candidate's.
    type_class : str
        Only tubes of one class are matched.
    bench : str or None
        Names the bench, and the time, whose errors it shares with others of the same name;
        None where it is not known, so that no errors are taken as shared.
    lot : str or None
        The lot it belongs to, for sets across two lots.
    excluded : tuple of str
        Why it must not be in any set: findings, grade.
    """

    key: str
    type_class: str
    sections: tuple[Section, ...]
    bench: str | None = None
    lot: str | None = None
    excluded: tuple[str, ...] = ()

    def has(self, measure: Measure) -> bool:
        """Tell whether every section can be compared by a measure."""
        return bool(self.sections) and all(section.has(measure) for section in self.sections)


@dataclass(frozen=True, slots=True)
class MatchRequest:
    """How tubes are to be matched.

    Attributes
    ----------
    size, spare : int
        Tubes of a set, and spares that match all of them.
    tolerance : float
        Largest difference within a set, as a fraction of the mean of the two.
    tolerances : mapping of Measure to float
        Other tolerances for some measures.
    measures : tuple of Measure
        A set's spread is the largest of them, each in units of its tolerance.
    all_sections : bool
        Whether every section of a set must match every other, also those of one tube;
        otherwise a section is compared with that of the same name.
    section_balance : float or None
        Tubes whose sections' plate currents differ by more are left out.
    across : tuple of str or None
        Two lots; every set then holds tubes of both.
    locked, sold : tuple of tuple of str
        Sets that stay as they are, by their tubes' keys; sold ones are not listed again.
    guarded : bool
        Whether a difference must be within tolerance with its uncertainty added (guarded
        acceptance, JCGM 106:2012, clause 8.3.2), not by itself.
    time_limit : float
        For the search [s]; beyond it the best found so far is returned, with its gap.

    Raises
    ------
    MatchingInputError
        If the figures make no sense.
    """

    size: int = 2
    spare: int = 0
    tolerance: float = _USUAL_TOLERANCE
    tolerances: Mapping[Measure, float] = field(default_factory=dict)
    measures: tuple[Measure, ...] = BY_POINT
    all_sections: bool = False
    section_balance: float | None = None
    across: tuple[str, str] | None = None
    locked: tuple[tuple[str, ...], ...] = ()
    sold: tuple[tuple[str, ...], ...] = ()
    guarded: bool = False
    time_limit: float = 20.0

    def __post_init__(self) -> None:
        object.__setattr__(self, "tolerances", MappingProxyType(dict(self.tolerances)))
        if self.size < 1 or self.spare < 0 or self.size + self.spare < 2:
            raise MatchingInputError(
                f"a set of {self.size} with {self.spare} spare: at least two tubes are wanted"
            )
        if not self.measures:
            raise MatchingInputError("there is nothing to compare the tubes by")
        for measure in Measure:
            if not 0 < self.tolerance_of(measure) < 1:
                raise MatchingInputError(
                    f"a tolerance of {100 * self.tolerance_of(measure):g} % for the {measure}: "
                    "more than 0 and less than 100 is wanted"
                )
        if not self.time_limit > 0:
            raise MatchingInputError("the time limit must be more than 0 s")
        if self.across is not None and self.across[0] == self.across[1]:
            raise MatchingInputError("sets across two lots need two different lots")

    def tolerance_of(self, measure: Measure) -> float:
        """Return the tolerance of one measure."""
        return self.tolerances.get(measure, self.tolerance)


@dataclass(frozen=True, slots=True)
class Difference:
    """How much tubes differ, by the measure that decides.

    Attributes
    ----------
    of_tolerance : float
        In units of tolerance.
    fraction : float
        Of the mean of the two.
    u95 : float or None
        Expanded uncertainty of the fraction; None where it is not known.
    distinguishable : bool or None
        Whether the bench can tell them apart by any measure; None where nobody knows.
    """

    of_tolerance: float
    fraction: float
    u95: float | None
    distinguishable: bool | None


@dataclass(frozen=True, slots=True)
class MatchSet:
    """Tubes that belong together.

    Attributes
    ----------
    tubes, spare : tuple of str
        Keys; spares match all of the set, whose own tubes are the closest of them all.
    spread : Difference or None
        Of the two that differ most, spares included; distinguishable where any two are.
        None for a locked set whose tubes cannot be compared.
    locked : bool
        Whether it was given, not found.
    """

    tubes: tuple[str, ...]
    spread: Difference | None
    spare: tuple[str, ...] = ()
    locked: bool = False


@dataclass(frozen=True, slots=True)
class Neighbour:
    """Another tube, and how much it differs."""

    key: str
    difference: Difference


@dataclass(frozen=True, slots=True)
class LeftOver:
    """A tube in no set.

    Attributes
    ----------
    nearest : Neighbour or None
        Among all tubes that could be matched; None where it is comparable with none.
    nearest_free : Neighbour or None
        Among those left over.
    """

    key: str
    nearest: Neighbour | None
    nearest_free: Neighbour | None


@dataclass(frozen=True, slots=True)
class Excluded:
    """A tube that took no part, with the reasons."""

    key: str
    reasons: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class MatchResult:
    """The sets of a lot.

    Attributes
    ----------
    sets : tuple of MatchSet
        Locked ones first, then the tightest first.
    proven : bool
        Whether no other choice has more sets, or as many that are tighter in sum.
    gap : float
        How far from the best possible it may be, as a fraction: of the number of sets where
        ``most_sets`` is not reached, else of the sum of spreads.
    most_sets : int
        No choice has more sets, locked ones included.
    """

    sets: tuple[MatchSet, ...]
    left_over: tuple[LeftOver, ...]
    excluded: tuple[Excluded, ...]
    proven: bool
    gap: float
    most_sets: int


@dataclass(frozen=True, slots=True)
class WhatIf:
    """How many sets there would be at another tolerance; locked ones included."""

    tolerance: float
    sets: int
    proven: bool


@dataclass(frozen=True, slots=True)
class Mate:
    """A tube of the stock against the one that looks for a mate.

    ``within`` tells whether the two would make a set.
    """

    key: str
    difference: Difference
    within: bool


@dataclass(frozen=True, slots=True)
class MateRanking:
    """The stock, nearest first.

    Attributes
    ----------
    measures : tuple of Measure
        What they were compared by: those asked for that the tube is known by.
    """

    key: str
    measures: tuple[Measure, ...]
    mates: tuple[Mate, ...]
    excluded: tuple[Excluded, ...]
