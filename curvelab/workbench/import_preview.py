"""What was understood of a file, guessed and set aside, before or after it is taken in."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from curvelab.errors import AmbiguousFileError, SweepFileError
from curvelab.ingest.choices import (
    NOTHING_CHOSEN,
    ColumnChoice,
    GridCurrentSign,
    GridVoltsSign,
    ReadingChoices,
)
from curvelab.ingest.decode import load
from curvelab.ingest.headings import Column
from curvelab.ingest.layout import Layout, look_at
from curvelab.ingest.reader import FileReading, read_source
from curvelab.sweep.records import Remark, RemarkCode, SourceFile
from curvelab.workbench.characterize import Batch, expected_current
from curvelab.workbench.type_library import current_types

__all__ = ["File", "FilePreview", "preview_file", "preview_files", "settled", "to_look_at"]

_SHOWN_LINES = 400
_EXCHANGED = {
    Column.PLATE_VOLTAGE: Column.GRID_VOLTAGE,
    Column.GRID_VOLTAGE: Column.PLATE_VOLTAGE,
}

File = Path | SourceFile


@dataclass(frozen=True, slots=True, eq=False)
class FilePreview:
    """How one file is read under some choices.

    Attributes
    ----------
    file : Path or SourceFile
        The file, with its bytes where they could be had.
    layout : Layout or None
        None where the file is no text.
    reading : FileReading or None
        None where it cannot be read.
    reason, line : str or None, int or None
        Why it cannot.
    ways : tuple of str
        The ways it can be read, where a person must pick one.
    """

    file: File
    choices: ReadingChoices
    layout: Layout | None = None
    reading: FileReading | None = None
    reason: str | None = None
    line: int | None = None
    ways: tuple[str, ...] = ()

    @property
    def path(self) -> str:
        """The path of the file."""
        return str(self.file) if isinstance(self.file, Path) else self.file.path

    @property
    def name(self) -> str:
        """The name of the file."""
        return self.file.name

    @property
    def question(self) -> str | None:
        """Why it cannot be read, without the ways, which stand beside it."""
        return None if self.reason is None else self.reason.partition(" (choose: ")[0]

    @property
    def lines(self) -> tuple[str, ...]:
        """The first lines of the file, to be shown."""
        return () if self.layout is None else self.layout.lines[:_SHOWN_LINES]

    @property
    def weighty(self) -> tuple[Remark, ...]:
        """The guesses that change the figures."""
        remarks = () if self.reading is None else self.reading.remarks
        return tuple(remark for remark in remarks if remark.weighs)

    @property
    def needs_a_person(self) -> bool:
        """Whether somebody should look at it before its figures are believed."""
        return self.reading is None or bool(self.weighty)


def preview_file(
    file: File, choices: ReadingChoices = NOTHING_CHOSEN, type_name: str | None = None
) -> FilePreview:
    """Return how a file is read; one that cannot be read gives its reason, never an error."""
    layout: Layout | None = None
    try:
        if isinstance(file, Path):
            file = load(file)
        layout = look_at(file, choices)
        reading = read_source(
            file, type_name=type_name, expected_current=expected_current, choices=choices
        )
    except SweepFileError as error:
        ways = error.choices if isinstance(error, AmbiguousFileError) else ()
        return FilePreview(file, choices, layout, None, error.reason, error.line, ways)
    return FilePreview(file, choices, layout, reading)


def preview_files(
    files: Sequence[tuple[File, ReadingChoices]],
    progress: Callable[[int, int, str], None] | None = None,
    should_stop: Callable[[], bool] | None = None,
) -> tuple[FilePreview, ...]:
    """Return how each file is read; those before a stop are returned."""
    current_types()  # whoever shows a preview wants their names, and must not wait for them
    found = []
    for done, (file, choices) in enumerate(files, start=1):
        found.append(preview_file(file, choices))
        if progress is not None:
            progress(done, len(files), file.name)
        if should_stop is not None and should_stop():
            break
    return tuple(found)


def settled(seen: FilePreview) -> ReadingChoices:
    """Return the choices of a file with everything that was guessed in it chosen.

    Read so, the file gives the same figures and nothing is guessed, except that a column is
    turned round throughout: that is a fault of the bench and no way of writing.
    """
    reading, layout = seen.reading, seen.layout
    if reading is None or layout is None:
        return seen.choices
    choices = seen.choices
    guessed = {remark.code for remark in reading.remarks if remark.guessed}
    if layout.dialect.decimal_guessed:
        choices = choices.corrected(decimal=layout.dialect.decimal)
    if RemarkCode.GRID_SIGN in guessed:
        choices = choices.corrected(grid_volts=GridVoltsSign.NEGATIVE)
    if RemarkCode.GRID_CURRENT_SIGN in guessed:
        choices = choices.corrected(grid_current=GridCurrentSign.REVERSE)
    exchanged = _EXCHANGED if RemarkCode.SWAPPED in guessed else {}
    all_columns = bool(guessed & {RemarkCode.COLUMNS, RemarkCode.SWAPPED})
    for item in layout.columns:
        if item.column is None or item.step is not None:
            continue
        if all_columns or item.column in reading.guessed:
            column = exchanged.get(item.column, item.column)
            unit = item.unit or reading.units.get(item.column)
            choices = choices.with_column(ColumnChoice(item.heading, column, unit))
    wide = any(item.step is not None for item in layout.columns)
    if wide and Column.PLATE_CURRENT in reading.guessed:
        choices = choices.corrected(step_unit=reading.units[Column.PLATE_CURRENT])
    return choices


def to_look_at(batch: Batch) -> tuple[File, ...]:
    """Return the files of a batch that a person should look at.

    Those in which something was guessed that changes the figures, and those that can be read
    in more than one way.
    """
    guessed = {
        item.sweep.source.path: item.sweep.source
        for item in batch.assessments
        if any(remark.weighs for remark in item.sweep.remarks)
    }
    asked = tuple(Path(error.file) for error in batch.errors if error.choices)
    return (*asked, *guessed.values())
