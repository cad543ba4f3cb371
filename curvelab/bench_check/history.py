"""What the golden tubes' history says of a bench: how it repeats itself, and whether it agrees.

It is compared with itself of an earlier day, or with another bench.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from curvelab.bench_check.agreement import Agreement, compare_readings
from curvelab.bench_check.golden import session_scatter, since_anew
from curvelab.bench_check.limits import CheckLimits
from curvelab.bench_check.records import CHECKED, GoldenReading, Standing, in_order, moment
from curvelab.bench_check.repeatability import Repeatability, repeatability
from curvelab.errors import BenchCheckError

__all__ = ["BenchHistory", "Repeats", "Scatter", "compare_golden", "judge_history"]


@dataclass(frozen=True, slots=True)
class Repeats:
    """How well one golden tube repeats in one quantity, as fractions of it.

    Attributes
    ----------
    found : Repeatability or None
        Within a day and from day to day; None where ``why_not`` says why.
    """

    tube: str
    quantity: str
    days: int
    readings: int
    found: Repeatability | None
    why_not: str = ""


@dataclass(frozen=True, slots=True)
class Scatter:
    """What a check takes for the scatter of a quantity from one session to the next.

    Attributes
    ----------
    sigma : float
        Standard deviation, as a fraction.
    firm : bool
        Whether the history itself gave it; if not, the house's stands in where it is wider.
    """

    quantity: str
    sigma: float
    firm: bool


@dataclass(frozen=True, slots=True)
class BenchHistory:
    """What the history says of a bench.

    Attributes
    ----------
    against : str or None
        The bench that it was compared with; None for itself of an earlier day.
    agreements : tuple of Agreement
        The newest reading of each golden tube against the newest there.
    """

    bench: str
    against: str | None
    repeats: tuple[Repeats, ...]
    scatter: tuple[Scatter, ...]
    agreements: tuple[Agreement, ...]


def judge_history(
    history: Sequence[GoldenReading], bench: str, against: str | None, limits: CheckLimits
) -> BenchHistory:
    """Return how well a bench repeats itself and whether it agrees.

    Parameters
    ----------
    history : sequence of GoldenReading
        Of any bench, in any order.
    against : str or None
        Another bench of the history; the bench itself of an earlier day by default.

    Raises
    ------
    BenchCheckError
        If there is no golden reading of a bench.
    """
    own = _of_bench(history, bench)
    tubes: defaultdict[str, list[GoldenReading]] = defaultdict(list)
    for reading in own:
        tubes[reading.title].append(reading)
    before = own
    if against is None:
        pairs = [_last_two_days(readings) for readings in tubes.values()]
        newest = [day[0] for day in pairs]
        others = [day[1] for day in pairs if len(day) > 1]
        # What moved on the newest day is no part of the scatter that it is judged by.
        last = max(moment(reading.date).date() for reading in own)
        before = [reading for reading in own if moment(reading.date).date() < last]
    else:
        newest, others = own, _of_bench(history, against)
    return BenchHistory(
        bench=bench,
        against=against,
        repeats=tuple(row for readings in tubes.values() for row in _repeats(readings)),
        scatter=tuple(
            Scatter(quantity, *session_scatter(own, quantity, limits)) for quantity in CHECKED
        ),
        agreements=compare_golden(newest, others, before, limits),
    )


def compare_golden(
    first: Sequence[GoldenReading],
    second: Sequence[GoldenReading],
    history: Sequence[GoldenReading],
    limits: CheckLimits,
) -> tuple[Agreement, ...]:
    """Compare two benches, or two dates of one, by the golden tubes that both have.

    Of each side the newest reading of a tube counts; the history gives the scatter from one
    session to the next.
    """
    scatter = max(session_scatter(history, quantity, limits)[0] for quantity in CHECKED)
    newest = in_order(tuple(second))[::-1]
    found: list[Agreement] = []
    seen: list[GoldenReading] = []
    for reading in in_order(tuple(first))[::-1]:
        if any(reading.same_point(other) for other in seen):
            continue
        seen.append(reading)
        partner = next((other for other in newest if reading.same_point(other)), None)
        if partner is not None:
            found += compare_readings(reading, partner, scatter)
    return tuple(sorted(found, key=lambda item: item.tube))


def _of_bench(history: Sequence[GoldenReading], name: str) -> list[GoldenReading]:
    found = [reading for reading in in_order(tuple(history)) if reading.bench == name]
    if not found:
        held = ", ".join(sorted({repr(reading.bench) for reading in history})) or "none"
        raise BenchCheckError(
            f"no golden tube was measured on {name!r} (benches with some: {held})"
        )
    return found


def _last_two_days(readings: Sequence[GoldenReading]) -> list[GoldenReading]:
    """Return the newest reading of a tube, and the newest of an earlier day at its point."""
    newest = readings[-1]
    day = moment(newest.date).date()
    before = [
        reading
        for reading in readings
        if moment(reading.date).date() < day and reading.same_point(newest)
    ]
    return [newest, *before[-1:]]


def _repeats(readings: Sequence[GoldenReading]) -> Iterator[Repeats]:
    """Yield what one tube says of each quantity; what a check set aside does not count."""
    counted = [
        reading
        for reading in since_anew(readings)
        if reading.standing is not Standing.SET_ASIDE and reading.same_point(readings[-1])
    ]
    for quantity in CHECKED:
        days: defaultdict[object, list[float]] = defaultdict(list)
        for reading in counted:
            days[moment(reading.date).date()].append(
                float(np.log(reading.measured(quantity).value))
            )
        found, why_not = None, ""
        try:
            found = repeatability([np.array(values) for values in days.values()])
        except BenchCheckError:
            why_not = (
                "measured on one day only" if len(days) < 2 else "never measured twice on one day"
            )
        yield Repeats(readings[-1].title, quantity, len(days), len(counted), found, why_not)
