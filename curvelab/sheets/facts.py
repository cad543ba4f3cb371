"""What a sheet says of file, bench, conditions, fit and reference, label by label."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator
from dataclasses import dataclass

import numpy as np

from curvelab.assessment.records import Assessment, ScreenAtPoint
from curvelab.fitting.records import FitResult
from curvelab.quantities import MICROAMPERE, MILLIAMPERE, format_uncertain
from curvelab.reference.band import tolerance_band
from curvelab.reference.family import ReferenceFamily
from curvelab.reference.records import TubeType
from curvelab.sheets.reference_used import ReferenceUsed, reference_used
from curvelab.sheets.tables import disagreement, point_text
from curvelab.sheets.text import finite, plain, signed_percent, trimmed, volts
from curvelab.sweep.records import Conditions, RemarkCode, Sweep, SweepKind

__all__ = ["Fact", "facts_of", "screen_text"]

_SHOWN_HASH = 16
_ORIGIN = {
    "handbook": "the handbook's point",
    "sweep": "chosen inside the sweep",
    "given": "as asked for",
}
_ASKED_FOR = {
    "stand-in": ", a stand-in asked for",
    "own curves": ", from the user's own readings of its curves",
}
# What the reader merely recognised needs no line on the page; what it changed does.
_PLAIN_READING = (RemarkCode.LAYOUT, RemarkCode.COLUMNS, RemarkCode.METADATA)


@dataclass(frozen=True, slots=True)
class Fact:
    """A label and what is to be said under it."""

    label: str
    text: str


def facts_of(assessment: Assessment) -> tuple[Fact, ...]:
    """Return everything a reader needs to trace and repeat the figures."""
    curves = assessment.sweep.kind is SweepKind.CURVES
    lines = [
        ("file", _file(assessment.sweep)),
        ("readings", _readings(assessment.sweep, assessment.fit)),
        ("read as", _remarks(assessment.sweep)),
        ("note", "; ".join(assessment.notes)),
        ("bench", _bench(assessment)),
        ("conditions", _conditions(assessment.sweep.conditions)),
        ("point", _point(assessment)),
        ("screen", screen_text(assessment.screen)),
        ("law", _law(assessment.fit) if curves else ""),
        ("local fit", _check(assessment) if curves else ""),
        ("reference", _reference(assessment)),
        ("predicted", "; ".join(_predictions(assessment))),
    ]
    return tuple(Fact(label, plain(text)) for label, text in lines if text)


def screen_text(screen: ScreenAtPoint | None) -> str:
    """Return what the screen draws at the point, beside handbook and family; or nothing."""
    if screen is None or screen.current.value is None:
        return ""
    drawn = format_uncertain(screen.current.value, screen.current.u95, MILLIAMPERE)
    parts = [f"it draws {drawn} there, {trimmed(screen.dissipation)} W"]
    if screen.printed is not None:
        memory = "" if screen.printed.verified else " (from memory)"
        printed = trimmed(MILLIAMPERE.from_si(screen.printed.value))
        parts.append(f"the handbook {printed} mA{memory}")
    if screen.of_family is not None:
        parts.append(f"the family {trimmed(MILLIAMPERE.from_si(screen.of_family))} mA")
    return "; ".join(parts)


def _file(sweep: Sweep) -> str:
    return f"{sweep.source.name}, SHA-256 {sweep.source.sha256[:_SHOWN_HASH]}..."


def _readings(sweep: Sweep, fit: FitResult) -> str:
    parts = [f"{len(sweep.readings)} read"]
    if sweep.kind is SweepKind.CURVES:
        parts.append(f"{int(fit.used.sum())} used")
        parts.extend(f"{len(item.readings)} left out ({item.reason})" for item in fit.left_out)
    if sweep.set_aside:
        parts.append(f"{len(sweep.set_aside)} set aside, unreadable")
    return ", ".join(parts)


def _remarks(sweep: Sweep) -> str:
    told = (item for item in sweep.remarks if item.guessed or item.code not in _PLAIN_READING)
    return "; ".join(f"{item.text} (guessed)" if item.guessed else item.text for item in told)


def _bench(assessment: Assessment) -> str:
    if not assessment.bench.assumed:
        return f"{assessment.bench.name}: accuracy as {assessment.bench.origin} states it"
    return (
        f"{assessment.bench.name}; the accuracy of its meters was not stated, so they are taken as "
        "they are, and the uncertainties hold against this bench alone"
    )


def _conditions(conditions: Conditions) -> str:
    text = ", ".join(_stated(conditions))
    return text or "none stated in the file"


def _stated(conditions: Conditions) -> Iterator[str]:
    if conditions.connection:
        yield conditions.connection
    if conditions.filament or conditions.filament_return:
        words = (conditions.filament, "filament", conditions.filament_return)
        yield " ".join(word for word in words if word)
    for name, value, scale, unit in (
        ("screen", conditions.screen_voltage, 1.0, "V"),
        ("heater", conditions.heater_voltage, 1.0, "V"),
        ("heater", conditions.heater_current, 1.0, "A"),
        ("warm-up", conditions.warm_up, 60.0, "min"),
        ("plate resistor", conditions.plate_resistor, 1.0, "ohm"),
        ("cathode resistor", conditions.cathode_resistor, 1.0, "ohm"),
        ("grid resistor", conditions.grid_resistor, 1.0, "ohm"),
    ):
        if value is not None:
            yield f"{name} {volts(value / scale)} {unit}"
    leakage = conditions.heater_cathode_leakage
    if leakage is not None:
        at = conditions.heater_cathode_voltage
        shown = trimmed(MICROAMPERE.from_si(leakage))
        yield f"heater-cathode {shown} µA" + ("" if at is None else f" at {volts(at)} V")
    if conditions.shorts:
        yield f"shorts: {conditions.shorts}"
    if conditions.tap_test:
        yield f"tap test: {conditions.tap_test}"


def _point(assessment: Assessment) -> str:
    point = assessment.operating_point
    if point is None:
        return ""
    return f"{point_text(point)}: {_ORIGIN.get(point.origin, point.origin)}"


def _law(fit: FitResult) -> str:
    if fit.law is None:
        return f"none fitted: {fit.reason or fit.outcome}"
    smooth = " with a smooth correction" if fit.corrected else ""
    name, rms = fit.law.name.capitalize() + smooth, finite(fit.rms)
    if rms is None:
        return name
    return f"{name}, RMS residual {trimmed(MILLIAMPERE.from_si(rms))} mA"


def _check(assessment: Assessment) -> str:
    """Say whether the local quadratic, which assumes no law, confirms the constants."""
    found = list(disagreement(assessment))
    if not found:
        return "no check by the local quadratic was possible"
    listed = ", ".join(f"{item.symbol} {signed_percent(by)}" for item, by, _ in found)
    if all(within for _, _, within in found):
        return f"the local quadratic agrees within the uncertainties ({listed})"
    if any(within is False for _, _, within in found):
        return f"the local quadratic disagrees beyond the uncertainties ({listed})"
    return f"the local quadratic, of unknown uncertainty, differs by {listed}"


def _reference(assessment: Assessment) -> str:
    used, family = reference_used(assessment), assessment.reference
    if used is None:
        return "none: no family is known for this tube" if assessment.drift is None else ""
    asked = _ASKED_FOR.get(used.why, "")
    foot = family.near_cutoff if family is not None else frozenset[str]()
    parts = [f"family of {used.type_name}{asked}", _worst_residual(used, foot)]
    parts.append(_worst_near_cutoff(used, foot))
    if family is not None:
        parts.append("some of its figures are from memory" if family.from_memory else "")
        parts.append(_extrapolation(assessment))
        parts.append(_tolerance(assessment.tube_type, family))
    comparison = assessment.comparison
    deviation = finite(comparison.family_deviation) if comparison else None
    if deviation is not None:
        parts.append(f"the tube lies {100 * deviation:.1f} % RMS from it")
    return "; ".join(part for part in parts if part)


def _tolerance(tube_type: TubeType | None, family: ReferenceFamily) -> str:
    """Say how far from its own family a new tube of a type may lie."""
    if tube_type is None or tube_type.name != family.type_name:
        return ""
    band = tolerance_band(tube_type, family)
    if band is None or None in band.shares:
        return ""
    low, high = (f"{100 * share:.0f}" for share in band.shares if share is not None)
    return f"new tubes pass {low} to {high} % of its plate current ({plain(band.source)})"


def _worst_residual(used: ReferenceUsed, near_cutoff: Collection[str]) -> str:
    flowing = {at: share for at, share in used.residual.items() if at not in near_cutoff}
    if not flowing:
        return ""
    label, worst = max(flowing.items(), key=lambda item: abs(item[1]))
    return f"against its published figures it errs by {signed_percent(worst)} at most ({label})"


def _worst_near_cutoff(used: ReferenceUsed, near_cutoff: Collection[str]) -> str:
    """Say by which factor a family misses the printed foot: percent would alarm for nothing."""
    times = {at: 1.0 + share for at, share in used.residual.items() if at in near_cutoff}
    if not times:
        return ""
    label, worst = max(times.items(), key=lambda item: abs(math.log(max(item[1], 1e-9))))
    return f"near cut-off ({label}) it has {trimmed(worst, 2)} times the printed current"


def _extrapolation(assessment: Assessment) -> str:
    family, point = assessment.reference, assessment.operating_point
    if family is None:
        return ""
    if point is not None:
        at = np.array([point.plate_voltage]), np.array([point.grid_voltage])
        if not np.all(family.covers(*at)):
            return "it extrapolates at the operating point"
    readings = assessment.sweep.readings
    if not len(readings):
        return ""
    backed = np.mean(family.covers(readings.plate_voltage, readings.grid_voltage))
    return f"it extrapolates at {100 * (1 - backed):.0f} % of the readings" if backed < 1 else ""


def _predictions(assessment: Assessment) -> Iterator[str]:
    for item in assessment.predictions:
        at = f"Vp {volts(item.plate_voltage)} V, Vg {volts(item.grid_voltage)} V"
        if item.screen_voltage is not None:
            at += f", Vs {volts(item.screen_voltage)} V"
        current = finite(item.plate_current)
        if current is None:
            yield f"{at}: no family to predict from"
        else:
            told = " (extrapolated)" if item.extrapolated else ""
            if item.u95 is None:
                yield f"{at}: {trimmed(MILLIAMPERE.from_si(current))} mA{told}"
            else:
                yield f"{at}: {format_uncertain(current, item.u95, MILLIAMPERE)}{told}"
