"""The command that gives constants as functions: along plate currents, and over the plane."""

from __future__ import annotations

import math
import textwrap
from argparse import Namespace
from collections.abc import Iterator, Sequence
from pathlib import Path

from curvelab.cli.console import Progress, note, show, show_bytes, width
from curvelab.cli.not_read import note_what_was_not_read
from curvelab.cli.table import Cell, table_text
from curvelab.errors import CurvelabError
from curvelab.fitting.constant_map import ConstantMap
from curvelab.quantities import format_uncertain
from curvelab.sheets.constant_courses import Courses, courses_csv, courses_json
from curvelab.sheets.output import write_output
from curvelab.sheets.tables import CONSTANT_QUANTITIES
from curvelab.sheets.text import plain, volts
from curvelab.sheets.wording import CAUTIONS
from curvelab.workbench.bench_file import load_description
from curvelab.workbench.characterize import Request, characterize
from curvelab.workbench.constant_courses import CoursesWanted, courses_of

__all__ = ["run"]

_STANDARD_OUTPUT = "-"
_DONE, _NOT_WRITTEN, _NOT_READ = 0, 1, 3
_PRINTED = 4  # every so manieth point; the files hold all of them


def run(arguments: Namespace) -> int:
    """Characterise what was named, write the constants, and return the exit status."""
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
    with Progress("constants") as progress:
        courses = courses_of(batch.assessments, _wanted(arguments), progress)
    for item in courses:
        if item.reason is not None:
            note(f"{item.assessment.sweep.title}: no constants: {item.reason}")
    written = []
    if arguments.json is not None:
        written.append(_write(arguments.json, courses_json(courses, batch.errors)))
    if arguments.csv is not None:
        written.append(_write(arguments.csv, courses_csv(courses)))
    if _STANDARD_OUTPUT not in (arguments.json, arguments.csv):
        cautions = "".join(f"{line}\n" for line in textwrap.wrap(" ".join(CAUTIONS), width()))
        show("\n".join([*_tables(courses, width()), cautions]))
    if not all(written):
        return _NOT_WRITTEN
    return _NOT_READ if batch.errors else _DONE


def _wanted(arguments: Namespace) -> CoursesWanted:
    bench = load_description(arguments.bench).bench
    return CoursesWanted(tuple(arguments.plate), arguments.plane, bench)


def _write(target: str, text: str) -> bool:
    """Write one result; one that cannot be written does not keep the other from it."""
    content = text.encode("utf-8")
    if target == _STANDARD_OUTPUT:
        show_bytes(content)
        return True
    try:
        write_output(Path(target), content)
    except CurvelabError as error:
        note(str(error))
        return False
    return True


def _tables(courses: Sequence[Courses], columns: int) -> Iterator[str]:
    for item in courses:
        title = plain(item.assessment.sweep.title)
        for found in item.along:
            if not len(found):
                yield f"{title}: the sweep does not cover that plate voltage\n"
                continue
            plate = volts(float(found.plate_voltage[0]))
            yield f"{title}, plate at {plate} V\n{table_text(list(_rows(found)), columns)}"


def _rows(found: ConstantMap) -> Iterator[list[Cell]]:
    yield [("Vg (V)",), *((quantity.symbol,) for _, quantity in CONSTANT_QUANTITIES)]
    for place in range(0, len(found), _PRINTED):
        cells: list[Cell] = [(f"{found.grid_voltage[place]:.2f}",)]
        for name, quantity in CONSTANT_QUANTITIES:
            part = getattr(found, name)
            value, u95 = float(part.value[place]), float(part.u95[place])
            text = str(part.outcome[place])
            if math.isfinite(value):
                text = format_uncertain(value, u95, quantity.unit)
            cells.append((text,))
        yield cells
