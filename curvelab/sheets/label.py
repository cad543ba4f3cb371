"""Labels for tubes and their boxes: lines by their weight, and a QR code of the figures."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from curvelab.catalog.records import StoredResult
from curvelab.health.records import Severity, Verdict
from curvelab.sheets.label_code import CodedSection, CodedTube, label_code
from curvelab.sheets.label_grid import LabelGrid, Spot, place_labels
from curvelab.sheets.paper_records import PaperTube
from curvelab.sheets.paper_words import figure_text, grade_word, known_constants, verdict_word
from curvelab.sheets.qr_code import QrCode, fitting_code
from curvelab.sheets.text import plain, volts

__all__ = ["Label", "LabelDocument", "LabelLine", "LabelPrint", "Marks", "label_document"]

_CODE_SHARE = 0.46  # of the label's inner width, at most
_INSET = 1.8  # [mm] kept clear at every edge: sheets and printers are not exact


class Marks(StrEnum):
    """What shows the labels' edges on a test print."""

    NONE = "none"
    OUTLINE = "outline"
    CROP = "crop"


@dataclass(frozen=True, slots=True)
class LabelPrint:
    """How labels are to be printed.

    Attributes
    ----------
    start : int
        The first label used on the first sheet, counted row by row from 1.
    """

    grid: LabelGrid
    start: int = 1
    marks: Marks = Marks.NONE


@dataclass(frozen=True, slots=True)
class LabelLine:
    """A line of a label.

    Attributes
    ----------
    rank : int
        Lines of the highest rank go first where there is no room; rank 0 stays.
    name : bool
        In larger type, and where it is cut both its ends are kept.
    inverse : bool
        White on black, so that it is seen at arm's length.
    """

    text: str
    rank: int
    name: bool = False
    strong: bool = False
    inverse: bool = False


@dataclass(frozen=True, slots=True)
class Label:
    """One label and where it lies; ``code`` is None where a readable one has no room."""

    spot: Spot
    lines: tuple[LabelLine, ...]
    code: QrCode | None
    code_side: float


@dataclass(frozen=True, slots=True)
class LabelDocument:
    """Labels on their sheets.

    Attributes
    ----------
    inset : float
        What every label keeps clear at its edges [mm].
    """

    title: str
    grid: LabelGrid
    labels: tuple[Label, ...]
    marks: Marks
    inset: float
    made_with: str


def label_document(
    tubes: Sequence[PaperTube], wanted: LabelPrint, *, title: str, made_with: str
) -> LabelDocument:
    """Return a label for each tube.

    Raises
    ------
    LabelSheetError
        If the sheet has no such label.
    """
    grid = wanted.grid
    inset = max(_INSET, 0.3 * grid.corner)
    room = (grid.width - 2 * inset, grid.height - 2 * inset)
    side = min(room[1], _CODE_SHARE * room[0])
    labels = tuple(
        Label(spot, tuple(_lines(tube)), fitting_code(_codes(tube), side), side)
        for tube, spot in zip(tubes, place_labels(grid, len(tubes), wanted.start), strict=True)
    )
    return LabelDocument(plain(title), grid, labels, wanted.marks, inset, made_with)


def _lines(tube: PaperTube) -> Iterator[LabelLine]:
    yield LabelLine(tube.serial, 0, name=True, strong=True)
    yield LabelLine(tube.type_name, 1)
    yield from _judged(tube)
    if tube.stored.set_name:
        yield LabelLine(f"set {plain(tube.stored.set_name)}", 2, strong=True)
    points = [_where(result) for result in tube.sweeps]
    if points and len(set(points)) == 1 and points[0]:
        yield LabelLine(f"at {points[0]}", 3)
    for result in tube.sweeps:
        yield from _figures(result, each=len(set(points)) > 1)
    if tube.stored.identity.lot:
        yield LabelLine(f"lot {plain(tube.stored.identity.lot)}", 6)
    if tube.stored.results:
        day = max(result.made_at for result in tube.stored.results).date()
        yield LabelLine(f"judged {day.isoformat()}", 7)


def _judged(tube: PaperTube) -> Iterator[LabelLine]:
    """Yield verdict and grade, and what was found that speaks against the tube."""
    if tube.verdict is Verdict.REJECT:
        yield LabelLine(verdict_word(tube).upper(), 0, strong=True, inverse=True)
    else:
        graded = f", {grade_word(tube)}" if tube.grade else ""
        yield LabelLine(f"{verdict_word(tube)}{graded}", 1, strong=True)
    against = [
        item.finding.code.value
        for severity in (Severity.REJECT, Severity.CAUTION)
        for item in tube.of_severity(severity)
    ]
    if against:
        yield LabelLine(", ".join(dict.fromkeys(against)), 2)


def _where(result: StoredResult) -> str:
    """Return where the figures of a section were measured; nothing where there are none."""
    point = result.figures.operating_point
    if point is None or not any(known_constants(result)):
        return ""
    screen = "" if point.screen_voltage is None else f", screen {volts(point.screen_voltage)} V"
    return f"{volts(point.plate_voltage)} V, {volts(point.grid_voltage)} V{screen}"


def _figures(result: StoredResult, *, each: bool) -> Iterator[LabelLine]:
    """Yield the figures of a section, with its own point where ``each`` has one."""
    before = f"{plain(result.section)}: " if result.section else ""
    shown = [
        (name, f"{quantity.symbol} {figure_text(constant, quantity, unit=True)}")
        for name, quantity, constant in known_constants(result)
    ]
    if each and shown:
        yield LabelLine(f"{before}at {_where(result)}", 3)
    for name, text in shown:
        rank = {"plate_current": 3, "transconductance": 4}.get(name, 5)
        yield LabelLine(f"{before}{text}", rank)


def _codes(tube: PaperTube) -> tuple[str, ...]:
    """Return the code in full, and shorter for where that has no room."""
    stored = tube.stored
    days = [result.made_at.date() for result in stored.results]
    coded = CodedTube(
        serial=stored.identity.serial,
        lot=stored.identity.lot,
        type_name=tube.type_name,
        sections=tuple(_coded(result) for result in tube.sweeps),
        verdict=None if tube.verdict is None else str(tube.verdict),
        grade=tube.grade.word if tube.grade else None,
        set_name=stored.set_name,
        date=max(days, default=None),
    )
    shorter = replace(coded, lot="")
    return (
        label_code(coded),
        label_code(shorter, besides=False),
        label_code(shorter, figures=False),
    )


def _coded(result: StoredResult) -> CodedSection:
    point = result.figures.operating_point
    voltages = (
        () if point is None else (point.plate_voltage, point.grid_voltage, point.screen_voltage)
    )
    return CodedSection(
        result.section,
        tuple(value for value in voltages if value is not None),
        {name: constant for name, _, constant in known_constants(result)},
    )
