"""A tube as a subcircuit that a circuit simulator can run: plate, grid, cathode.

One with a screen grid has its pin between plate and grid.

The words go into comments, the figures into elements. Nothing that a sweep file says becomes
more than a comment on one line: a netlist can hold commands, and a file must not write any.
"""

from __future__ import annotations

import re
import textwrap
import unicodedata
from collections.abc import Collection, Iterator

from curvelab.assessment.connection import SCREEN_NOT_STATED, has_screen_grid
from curvelab.assessment.records import Assessment
from curvelab.fitting.closed_form import ClosedForm, closed_form
from curvelab.fitting.family import FittedFamily
from curvelab.fitting.hull import Hull
from curvelab.fitting.pentode_closed_form import PentodeForm, pentode_closed_form
from curvelab.fitting.pentode_family import PentodeFamily
from curvelab.fitting.records import Constant
from curvelab.quantities import MILLIAMPERE, WATT, Unit, format_uncertain
from curvelab.reference.records import Figure, TubeType
from curvelab.sheets.names import safe_file_stem
from curvelab.sheets.netlist_capacitances import capacitance_lines
from curvelab.sheets.netlist_elements import current_elements, number
from curvelab.sheets.netlist_pentode import pentode_elements
from curvelab.sheets.reference_used import judged_type
from curvelab.sheets.tables import CONSTANT_QUANTITIES
from curvelab.sheets.text import plain, trimmed, volts
from curvelab.sweep.records import Sweep, SweepKind

__all__ = ["netlist_text", "subcircuit_name", "why_no_netlist"]

_COMMENT_WIDTH = 92
_TOLD = 0.001  # [%]: the netlist's figures are rounded


def why_no_netlist(assessment: Assessment) -> str | None:
    """Return why a tube cannot become a subcircuit, or None where it can."""
    sweep, fit = assessment.sweep, assessment.fit
    if sweep.kind is SweepKind.DRIFT_LOG:
        return "a drift log holds no family of curves"
    if not isinstance(fit.family, FittedFamily | PentodeFamily):
        return fit.reason or "no family of curves could be fitted"
    if has_screen_grid(sweep) and not isinstance(fit.family, PentodeFamily):
        return SCREEN_NOT_STATED
    return None


def subcircuit_name(sweep: Sweep, used: Collection[str] = ()) -> str:
    """Return a name of letters, digits and underscores, unlike those ``used``.

    A simulator does not tell upper from lower case, nor does every file system.
    """
    stem = safe_file_stem(sweep.tube, sweep.section)
    bare = unicodedata.normalize("NFKD", stem).encode("ascii", "ignore").decode()
    first = "tube_" + (re.sub(r"[^A-Za-z0-9]+", "_", bare).strip("_") or "unnamed")
    taken = {name.casefold() for name in used}
    name, count = first, 2
    while name.casefold() in taken:
        name, count = f"{first}_{count}", count + 1
    return name


def netlist_text(assessment: Assessment, *, name: str, made_with: str) -> str:
    """Return a tube's fitted family as a subcircuit of this name.

    Raises
    ------
    ValueError
        If there is no family; `why_no_netlist` tells so beforehand.
    """
    family = assessment.fit.family
    reason = why_no_netlist(assessment)
    if reason is not None or not isinstance(family, FittedFamily | PentodeFamily):
        raise ValueError(reason)
    if isinstance(family, PentodeFamily):
        with_screen = pentode_closed_form(family)
        pins, elements = "P S G K", pentode_elements(with_screen)
        law = _law("pentode", with_screen)
    else:
        form = closed_form(family)
        pins, elements = "P G K", current_elements(form)
        law = _law(form.law, form)
    lines = [
        *_comments(_heading(assessment, law, made_with)),
        f".subckt {name} {pins}",
        *elements,
        *capacitance_lines(assessment.tube_type, assessment.sweep.section),
        f".ends {name}",
    ]
    return "\n".join(lines) + "\n"


def _comments(sentences: Iterator[str]) -> Iterator[str]:
    for sentence in sentences:
        words = " ".join(plain(sentence).split())
        for piece in textwrap.wrap(words, _COMMENT_WIDTH, subsequent_indent="  ") or [""]:
            yield _comment(piece)


def _comment(text: str) -> str:
    return f"* {text}".rstrip()


def _law(name: str, form: ClosedForm | PentodeForm) -> Iterator[str]:
    yield f"law: {name}; " + ", ".join(
        f"{symbol} = {number(value)}" for symbol, value in form.parameters.items()
    )
    if form.series is not None:
        rows, columns = form.series.coefficients.shape
        within = max(100 * form.departure, _TOLD)
        yield (
            f"correction: exp of a double sine series of {rows} by {columns} terms in the law's "
            f"current and the plate voltage; within {within:.2g} % of the fitted family where it "
            "is covered"
        )


def _heading(assessment: Assessment, law: Iterator[str], made_with: str) -> Iterator[str]:
    sweep, fit = assessment.sweep, assessment.fit
    family = fit.family
    yield f"{sweep.title}: one measured tube as a subcircuit, made with {made_with}"
    yield f"type: {judged_type(assessment) or 'unknown'}; verdict: {assessment.verdict.value}"
    yield f"file: {sweep.source.name}, SHA-256 {sweep.source.sha256}"
    screen = "S screen, " if isinstance(family, PentodeFamily) else ""
    yield f"pins: P plate, {screen}G grid, K cathode" + _return_words(assessment)
    yield from _operating_point(assessment)
    yield from law
    if fit.rms is not None:
        yield (
            f"residual of {int(fit.used.sum())} readings: "
            f"{trimmed(MILLIAMPERE.from_si(fit.rms))} mA RMS"
        )
    if isinstance(family, PentodeFamily):
        yield from _of_the_screen(sweep, family)
    if fit.hull is not None:
        yield (
            f"covered by readings: {_range(fit.hull, 0)} plate, {_range(fit.hull, 1)} grid, inside "
            "their convex hull. Outside it every current here is extrapolated, not measured."
        )
    yield (
        "Not in it: grid current (nothing flows into G, so a positive grid is wrong here, and gas "
        "or leakage are not shown), heating, warm-up, ageing, the spread between tubes."
    )
    yield from _ratings(assessment.tube_type)
    yield (
        "A simulation is no test of a circuit: such voltages are lethal and stay in capacitors. "
        "Interlocks, local codes and licensed practice come first; no rating is to be exceeded."
    )


def _of_the_screen(sweep: Sweep, family: PentodeFamily) -> Iterator[str]:
    least, most = volts(family.least_screen), volts(family.most_screen)
    read = f"{least} V" if least == most else f"{least} to {most} V"
    yield (
        f"screen read at {read}; elsewhere the currents are carried there by the three-halves "
        "power of all electrode volts, and are extrapolated"
    )
    if sweep.readings.screen_current is None:
        yield (
            "The screen's current was not read: what flows into S is a guess, by how such tubes "
            "divide their current."
        )


def _return_words(assessment: Assessment) -> str:
    conditions = assessment.sweep.conditions
    stated = [word for word in (conditions.filament, conditions.filament_return) if word]
    if stated:
        return f" (filament {', '.join(stated)}: voltages are to that return)"
    tube_type = assessment.tube_type
    if tube_type is not None and tube_type.directly_heated:
        return " (a filament, whose return the file does not state)"
    return ""


def _operating_point(assessment: Assessment) -> Iterator[str]:
    point, constants = assessment.operating_point, assessment.constants
    if point is None:
        return
    figures = ", ".join(
        f"{quantity.symbol} {_constant(getattr(constants, name), quantity.unit)}"
        for name, quantity in CONSTANT_QUANTITIES
    )
    at = f"{volts(point.plate_voltage)} V, {volts(point.grid_voltage)} V"
    if point.screen_voltage is not None:
        at += f", screen {volts(point.screen_voltage)} V"
    yield f"at {at} (point from: {point.origin}), with uncertainty at 95 %: {figures}"


def _constant(constant: Constant, unit: Unit) -> str:
    if constant.value is None:
        return f"none ({constant.reason})"
    return format_uncertain(constant.value, constant.u95, unit)


def _range(hull: Hull, axis: int) -> str:
    low = float(hull.origin[axis])
    return f"{volts(low)} to {volts(low + float(hull.span[axis]))} V"


def _ratings(tube_type: TubeType | None) -> Iterator[str]:
    if tube_type is None:
        return
    found = [
        (tube_type.rating("plate_voltage"), "V plate"),
        (tube_type.rating("plate_dissipation"), f"{WATT.symbol} plate dissipation"),
        (tube_type.rating("screen_voltage"), "V screen"),
        (tube_type.rating("screen_dissipation"), f"{WATT.symbol} screen dissipation"),
    ]
    told = [_rating(figure, what) for figure, what in found if figure is not None]
    if told:
        yield "most allowed: " + "; ".join(told)


def _rating(figure: Figure, what: str) -> str:
    return f"{trimmed(figure.value)} {what} ({figure.source}, {figure.status.value})"
