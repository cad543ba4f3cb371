"""The command that does the main job: paths in, table and files out."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Callable, Iterable
from datetime import date
from pathlib import Path

from curvelab import __version__
from curvelab.assessment.records import Assessment
from curvelab.cli.console import Progress, note, show, show_bytes, width
from curvelab.cli.lot_text import lot_text
from curvelab.cli.not_read import note_what_was_not_read
from curvelab.errors import CurvelabError
from curvelab.sheets.names import safe_file_stem
from curvelab.sheets.output import make_folder, write_output
from curvelab.sheets.results_csv import results_csv
from curvelab.sheets.results_json import results_document, results_text
from curvelab.workbench.characterize import Batch, Request, characterize
from curvelab.workbench.type_library import current_types

__all__ = ["run", "write_result"]

_STANDARD_OUTPUT = "-"
_DONE, _NOT_WRITTEN, _NOT_READ = 0, 1, 3


def run(arguments: Namespace) -> int:
    """Characterise what was named, write what was asked for, and return the exit status."""
    request = Request(
        paths=tuple(arguments.paths),
        type_name=arguments.type,
        reference=arguments.reference,
        reference_curves=arguments.reference_curves,
        at=arguments.at,
        predict=tuple(arguments.predict),
        bench=arguments.bench,
        workers=arguments.workers,
    )
    for problem in current_types().problems:
        note(problem)
    with Progress() as progress:
        batch = characterize(request, progress)
    note_what_was_not_read(batch)
    written = [_written(output) for output in _outputs(arguments, batch)]
    if _STANDARD_OUTPUT not in (arguments.json, arguments.csv):
        show(lot_text(batch, width()))
    if not all(written):
        return _NOT_WRITTEN
    return _NOT_READ if batch.errors else _DONE


def _outputs(arguments: Namespace, batch: Batch) -> Iterable[Callable[[], None]]:
    """Yield what writes each result that was asked for."""
    if arguments.json is not None:
        yield lambda: write_result(arguments.json, _json_text(batch))
    if arguments.csv is not None:
        yield lambda: write_result(arguments.csv, results_csv(batch.assessments))
    if arguments.sheets is not None:
        yield lambda: _write_sheets(arguments.sheets, batch.assessments)


def _written(output: Callable[[], None]) -> bool:
    """Write one result; one that cannot be written does not keep the others from it."""
    try:
        output()
    except CurvelabError as error:
        note(str(error))
        return False
    return True


def _json_text(batch: Batch) -> str:
    return results_text(results_document(batch.assessments, batch.set_aside, batch.errors))


def write_result(target: str, text: str) -> None:
    """Write a result to a file, or to standard output where ``target`` says so."""
    content = text.encode("utf-8")
    if target == _STANDARD_OUTPUT:
        show_bytes(content)
    else:
        write_output(Path(target), content)


def _write_sheets(folder: Path, assessments: tuple[Assessment, ...]) -> None:
    # Imported here: a table needs no Qt, and the first of these says so where Qt is missing.
    from curvelab.drawing.availability import require_drawing  # noqa: PLC0415

    require_drawing()
    from curvelab.drawing.export import save_sheet_pdf  # noqa: PLC0415
    from curvelab.sheets.document import sheet_document  # noqa: PLC0415

    make_folder(folder)
    used: set[str] = set()
    made_with, today = f"curvelab {__version__}", date.today()
    with Progress("sheet") as progress:
        for done, assessment in enumerate(assessments, start=1):
            stem = safe_file_stem(assessment.sweep.tube, assessment.sweep.section, used)
            used.add(stem)
            document = sheet_document(assessment, made_with=made_with, date=today)
            save_sheet_pdf(document, folder / f"{stem}.pdf")
            progress(done, len(assessments), stem)
