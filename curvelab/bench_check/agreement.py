"""Whether two benches, or one bench on two dates, agree on a golden tube.

E_n = (x1 - x2) / sqrt(U1^2 + U2^2) with expanded uncertainties at 95 %; they agree where
|E_n| <= 1 (ISO/IEC 17043:2010, B.3.1.3; ISO 13528:2015, clause 9.7). The uncertainties must
not share an error: on one bench the error of its meters is common to both dates and is left
out, on two benches it belongs to each.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from curvelab.bench_check.records import CHECKED, GoldenReading
from curvelab.errors import BenchCheckError

__all__ = ["Agreement", "compare_readings", "en_number"]


@dataclass(frozen=True, slots=True)
class Agreement:
    """Two readings of one golden tube in one quantity [A] or [S].

    Attributes
    ----------
    remark : str or None
        What the number cannot say.
    """

    tube: str
    quantity: str
    first: float
    first_u95: float
    second: float
    second_u95: float
    en: float
    remark: str | None = None

    @property
    def agree(self) -> bool:
        """Whether the difference is within the uncertainties."""
        return abs(self.en) <= 1.0


def en_number(first: float, first_u95: float, second: float, second_u95: float) -> float:
    """Return E_n of two results with independent expanded uncertainties.

    Raises
    ------
    BenchCheckError
        If an uncertainty is negative or both are zero, or a number is not finite.
    """
    numbers = (first, first_u95, second, second_u95)
    if not all(map(math.isfinite, numbers)) or min(first_u95, second_u95) < 0:
        raise BenchCheckError("E_n needs finite results and uncertainties of 0 or more")
    together = math.hypot(first_u95, second_u95)
    if together == 0:
        raise BenchCheckError("E_n needs an uncertainty")
    return (first - second) / together


def compare_readings(
    first: GoldenReading, second: GoldenReading, repeatability: float
) -> tuple[Agreement, ...]:
    """Compare two readings of one golden tube in every quantity that is followed.

    Parameters
    ----------
    repeatability : float
        Relative standard deviation from one session to the next, which no single sweep
        shows: seating, heater, warm-up. It is added to both.

    Raises
    ------
    BenchCheckError
        If they are not of one tube at one point.
    """
    if not first.same_point(second):
        raise BenchCheckError(
            f"{first.title} and {second.title} are not one tube at one operating point"
        )
    same_bench = first.bench == second.bench
    remark = None
    if not same_bench and not (first.accuracy_stated and second.accuracy_stated):
        remark = (
            "the accuracy of a bench is not stated: its meters' errors are missing from the "
            "uncertainty, so that a disagreement may be theirs"
        )
    found = []
    for quantity in CHECKED:
        one, two = first.measured(quantity), second.measured(quantity)
        own = [
            math.hypot(item.fit_u95 if same_bench else item.u95, 2 * repeatability * item.value)
            for item in (one, two)
        ]
        found.append(
            Agreement(
                tube=first.title,
                quantity=quantity,
                first=one.value,
                first_u95=own[0],
                second=two.value,
                second_u95=own[1],
                en=en_number(one.value, own[0], two.value, own[1]),
                remark=remark,
            )
        )
    return tuple(found)
