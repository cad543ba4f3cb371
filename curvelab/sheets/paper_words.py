"""Words and figures that several papers of a lot share."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from curvelab.assessment.records import OperatingPoint
from curvelab.catalog.records import StoredResult
from curvelab.fitting.records import Constant
from curvelab.health.records import Finding
from curvelab.quantities import Quantity, format_uncertain
from curvelab.sheets.document import finding_lines
from curvelab.sheets.paper_records import Basis, Found, PaperTube
from curvelab.sheets.tables import CONSTANT_QUANTITIES
from curvelab.sheets.text import plain, volts
from curvelab.sheets.wording import CAUTIONS, NOT_SAID

__all__ = [
    "FEET",
    "NONE",
    "bogey_text",
    "counted",
    "figure_text",
    "finding_text",
    "found_text",
    "grade_word",
    "known_constants",
    "point_heading",
    "reject_reasons",
    "short_point",
    "verdict_word",
]

NONE = "-"
FEET = (("not tested", NOT_SAID), ("cautions", " ".join(CAUTIONS)))


def counted(count: int, one: str, many: str | None = None) -> str:
    """Return ``1 tube`` or ``3 tubes``."""
    return f"{count} {one if count == 1 else many or one + 's'}"


def figure_text(constant: Constant, quantity: Quantity, *, unit: bool = False) -> str:
    """Return ``9.12 ± 0.05``, with the unit where asked for; a dash where there is no value."""
    if constant.value is None:
        return NONE
    shown = format_uncertain(constant.value, constant.u95, quantity.unit)
    return shown if unit else shown.removesuffix(quantity.unit.symbol).strip()


def known_constants(result: StoredResult) -> Iterator[tuple[str, Quantity, Constant]]:
    """Yield the name, quantity and constant of each that has a value."""
    for name, quantity in CONSTANT_QUANTITIES:
        constant: Constant = getattr(result.figures.constants, name)
        if constant.value is not None:
            yield name, quantity, constant


def short_point(point: OperatingPoint | None) -> str:
    """Return plate, grid and screen volts of a point, for a column that names them."""
    if point is None:
        return NONE
    known = (point.plate_voltage, point.grid_voltage, point.screen_voltage)
    return ", ".join(volts(value) for value in known if value is not None)


def point_heading(tubes: Iterable[PaperTube]) -> str:
    """Return what the figures of `short_point` are, for a column over these tubes."""
    points = (result.figures.operating_point for tube in tubes for result in tube.sweeps)
    screened = any(point is not None and point.screen_voltage is not None for point in points)
    return "Vp, Vg, Vs (V)" if screened else "Vp, Vg (V)"


def bogey_text(basis: Basis | None) -> str:
    """Return what a percentage is of: ``bogey``, or the figure of a stand-in."""
    return plain(basis.family) if basis and basis.stand_in and basis.family else "bogey"


def verdict_word(tube: PaperTube) -> str:
    """Return the verdict, and whether a person set it."""
    if tube.verdict is None:
        return "not tested"
    return f"{tube.verdict} (by a person)" if tube.stored.overrule else str(tube.verdict)


def grade_word(tube: PaperTube) -> str:
    """Return the grade's word, or that there is none."""
    return plain(tube.grade.word) if tube.grade else "not graded"


def finding_text(finding: Finding) -> str:
    """Return what was found in full: evidence, value, limit, and where the limit comes from."""
    (line,) = finding_lines((finding,))
    return f"{line.sentence} {line.figure}." if line.figure else line.sentence


def found_text(item: Found) -> str:
    """Return code, section, kind of test and evidence of a finding."""
    where = f" (section {plain(item.section)})" if item.section else ""
    how = ", by hand" if item.by_hand else ""
    return f"{item.finding.code}{where}{how}: {finding_text(item.finding)}"


def reject_reasons(tube: PaperTube, items: Iterable[Found]) -> tuple[str, ...]:
    """Return why a tube stands as it does: a person's reason first, then what was found."""
    reasons = [found_text(item) for item in items]
    overrule = tube.stored.overrule
    if overrule is not None:
        reasons.insert(0, plain(f"{overrule.reason} ({overrule.person})"))
    return tuple(dict.fromkeys(reasons))
