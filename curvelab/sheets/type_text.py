"""One type in full, each figure with the number of the source it stands in."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Mapping

from curvelab.quantities import MICROAMPERE, UNITY, Unit
from curvelab.reference.band import ToleranceBand, tolerance_band
from curvelab.reference.family import ReferenceFamily
from curvelab.reference.fields import (
    BIAS_FIELDS,
    CAPACITANCE_FIELDS,
    CONSTANT_FIELDS,
    FIGURE_FIELDS,
    HEATER_FIELDS,
    LIMIT_FIELDS,
    OPERATION_FIELDS,
    PENTODE_FIELDS,
    RATING_FIELDS,
)
from curvelab.reference.records import (
    Figure,
    HandbookPoint,
    PentodePoint,
    PrintedLimit,
    Status,
    TubeType,
)

__all__ = ["type_text"]

_UNITS: Mapping[str, Unit] = {
    field.name: field.unit
    for table in (
        BIAS_FIELDS,
        PENTODE_FIELDS,
        CAPACITANCE_FIELDS,
        CONSTANT_FIELDS,
        FIGURE_FIELDS,
        HEATER_FIELDS,
        LIMIT_FIELDS,
        OPERATION_FIELDS,
        RATING_FIELDS,
    )
    for field in table.values()
}


class _Sources:
    """The sources cited so far, numbered in the order in which they came."""

    def __init__(self) -> None:
        self._numbers: dict[tuple[str, Status], int] = {}

    def cite(self, source: str, status: Status) -> str:
        """Return the mark of a source, such as ``[2]``."""
        return f"[{self._numbers.setdefault((source, status), len(self._numbers) + 1)}]"

    def lines(self) -> Iterator[str]:
        """Yield the list that the marks point to."""
        for (source, status), number in self._numbers.items():
            yield f"[{number}] {source} ({status.value})"


def type_text(
    item: TubeType,
    width: int,
    family: ReferenceFamily | None = None,
    pentode: ReferenceFamily | None = None,
) -> str:
    """Return all that the library knows of a type, for ``width`` columns.

    Parameters
    ----------
    family, pentode : ReferenceFamily or None
        As a triode or connected as one, and with a screen at a voltage of its own.
    """
    sources = _Sources()
    head = [item.kind, f"{item.cathode} cathode", *([item.base] if item.base else [])]
    also = f" (also {', '.join(item.aliases)})" if item.aliases else ""
    blocks: list[tuple[str, list[str]]] = [
        (f"{item.name}{also}", [", ".join(head), *_relatives(item)]),
        ("Heater or filament", list(_heaters(item, sources))),
        ("Base and pins", list(_socket(item, sources))),
        ("Capacitances", list(_capacitances(item, sources))),
        (
            "Points of the triode connection" if item.has_screen else "Characteristic points",
            [_point(point, sources) for point in item.points],
        ),
        ("Pentode-connected points", [_pentode_point(p, sources) for p in item.pentode_points]),
        ("Cut-off", list(_cutoffs(item, sources))),
        ("Published curves, as read off", list(_curves(item, sources))),
        *(
            (
                f"Maximum ratings, {rating.system}",
                [
                    *_figures(rating.limits, sources),
                    *([f"service: {rating.service}"] if rating.service else []),
                    *([rating.note] if rating.note else []),
                ],
            )
            for rating in item.ratings
        ),
        ("Printed limits", [_limit(limit, sources) for limit in item.printed_limits]),
        *(
            (f"Operation, {row.service}", list(_figures(row.figures, sources)))
            for row in item.operations
        ),
        ("Reference family", [] if family is None else list(_family(item, family))),
        (
            "Reference family with a screen at a voltage of its own",
            [] if pentode is None else list(_family(item, pentode)),
        ),
        ("Notes", list(item.notes)),
    ]
    blocks.append(("Sources", list(sources.lines())))
    return "\n".join(_block(title, lines, width) for title, lines in blocks if lines)


def _block(title: str, lines: list[str], width: int) -> str:
    wrapped = [
        part
        for line in lines
        for part in textwrap.wrap(line, width, initial_indent="  ", subsequent_indent="    ")
    ]
    return "".join(f"{line}\n" for line in (title, *wrapped))


def _relatives(item: TubeType) -> Iterator[str]:
    if item.near:
        yield f"near relatives: {', '.join(item.near)}"


def _number(name: str, value: float) -> str:
    unit = _UNITS.get(name, UNITY)
    blank = " " if unit.symbol else ""
    return f"{unit.from_si(value):.5g}{blank}{unit.symbol}"


def _shown(name: str, figure: Figure, sources: _Sources) -> str:
    return f"{_number(name, figure.value)} {sources.cite(figure.source, figure.status)}"


def _figures(figures: Mapping[str, Figure], sources: _Sources) -> Iterator[str]:
    for name, figure in figures.items():
        yield f"{name.replace('_', ' ')} {_shown(name, figure, sources)}"


def _heaters(item: TubeType, sources: _Sources) -> Iterator[str]:
    for heater in item.heaters:
        voltage = _shown("heater_voltage", heater.voltage, sources)
        current = _shown("heater_current", heater.current, sources)
        yield f"{heater.arrangement}: {voltage}, {current}"


def _socket(item: TubeType, sources: _Sources) -> Iterator[str]:
    if item.basing_code is not None:
        code = item.basing_code
        yield f"basing code {code.text} {sources.cite(code.source, code.status)}"
    pins = [f"{pin} {words.text}" for pin, words in item.pins.items()]
    for origin in dict.fromkeys((words.source, words.status) for words in item.pins.values()):
        yield f"{', '.join(pins)} {sources.cite(*origin)}"


def _capacitances(item: TubeType, sources: _Sources) -> Iterator[str]:
    for name, figures in item.capacitances.items():
        each = " and ".join(_shown(name, figure, sources) for figure in figures)
        yield f"{name.replace('_', ' ')} {each}"


def _pentode_point(point: PentodePoint, sources: _Sources) -> str:
    figures = {
        "plate_current": point.plate_current,
        "screen_current": point.screen_current,
        "transconductance": point.transconductance,
        "plate_resistance": point.plate_resistance,
        "screen_amplification_factor": point.screen_amplification_factor,
    }
    printed = {name: figure for name, figure in figures.items() if figure is not None}
    bogey = " (bogey point)" if point.bogey else ""
    text = (
        f"Vp {point.plate_voltage:.5g} V, Vs {point.screen_voltage:.5g} V, "
        f"Vg {point.grid_voltage:.5g} V{bogey} {sources.cite(point.source, point.status)}: "
    )
    text += ", ".join(_figures(printed, sources))
    return f"{text}; {point.converted}" if point.converted else text


def _curves(item: TubeType, sources: _Sources) -> Iterator[str]:
    for curves in item.curves:
        screen = "as a triode"
        if curves.screen_voltage is not None:
            screen = f"screen at {curves.screen_voltage:g} V"
        yield (
            f"{curves.plate_voltage.size} readings, {screen}; accuracy {curves.accuracy} "
            f"{sources.cite(curves.source, curves.status)}"
        )


def _family(item: TubeType, family: ReferenceFamily) -> Iterator[str]:
    constants = ", ".join(f"{name} {value:.4g}" for name, value in family.parameters.items())
    yield f"{family.law}: {constants}"
    yield family.origin
    for label, share in family.residual.items():
        foot = ", near cut-off" if label in family.near_cutoff else ""
        yield f"{label} {100 * share:+.1f} % of the published figure{foot}"
    band = tolerance_band(item, family)
    if band is not None:
        yield _band(band)


def _band(band: ToleranceBand) -> str:
    ends = [
        f"{words} {100 * share:.0f} %"
        for words, share in zip(("from", "to"), band.shares, strict=True)
        if share is not None
    ]
    return (
        f"tolerance of the plate current at {band.plate_voltage:.4g} V, {band.grid_voltage:.4g} V: "
        f"{' '.join(ends)} of the family's ({band.source})"
    )


def _point(point: HandbookPoint, sources: _Sources) -> str:
    constants = {
        "plate_current": point.plate_current,
        "transconductance": point.transconductance,
        "plate_resistance": point.plate_resistance,
        "amplification_factor": point.amplification_factor,
    }
    printed = {name: figure for name, figure in constants.items() if figure is not None}
    bogey = " (bogey point)" if point.bogey else ""
    volts = f"Vp {point.plate_voltage:.5g} V, Vg {point.grid_voltage:.5g} V"
    text = f"{volts}{bogey} {sources.cite(point.source, point.status)}: "
    text += ", ".join(_figures(printed, sources))
    return f"{text}; {point.converted}" if point.converted else text


def _cutoffs(item: TubeType, sources: _Sources) -> Iterator[str]:
    for cutoff in item.cutoffs:
        current = f"{MICROAMPERE.from_si(cutoff.plate_current.value):.4g} µA"
        source = sources.cite(cutoff.plate_current.source, cutoff.plate_current.status)
        yield (
            f"Vp {cutoff.plate_voltage:.5g} V: {current} at Vg {cutoff.grid_voltage:.5g} V {source}"
        )


def _limit(limit: PrintedLimit, sources: _Sources) -> str:
    low, high = (
        None if end is None else _number(limit.quantity, end) for end in (limit.low, limit.high)
    )
    if low is not None and high is not None:
        span = f"{low} to {high}"
    else:
        span = f"at least {low}" if low is not None else f"at most {high}"
    name = limit.quantity.replace("_", " ")
    source = sources.cite(limit.source, limit.status)
    return f"{name}, {limit.stage}: {span}, {limit.condition} {source}"
