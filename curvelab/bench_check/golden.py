"""Golden tubes against their own history: whether the bench has moved since, or one of them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from curvelab.bench_check.chart import D2, ControlChart, individuals_chart
from curvelab.bench_check.limits import CheckLimits
from curvelab.bench_check.movers import MOST_TUBES, Cause, Moved, Shift, find_movers
from curvelab.bench_check.records import CHECKED, GoldenReading, Standing, in_order, moment
from curvelab.errors import BenchCheckError
from curvelab.sweep.records import FloatArray

__all__ = [
    "GoldenCheck",
    "QuantityCheck",
    "TubeChart",
    "check_golden",
    "session_scatter",
    "since_anew",
]


@dataclass(frozen=True, slots=True)
class TubeChart:
    """One golden tube in one quantity.

    Attributes
    ----------
    sessions : int
        Readings of its history that count.
    shift : float or None
        Today's value over the mean of the history, less 1; None where there is none.
    shift_sigma : float or None
        Standard deviation of the shift when nothing moves.
    chart : ControlChart or None
        In SI; None where the history has fewer than two values.
    """

    tube: str
    quantity: str
    sessions: int
    shift: float | None
    shift_sigma: float | None
    chart: ControlChart | None


@dataclass(frozen=True, slots=True)
class QuantityCheck:
    """All golden tubes in one quantity.

    Attributes
    ----------
    sigma : float
        Relative standard deviation from one session to the next that was taken.
    firm : bool
        Whether the history itself gave it; if not, the house's stands in where it is wider.
    moved : Moved or None
        None where no tube has a history.
    """

    quantity: str
    charts: tuple[TubeChart, ...]
    sigma: float
    firm: bool
    moved: Moved | None


@dataclass(frozen=True, slots=True)
class GoldenCheck:
    """What the golden tubes say today.

    Attributes
    ----------
    readings : tuple of GoldenReading
        Today's, with the standing that this check gives them in the history.
    cause : Cause or None
        None where there is no history to compare with.
    tubes : tuple of str
        Those that moved on their own.
    """

    readings: tuple[GoldenReading, ...]
    quantities: tuple[QuantityCheck, ...]
    cause: Cause | None
    tubes: tuple[str, ...]
    sentences: tuple[str, ...]

    def moved(self, quantity: str) -> Moved | None:
        """Return what was found in one quantity."""
        return next(item.moved for item in self.quantities if item.quantity == quantity)


def check_golden(
    today: Sequence[GoldenReading], history: Sequence[GoldenReading], limits: CheckLimits
) -> GoldenCheck:
    """Judge today's golden tubes by their history on the same bench at the same points.

    Parameters
    ----------
    today : sequence of GoldenReading
        Each tube once.
    history : sequence of GoldenReading
        Of any bench and tube, in any order; what does not belong is passed over, as is
        what is not older than today's.

    Raises
    ------
    BenchCheckError
        If there is no golden tube, one comes twice, or there are more than ten.
    """
    _require_sense(today)
    pasts = [_past(reading, history) for reading in today]
    quantities = tuple(_check_quantity(name, today, pasts, limits) for name in CHECKED)
    known = [item.moved for item in quantities if item.moved is not None]
    cause = _together(known) if known else None
    tubes = tuple(dict.fromkeys(tube for moved in known for tube in moved.tubes))
    sentences = [sentence for item in quantities for sentence in _quantity_sentences(item)]
    return GoldenCheck(
        readings=tuple(_with_standing(reading, cause, tubes) for reading in today),
        quantities=quantities,
        cause=cause,
        tubes=tubes,
        sentences=(*_opening(today, pasts, cause), *sentences, *_chart_sentences(quantities)),
    )


def session_scatter(
    history: Sequence[GoldenReading], quantity: str, limits: CheckLimits
) -> tuple[float, bool]:
    """Return the relative scatter from one session to the next, and whether it is firm.

    The mean moving range of the logarithms over d2, all tubes together; while there are few
    of them the house's figure stands in where it is the wider one.
    """
    pasts: dict[tuple[str, str | None, str], list[GoldenReading]] = {}
    for reading in in_order(tuple(history)):
        if reading.standing is not Standing.SET_ASIDE:
            pasts.setdefault((reading.tube, reading.section, reading.bench), []).append(reading)
    return _scatter([since_anew(past) for past in pasts.values()], quantity, limits)


def _require_sense(today: Sequence[GoldenReading]) -> None:
    if not today:
        raise BenchCheckError("a bench check needs at least one golden tube")
    if len(today) > MOST_TUBES:
        raise BenchCheckError(f"at most {MOST_TUBES} golden tubes are judged together")
    titles = [reading.title for reading in today]
    for title in titles:
        if titles.count(title) > 1:
            raise BenchCheckError(f"golden tube {title} was given twice: its readings of one day")
    if len({reading.bench for reading in today}) > 1:
        raise BenchCheckError("the golden tubes of one check are measured on one bench")


def _past(reading: GoldenReading, history: Sequence[GoldenReading]) -> list[GoldenReading]:
    """Return what of the history counts for a reading, oldest first."""
    own = in_order(tuple(item for item in history if item.is_of(reading)))
    before = [
        item
        for item in own
        if moment(item.date) < moment(reading.date) and item.sha256 != reading.sha256
    ]
    return [item for item in since_anew(before) if item.standing is not Standing.SET_ASIDE]


def since_anew(past: Sequence[GoldenReading]) -> list[GoldenReading]:
    """Return the readings of one tube, oldest first, from where a person let it start anew."""
    starts = [at for at, item in enumerate(past) if item.standing is Standing.STARTS_ANEW]
    return list(past[starts[-1] :] if starts else past)


def _values(past: Sequence[GoldenReading], quantity: str) -> FloatArray:
    return np.array([item.measured(quantity).value for item in past], dtype=np.float64)


def _scatter(
    pasts: Sequence[Sequence[GoldenReading]], quantity: str, limits: CheckLimits
) -> tuple[float, bool]:
    ranges = [np.abs(np.diff(np.log(_values(past, quantity)))) for past in pasts if len(past) > 1]
    together = np.concatenate(ranges) if ranges else np.empty(0)
    own = float(together.mean()) / D2 if together.size else 0.0
    if together.size + 1 >= limits.firm_history.value and own > 0:
        return own, True
    return max(own, limits.repeatability.value), False


def _check_quantity(
    quantity: str,
    today: Sequence[GoldenReading],
    pasts: Sequence[Sequence[GoldenReading]],
    limits: CheckLimits,
) -> QuantityCheck:
    sigma, firm = _scatter(pasts, quantity, limits)
    charts, shifts = [], []
    for reading, past in zip(today, pasts, strict=True):
        measured, values = reading.measured(quantity), _values(past, quantity)
        shift = spread = None
        if values.size:
            amount = math.log(measured.value / float(np.exp(np.log(values).mean())))
            # A sweep that is worse than usual cannot show a smaller shift than it resolves.
            single = max(sigma, 0.0 if firm else measured.fit_u95 / measured.value / 2)
            spread = single * math.sqrt(1 + 1 / values.size)
            shift = math.expm1(amount)
            shifts.append(Shift(reading.title, amount, spread))
        chart = individuals_chart(values, np.array([measured.value])) if values.size else None
        charts.append(TubeChart(reading.title, quantity, values.size, shift, spread, chart))
    moved = find_movers(shifts, limits.odds.value) if shifts else None
    return QuantityCheck(quantity, tuple(charts), sigma, firm, moved)


def _together(found: Sequence[Moved]) -> Cause:
    """Return the gravest cause: a bench that moved is never hidden behind a tube."""
    causes = {moved.cause for moved in found}
    if Cause.BOTH in causes or {Cause.BENCH, Cause.TUBES} <= causes:
        return Cause.BOTH
    order = (Cause.BENCH, Cause.CANNOT_TELL, Cause.TUBES)
    return next((cause for cause in order if cause in causes), Cause.NOTHING)


def _with_standing(
    reading: GoldenReading, cause: Cause | None, tubes: Sequence[str]
) -> GoldenReading:
    steady = cause in (None, Cause.NOTHING) or (cause is Cause.TUBES and reading.title not in tubes)
    return replace(reading, standing=Standing.COUNTS if steady else Standing.SET_ASIDE)


def _opening(
    today: Sequence[GoldenReading],
    pasts: Sequence[Sequence[GoldenReading]],
    cause: Cause | None,
) -> list[str]:
    known = sum(1 for past in pasts if past)
    if cause is None:
        return [
            "No golden tube has a history on this bench at this point: today's readings begin "
            "one, and say nothing of the bench yet."
        ]
    sentences = []
    if known < len(today):
        new = [r.title for r, past in zip(today, pasts, strict=True) if not past]
        sentences.append(f"Without a history so far: {', '.join(new)}.")
    if known == 1:
        sentences.append(
            "Only one golden tube has a history: a shifted bench and an aged tube look the "
            "same. A second one would tell them apart."
        )
    return sentences


def _quantity_sentences(item: QuantityCheck) -> list[str]:
    moved = item.moved
    if moved is None:
        return []
    name = CHECKED[item.quantity]
    shifts = ", ".join(
        f"{chart.tube} {100 * chart.shift:+.1f} %"
        for chart in item.charts
        if chart.shift is not None
    )
    start = f"{name.capitalize()}: {shifts} against their history"
    by = f"{100 * math.expm1(moved.bench_amount):+.1f} % ± {200 * moved.bench_sigma:.1f} %"
    if moved.cause is Cause.NOTHING:
        widest = max(chart.shift_sigma or 0.0 for chart in item.charts)
        return [
            f"{start}, less than the {300 * widest:.1f} % that chance allows (three sigma, "
            f"by a scatter of {100 * item.sigma:.1f} % from day to day)."
        ]
    if moved.cause is Cause.BENCH:
        return [f"{start}: all of them alike, so the bench moved, by {by}."]
    if moved.cause is Cause.TUBES:
        return [f"{start}: {_and(moved.tubes)} moved alone, so it is the tube, not the bench."]
    if moved.cause is Cause.BOTH:
        return [f"{start}: the bench moved by {by}, and {_and(moved.tubes)} on top of that."]
    possible = "; or ".join(moved.possible)
    return [
        f"{start}: more than scatter, but it may be {possible}. Another golden tube would tell."
    ]


def _chart_sentences(quantities: Sequence[QuantityCheck]) -> list[str]:
    sentences = []
    for item in quantities:
        for chart in item.charts:
            if chart.chart is None:
                continue
            rules = [signal.rule for signal in chart.chart.at_the_end]
            if rules:
                name = CHECKED[item.quantity]
                firm = "" if item.firm else "; the limits are provisional, the history is short"
                sentences.append(f"Control chart of {chart.tube}, {name}: {_and(rules)}{firm}.")
    return sentences


def _and(words: Sequence[str]) -> str:
    return " and ".join(words)
