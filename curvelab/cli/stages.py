"""The command that tries tubes in a single-ended class A stage."""

from __future__ import annotations

import textwrap
from argparse import Namespace
from collections.abc import Iterator, Sequence

from curvelab.cli.console import Progress, note, show, width
from curvelab.cli.lot_text import tube_cell
from curvelab.cli.not_read import note_what_was_not_read
from curvelab.cli.table import Cell, table_text
from curvelab.quantities import MILLIAMPERE
from curvelab.sheets.text import trimmed, volts
from curvelab.sheets.wording import CAUTIONS
from curvelab.stage.records import Stage
from curvelab.workbench.characterize import Request, characterize
from curvelab.workbench.stages import StageTried, stages_of

__all__ = ["run"]

_DONE, _NOT_READ = 0, 3
_LEGEND = (
    "By five points of the load line on each tube's own curves, at fixed bias. Power is that of "
    "the fundamental at the plate; a transformer's losses are not taken off. Dissipation is that "
    "at rest; 2nd, 3rd and total are harmonics. *: part of the load line lies outside the readings "
    "and is extrapolated."
)


def run(arguments: Namespace) -> int:
    """Characterise what was named, print what each tube gives, and return the exit status."""
    request = Request(
        paths=tuple(arguments.paths),
        type_name=arguments.type,
        at=arguments.at,
        bench=arguments.bench,
        workers=arguments.workers,
    )
    with Progress() as progress:
        batch = characterize(request, progress)
    note_what_was_not_read(batch)
    tried = stages_of(batch.assessments, arguments.load, arguments.signal)
    for item in tried:
        if item.reason is not None:
            note(f"{item.assessment.sweep.title}: no stage: {item.reason}")
    columns = width()
    cautions = "".join(f"{textwrap.fill(caution, columns)}\n" for caution in CAUTIONS)
    legend = f"{textwrap.fill(_LEGEND, columns)}\n"
    show("\n".join((table_text(list(_rows(tried)), columns), legend, cautions)))
    return _NOT_READ if batch.errors else _DONE


def _rows(tried: Sequence[StageTried]) -> Iterator[list[Cell]]:
    yield [
        tuple(heading.split("|"))
        for heading in (
            "tube", "Vp,|Vg (V)", "Ip|(mA)", "at|rest|(W)", "peak|signal|(V)", "power|(W)",
            "gain", "2nd|(%)", "3rd|(%)", "total|(%)", "verdict",
        )
    ]  # fmt: skip
    for item in tried:
        if item.stage is not None and item.stage.output_power is not None:
            verdict = item.assessment.verdict.value
            yield [
                tube_cell(item.assessment.sweep),
                *_cells(item.stage, _screen(item)),
                (verdict,),
            ]


def _screen(item: StageTried) -> str:
    point = item.assessment.operating_point
    if point is None or point.screen_voltage is None:
        return ""
    return f", screen {volts(point.screen_voltage)}"


def _cells(stage: Stage, screen: str) -> Iterator[Cell]:
    rest = stage.rest
    yield f"{volts(rest.plate_voltage)},", f"{volts(rest.grid_voltage)}{screen}"
    yield (trimmed(MILLIAMPERE.from_si(rest.plate_current)),)
    yield (trimmed(rest.dissipation),)
    yield (trimmed(stage.signal_peak) + ("*" if stage.extrapolated else ""),)
    yield (_figure(stage.output_power),)
    yield (_figure(stage.gain),)
    for share in (stage.second, stage.third, stage.distortion):
        yield (_figure(None if share is None else 100 * share),)


def _figure(value: float | None) -> str:
    return "-" if value is None else trimmed(value)
