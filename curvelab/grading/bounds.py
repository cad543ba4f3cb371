"""The single limits of a grade, each held against the tube with its uncertainty.

A value keeps a limit only with its whole expanded uncertainty on the right side: guarded
acceptance with a guard band of U (JCGM 106:2012, clause 8.3.2). It misses one only with the
whole of it on the wrong side; between, it straddles.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

from curvelab.assessment.records import Assessment
from curvelab.fitting.records import Constant
from curvelab.grading.conditions import figures_at
from curvelab.grading.rules import GRADED, Band, GradeRule, GradeRules
from curvelab.quantities import MILLIAMPERE, MILLIAMPERE_PER_VOLT, Unit, format_uncertain
from curvelab.reference.records import PrintedLimit
from curvelab.sweep.bench import Bench

__all__ = ["Bound", "Keeping", "NotMeasured", "bounds_of"]

_PERCENT = Unit("% of bogey", 0.01)
_UNITS = {"plate_current": MILLIAMPERE, "transconductance": MILLIAMPERE_PER_VOLT}


class Keeping(StrEnum):
    """How a value stands to a limit."""

    KEEPS = "keeps"
    STRADDLES = "straddles"
    MISSES = "misses"


@dataclass(frozen=True, slots=True)
class Bound:
    """One limit on one side, and the tube's value.

    Attributes
    ----------
    grade : str
        Word of the grade that it belongs to.
    side : str
        ``low`` or ``high``.
    value, u95, limit : float
        In ``unit``, as printed: a grade is an edge, made to be read.
    source : str
        Title of the sheet with its condition, or what kind of rule it is.
    printed : bool
        Whether a sheet prints it.
    """

    grade: str
    quantity: str
    side: str
    value: float
    u95: float
    limit: float
    unit: str
    source: str
    printed: bool

    @property
    def keeping(self) -> Keeping:
        """How the value with its uncertainty stands to the limit."""
        inside = self.value - self.limit if self.side == "low" else self.limit - self.value
        if inside >= self.u95:
            return Keeping.KEEPS
        return Keeping.MISSES if inside < -self.u95 else Keeping.STRADDLES

    @property
    def words(self) -> str:
        """The value against the limit, in words."""
        side = "above" if self.side == "low" else "below"
        return f"{self.measured}, wanted {side} {self.limit:.4g} ({self.source})"

    @property
    def measured(self) -> str:
        """The value with its uncertainty, in words."""
        shown = format_uncertain(self.value, self.u95, Unit(self.unit, 1.0))
        return f"{GRADED[self.quantity]} {shown}"


@dataclass(frozen=True, slots=True)
class NotMeasured:
    """A quantity that a grade needs and the tube has not."""

    quantity: str
    reason: str


def bounds_of(
    assessment: Assessment, rules: GradeRules, rule: GradeRule, bench: Bench
) -> Iterator[Bound | NotMeasured]:
    """Yield every limit of one grade for one tube."""
    tube_type = assessment.tube_type
    bands = rules.bands(tube_type.name if tube_type is not None else None, rule)
    for quantity in GRADED:
        printed = list(_printed(assessment, rule, quantity, bench))
        yield from printed
        missing = {"low", "high"} - {bound.side for bound in printed}
        if missing:
            yield from _of_bogey(assessment, rule, bands[quantity], quantity, missing)


def _printed(
    assessment: Assessment, rule: GradeRule, quantity: str, bench: Bench
) -> Iterator[Bound]:
    """Yield what the type's sheet prints, where the sweep reaches its condition."""
    limit = _limit(assessment, rule, quantity)
    if limit is None:
        return
    constant: Constant = getattr(figures_at(assessment, limit, bench), quantity)
    if constant.value is None or constant.u95 is None:
        return
    unit = _UNITS[quantity]
    source = f"{limit.source}, {limit.stage}, at {limit.condition}"
    if limit.status != "verified":
        source += f", {limit.status}"
    for side, value in (("low", limit.low), ("high", limit.high)):
        if value is not None:
            yield Bound(
                grade=rule.word,
                quantity=quantity,
                side=side,
                value=unit.from_si(constant.value),
                u95=unit.from_si(constant.u95),
                limit=unit.from_si(value),
                unit=unit.symbol,
                source=source,
                printed=True,
            )


def _limit(assessment: Assessment, rule: GradeRule, quantity: str) -> PrintedLimit | None:
    tube_type = assessment.tube_type
    if tube_type is None or rule.printed is None:
        return None
    if assessment.sweep.conditions.connection == "triode-connected":
        return None  # printed for the tube as what it is, not for this connection
    return next(
        (
            limit
            for limit in tube_type.printed_limits
            if limit.quantity == quantity and limit.stage == rule.printed
        ),
        None,
    )


def _of_bogey(
    assessment: Assessment, rule: GradeRule, band: Band, quantity: str, sides: set[str]
) -> Iterator[Bound | NotMeasured]:
    constant: Constant = getattr(assessment.constants, quantity)
    comparison = assessment.comparison
    share = comparison.of_bogey.get(quantity) if comparison is not None else None
    if constant.value is None or constant.u95 is None:
        yield NotMeasured(quantity, constant.reason or constant.outcome.value)
        return
    if share is None or comparison is None:
        yield NotMeasured(quantity, "there is no family to take a percentage of")
        return
    source = band.source
    if comparison.why == "stand-in":
        source += f"; bogey of {comparison.type_name}, which stands in"
    if assessment.reference is not None and assessment.reference.from_memory:
        source += "; bogey partly from memory"
    for side, limit in (("low", band.low), ("high", band.high)):
        if side in sides:
            yield Bound(
                grade=rule.word,
                quantity=quantity,
                side=side,
                value=_PERCENT.from_si(share),
                u95=_PERCENT.from_si(share * constant.u95 / constant.value),
                limit=_PERCENT.from_si(limit),
                unit=_PERCENT.symbol,
                source=source,
                printed=False,
            )
