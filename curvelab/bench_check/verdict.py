"""The bench check as a whole: whether a batch may be measured, and what is suggested."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from enum import StrEnum

from curvelab.bench_check.correction import AcceptedCorrection, MeterCorrection
from curvelab.bench_check.empty_socket import EmptySocketCheck
from curvelab.bench_check.golden import GoldenCheck
from curvelab.bench_check.limits import CheckLimits
from curvelab.bench_check.movers import Cause
from curvelab.bench_check.records import Estimate
from curvelab.bench_check.resistor import ResistorCheck, ResistorOutcome

__all__ = ["BenchCheck", "BenchStanding", "CheckParts", "Evidence", "judge_bench"]


class BenchStanding(StrEnum):
    """Whether the readings of a batch would mean what they meant before."""

    STEADY = "steady"
    SHIFTED = "shifted"
    UNCLEAR = "unclear"  # something moved, or a part of the check could not be done
    NO_HISTORY = "no history yet"


@dataclass(frozen=True, slots=True)
class Evidence:
    """SHA-256 of the sweep files behind each part."""

    golden: tuple[str, ...] = ()
    resistor: tuple[str, ...] = ()
    empty_socket: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class BenchCheck:
    """A bench on one day.

    Attributes
    ----------
    suggestions : tuple of MeterCorrection
        At most one a meter; none is applied unless a person accepts it.
    sentences : tuple of str
        The parts' own, and what follows from them.
    """

    bench: str
    date: str
    standing: BenchStanding
    golden: GoldenCheck | None
    resistor: ResistorCheck | None
    empty_socket: EmptySocketCheck | None
    suggestions: tuple[MeterCorrection, ...]
    sentences: tuple[str, ...]

    @property
    def trusted(self) -> bool:
        """Whether a batch may be measured without a person deciding first."""
        return self.standing is BenchStanding.STEADY


@dataclass(frozen=True, slots=True)
class CheckParts:
    """What was done of a check; any part may be missing.

    Attributes
    ----------
    undone : tuple of str
        What was meant to be done and could not be, each with its reason.
    in_force : tuple of AcceptedCorrection
        Corrections that all readings of the check have been through.
    """

    bench: str
    date: str
    golden: GoldenCheck | None = None
    resistor: ResistorCheck | None = None
    empty_socket: EmptySocketCheck | None = None
    limits: CheckLimits = field(default_factory=CheckLimits)
    evidence: Evidence = Evidence()
    undone: tuple[str, ...] = ()
    in_force: tuple[AcceptedCorrection, ...] = ()


def judge_bench(parts: CheckParts) -> BenchCheck:
    """Join the parts of a check to a standing, suggestions and sentences."""
    golden, resistor, empty_socket = parts.golden, parts.resistor, parts.empty_socket
    plate, why_not = _plate_suggestion(parts)
    grid = _grid_suggestion(parts)
    wanted = [item for item in (plate, grid) if item is not None]
    corrected = {item.correction.meter: item.correction for item in parts.in_force}
    suggestions = tuple(item for item in wanted if item.meter not in corrected)
    standing = _standing(parts)
    own = [part.sentences for part in (golden, resistor, empty_socket) if part is not None]
    sentences = [sentence for each in own for sentence in each]
    sentences += [f"Not done: {reason}." for reason in parts.undone]
    sentences += [why_not] if why_not else []
    sentences += [
        f"The {item.meter.replace('_', ' ')} is corrected already ({corrected[item.meter].words}): "
        "withdraw that correction and check again before another one is made."
        for item in wanted
        if item.meter in corrected
    ]
    sentences += [
        f"Suggested, for a person to accept or not: {item.words}, because {item.reason}."
        for item in suggestions
    ]
    return BenchCheck(
        bench=parts.bench,
        date=parts.date,
        standing=standing,
        golden=golden,
        resistor=resistor,
        empty_socket=empty_socket,
        suggestions=suggestions,
        sentences=(*sentences, _conclusion(standing)),
    )


def _standing(parts: CheckParts) -> BenchStanding:
    golden, resistor, empty_socket = parts.golden, parts.resistor, parts.empty_socket
    cause = golden.cause if golden is not None else None
    moved = cause in (Cause.BENCH, Cause.BOTH)
    off = resistor is not None and resistor.outcome in (ResistorOutcome.OFF, ResistorOutcome.BENT)
    dirty = empty_socket is not None and empty_socket.clean is False
    if moved or off or dirty:
        return BenchStanding.SHIFTED
    undone = bool(parts.undone) or (resistor is not None and not resistor.trusted)
    undone |= empty_socket is not None and empty_socket.clean is None
    if undone or cause is Cause.CANNOT_TELL or _alone(golden):
        return BenchStanding.UNCLEAR
    return BenchStanding.NO_HISTORY if cause is None else BenchStanding.STEADY


def _alone(golden: GoldenCheck | None) -> bool:
    """Tell whether every golden tube with a history has moved: nobody is left to vouch."""
    if golden is None or golden.cause is not Cause.TUBES:
        return False
    known = {
        chart.tube for item in golden.quantities for chart in item.charts if chart.shift is not None
    }
    return known <= set(golden.tubes)


def _conclusion(standing: BenchStanding) -> str:
    return {
        BenchStanding.STEADY: "The bench reads as it did: the batch may be measured.",
        BenchStanding.SHIFTED: "Do not trust a batch from this bench until the shift is dealt "
        "with: find its cause first, and correct only what has none that can be removed.",
        BenchStanding.UNCLEAR: "A person must decide before the batch is measured.",
        BenchStanding.NO_HISTORY: "No golden tube with a history vouches for the bench yet.",
    }[standing]


def _plate_suggestion(parts: CheckParts) -> tuple[MeterCorrection | None, str | None]:
    """Return the correction of the plate ammeter, or why there is none.

    The resistor is asked first: it knows the meter's own error, a history only its change.
    """
    resistor, empty = parts.resistor, parts.empty_socket
    leads = empty.plate_leads if empty is not None else None
    conductance = leads.value if leads is not None and leads.stands_out else 0.0
    if resistor is not None and resistor.outcome is ResistorOutcome.OFF:
        return _by_resistor(parts, resistor, conductance), None
    zero = empty.plate_zero if empty is not None else None
    beyond = zero is not None and abs(zero.value) - zero.u95 > parts.limits.plate_zero.value
    leaking = empty is not None and conductance * empty.highest_voltage > (
        parts.limits.plate_leakage.value
    )
    if zero is not None and (beyond or leaking):
        correction = MeterCorrection(
            meter="plate_current",
            bench=parts.bench,
            offset=zero.value,
            offset_u95=zero.u95,
            conductance=conductance,
            reason="the empty socket shows it; measure the golden tubes again afterwards",
            evidence=parts.evidence.empty_socket,
        )
        return correction, None
    return _by_golden(parts)


def _by_resistor(
    parts: CheckParts, resistor: ResistorCheck, conductance: float
) -> MeterCorrection | None:
    gain, offset = resistor.gain, resistor.offset
    if gain is None or offset is None:
        return None
    return MeterCorrection(
        meter="plate_current",
        bench=parts.bench,
        factor=1.0 / gain.value,
        factor_u95=gain.u95 / gain.value**2,
        offset=offset.value,
        offset_u95=offset.u95,
        conductance=conductance,
        reason="the resistor shows it, if the plate voltmeter is right",
        evidence=(
            *parts.evidence.resistor,
            *(parts.evidence.empty_socket if conductance else ()),
        ),
    )


def _by_golden(parts: CheckParts) -> tuple[MeterCorrection | None, str | None]:
    golden = parts.golden
    current = golden.moved("plate_current") if golden is not None else None
    slope = golden.moved("transconductance") if golden is not None else None
    if current is None or slope is None or current.cause not in (Cause.BENCH, Cause.BOTH):
        return None, None
    apart = current.bench_amount - slope.bench_amount
    if abs(apart) > 3.0 * math.hypot(current.bench_sigma, slope.bench_sigma):
        return None, (
            "Plate current and transconductance did not move alike, as they would with the "
            "ammeter: look at the heater, plate and grid voltages. No correction is suggested."
        )
    resistor = parts.resistor
    if resistor is not None and resistor.trusted and resistor.gain is not None:
        off = Estimate(resistor.gain.value - 1.0, resistor.gain.u95)
        if abs(off.value) + off.u95 < abs(math.expm1(current.bench_amount)):
            return None, (
                "The resistor finds ammeter and voltmeter in agreement: the golden tubes moved "
                "for another reason (heater, grid or plate voltage), or the meter was repaired "
                "since. No correction is suggested."
            )
    factor = math.exp(-current.bench_amount)
    correction = MeterCorrection(
        meter="plate_current",
        bench=parts.bench,
        factor=factor,
        factor_u95=2.0 * current.bench_sigma * factor,
        reason="the golden tubes moved alike in plate current and transconductance, as with the "
        "ammeter; it brings the readings back to their history, not to the truth",
        evidence=parts.evidence.golden,
    )
    return correction, None


def _grid_suggestion(parts: CheckParts) -> MeterCorrection | None:
    """Return the correction of the grid ammeter's zero; a leak is cleaned, not corrected."""
    zero = parts.empty_socket.grid_zero if parts.empty_socket is not None else None
    if zero is None or abs(zero.value) - zero.u95 <= parts.limits.grid_zero.value:
        return None
    return MeterCorrection(
        meter="grid_current",
        bench=parts.bench,
        offset=zero.value,
        offset_u95=zero.u95,
        reason="the empty socket shows it",
        evidence=parts.evidence.empty_socket,
    )
