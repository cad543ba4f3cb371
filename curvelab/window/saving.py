"""Writing sheets, plots and the lot as files, in the background."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

from PySide6.QtCore import QBuffer, QByteArray, QObject, Signal
from PySide6.QtGui import QPixmap
from PySide6.QtWidgets import QWidget

from curvelab.drawing.export import (
    save_picture_png,
    save_picture_svg,
    save_sheet_pdf,
    save_sheet_png,
    save_sheet_svg,
)
from curvelab.sheets.names import safe_file_stem
from curvelab.sheets.output import write_output
from curvelab.sheets.results_csv import results_csv
from curvelab.window.files import FileDialogs
from curvelab.window.lot import Lot
from curvelab.window.tasks import Failure, TaskQueue, Work
from curvelab.workbench.netlists import NetlistsWritten, write_netlists
from curvelab.workbench.session import Entry, Problem, ProblemKind

__all__ = ["Saving"]

_SHEET_FORMATS = {".pdf": save_sheet_pdf, ".png": save_sheet_png, ".svg": save_sheet_svg}


class Saving(QObject):
    """Asks where to, then writes; says what came of it."""

    told = Signal(str)

    def __init__(self, lot: Lot, tasks: TaskQueue, dialogs: FileDialogs, window: QWidget) -> None:
        super().__init__(window)
        self._lot, self._tasks, self._dialogs, self._window = lot, tasks, dialogs, window

    def save_sheets(self) -> None:
        """Write the sheet of the one chosen tube to a file, of several into a folder."""
        entries = self._lot.session.chosen
        title = self.tr("Save the sheet") if len(entries) == 1 else self.tr("Save sheets into")
        if len(entries) == 1:
            name = f"{_stem(entries[0])}.pdf"
            self._dialogs.ask_target(
                title,
                name,
                ["PDF (*.pdf)", "PNG (*.png)", "SVG (*.svg)"],
                lambda paths: self._write_sheets(entries, paths[0]),
            )
        elif entries:
            self._dialogs.ask_folder(title, lambda paths: self._write_sheets(entries, paths[0]))

    def print_sheets(self) -> None:
        """Print the sheets of the chosen tubes, a page each."""
        chosen = self._lot.session.chosen
        documents = [self._lot.session.document(entry.key) for entry in chosen]
        if documents:
            # Imported here: few print, and every start would wait for it.
            from curvelab.window.printing import ask_and_print  # noqa: PLC0415

            ask_and_print(self._window, documents, self.told.emit)

    def save_plot(self) -> None:
        """Write the curves of the tube looked at as PNG or SVG."""
        entry = self._lot.session.current
        if entry is None:
            return
        picture = self._lot.session.document(entry.key).picture

        def write(path: Path) -> None:
            save = save_picture_svg if path.suffix.casefold() == ".svg" else save_picture_png
            self._run(path, lambda *_: save(picture, path))

        self._dialogs.ask_target(
            self.tr("Save the plot"),
            f"{_stem(entry)}.png",
            ["PNG (*.png)", "SVG (*.svg)"],
            lambda paths: write(paths[0]),
        )

    def save_seen(self, seen: QPixmap, view: str) -> None:
        """Write what is to be seen of the tube looked at as PNG."""
        entry = self._lot.session.current
        if entry is None:
            return
        content, buffer = QByteArray(), QBuffer()
        buffer.setBuffer(content)
        buffer.open(QBuffer.OpenModeFlag.WriteOnly)
        seen.save(buffer, "PNG")

        def write(path: Path) -> None:
            self._run(path, lambda *_: write_output(path, bytes(content.data())))

        self._dialogs.ask_target(
            self.tr("Save the plot"),
            f"{_stem(entry)}-{view.replace(' ', '-')}.png",
            ["PNG (*.png)"],
            lambda paths: write(paths[0]),
        )

    def save_lot(self) -> None:
        """Write one row a tube as CSV, with the verdicts that persons set."""
        entries = self._lot.entries_of(row.key for row in self._lot.rows)
        if not entries:
            return
        assessments = [entry.assessment for entry in entries]
        overrules = [entry.overrule for entry in entries]

        def write(path: Path) -> None:
            def work(*_: object) -> None:
                write_output(path, results_csv(assessments, overrules).encode("utf-8"))

            self._run(path, work)

        self._dialogs.ask_target(
            self.tr("Save the lot"), "lot.csv", ["CSV (*.csv)"], lambda paths: write(paths[0])
        )

    def save_netlists(self) -> None:
        """Write the chosen tubes as subcircuits into a folder, and say which could not be one."""
        assessments = [entry.assessment for entry in self._lot.session.chosen]
        if not assessments:
            return

        def write(folder: Path) -> None:
            def work(
                progress: Callable[[int, int, str], None], should_stop: Callable[[], bool]
            ) -> NetlistsWritten:
                return write_netlists(assessments, folder, progress, should_stop)

            def list_left_out(outcome: object) -> None:
                if isinstance(outcome, NetlistsWritten):
                    for title, reason in outcome.left_out:
                        text = self.tr("no netlist: {0}").format(reason)
                        self._lot.report(Problem(ProblemKind.NOTICE, title, None, text))

            self._run(folder, work, list_left_out)

        self._dialogs.ask_folder(self.tr("Save netlists into"), lambda paths: write(paths[0]))

    def _write_sheets(self, entries: Sequence[Entry], target: Path) -> None:
        documents = [self._lot.session.document(entry.key) for entry in entries]
        if len(entries) == 1:
            targets = [target]
        else:
            targets, used = [], set[str]()
            for entry in entries:
                used.add(stem := _stem(entry, used))
                targets.append(target / f"{stem}.pdf")

        def work(
            progress: Callable[[int, int, str], None], should_stop: Callable[[], bool]
        ) -> None:
            for done, (document, path) in enumerate(zip(documents, targets, strict=True), 1):
                if should_stop():
                    return
                _SHEET_FORMATS.get(path.suffix.casefold(), save_sheet_pdf)(document, path)
                progress(done, len(documents), path.name)

        self._run(target, work)

    def _run(
        self, target: Path, work: Work, finished: Callable[[object], None] = lambda _: None
    ) -> None:
        def receive(outcome: object) -> None:
            if isinstance(outcome, Failure):
                name, reason = target.name, outcome.reason
                self._lot.report(Problem(ProblemKind.ERROR, name, None, reason, outcome.details))
                self.told.emit(reason)
            else:
                self.told.emit(self.tr("Saved {0}").format(target))
                finished(outcome)

        self._tasks.start(work, receive)


def _stem(entry: Entry, used: set[str] | frozenset[str] = frozenset()) -> str:
    sweep = entry.assessment.sweep
    return safe_file_stem(sweep.tube, sweep.section, used)
