"""Writing sheets, plots and the lot as files, in the background."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal
from PySide6.QtWidgets import QWidget

from curvelab.drawing.export import save_sheets_pdf
from curvelab.sheets.names import safe_file_stem
from curvelab.sheets.output import write_output
from curvelab.sheets.results_csv import results_csv
from curvelab.window.files import FileDialogs
from curvelab.window.lot import Lot
from curvelab.window.saving_kinds import (
    PICTURE_FILTERS,
    SHEET_FILTERS,
    SeenView,
    SheetKind,
    save_picture,
    save_sheet,
    save_view,
)
from curvelab.window.tasks import Failure, TaskQueue, Work
from curvelab.workbench.netlists import NetlistsWritten, write_netlists
from curvelab.workbench.session import Entry, Problem, ProblemKind

if TYPE_CHECKING:
    from PySide6.QtPrintSupport import QPrinter

__all__ = ["Saving"]


class Saving(QObject):
    """Asks where to, then writes; says what came of it."""

    told = Signal(str)

    def __init__(self, lot: Lot, tasks: TaskQueue, dialogs: FileDialogs, window: QWidget) -> None:
        super().__init__(window)
        self._lot, self._tasks, self._dialogs, self._window = lot, tasks, dialogs, window

    def preview_sheets(self) -> None:
        """Show the sheets of the chosen tubes as they will be on paper."""
        entries = self._lot.session.chosen
        if not entries:
            return
        # Imported here: the start need not wait for it.
        from curvelab.window.sheet_preview import SheetPreview  # noqa: PLC0415

        dialog = SheetPreview(entries, self._lot.session.fresh_document, self._window)
        dialog.save_wanted.connect(lambda kind: self._ask_sheets(entries, kind))
        dialog.print_wanted.connect(lambda: self._ask_printer(entries))
        dialog.finished.connect(dialog.deleteLater)
        dialog.show()

    def save_sheets(self) -> None:
        """Write the sheet of the one chosen tube to a file, of several into a folder."""
        self._ask_sheets(self._lot.session.chosen, SheetKind.PDF)

    def _ask_sheets(self, entries: Sequence[Entry], kind: SheetKind) -> None:
        """Ask where to write sheets: a file for one or for all in one, else a folder."""
        if kind is SheetKind.ONE_PDF:
            self._dialogs.ask_target(
                self.tr("Save the sheets"),
                "sheets.pdf",
                ["PDF (*.pdf)"],
                lambda paths: self._write_one_file(entries, paths[0]),
            )
        elif len(entries) == 1:
            self._dialogs.ask_target(
                self.tr("Save the sheet"),
                f"{_stem(entries[0])}{kind}",
                sorted(SHEET_FILTERS, key=lambda text: kind not in text),
                lambda paths: self._write_sheets(entries, [paths[0]], paths[0]),
            )
        elif entries:
            self._dialogs.ask_folder(
                self.tr("Save sheets into"),
                lambda paths: self._write_sheets(
                    entries, _targets(entries, paths[0], kind), paths[0]
                ),
            )

    def print_sheets(self) -> None:
        """Print the sheets of the chosen tubes, a page each."""
        self._ask_printer(self._lot.session.chosen)

    def _ask_printer(self, entries: Sequence[Entry]) -> None:
        if not entries:
            return
        # Imported here: few print, and every start would wait for it.
        from curvelab.window.printing import ask_printer, print_sheets  # noqa: PLC0415

        document_of = self._lot.session.fresh_document

        def start(printer: QPrinter) -> None:
            def work(
                progress: Callable[[int, int, str], None], should_stop: Callable[[], bool]
            ) -> bool:
                def painted(done: int) -> bool:
                    progress(done, len(entries), self.tr("printing"))
                    return not should_stop()

                return print_sheets(printer, map(document_of, entries), painted)

            def receive(outcome: object) -> None:
                if isinstance(outcome, Failure):
                    self.told.emit(outcome.reason)
                else:
                    sent, stopped = self.tr("Sent to the printer"), self.tr("Printing was stopped")
                    self.told.emit(sent if outcome else stopped)

            self._tasks.start(work, receive, owed=True)

        title = self._lot.session.fresh_document(entries[0]).title
        ask_printer(self._window, title if len(entries) == 1 else "curvelab", start)

    def save_plot(self) -> None:
        """Write the curves of the tube looked at as PNG, SVG or PDF."""
        entry = self._lot.session.current
        if entry is None:
            return
        picture = self._lot.session.document(entry.key).picture

        def write(path: Path) -> None:
            self._run(path, lambda *_: save_picture(picture, path))

        self._dialogs.ask_target(
            self.tr("Save the plot"),
            f"{_stem(entry)}.png",
            list(PICTURE_FILTERS),
            lambda paths: write(paths[0]),
        )

    def save_view(self, seen: SeenView, view: str) -> None:
        """Write what is to be seen of the tube looked at as PNG, SVG or PDF."""
        entry = self._lot.session.current
        if entry is None:
            return

        def write(path: Path) -> None:
            self._run(path, lambda *_: save_view(seen, path))

        self._dialogs.ask_target(
            self.tr("Save the plot"),
            f"{_stem(entry)}-{view.replace(' ', '-')}.png",
            list(PICTURE_FILTERS),
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

    def _write_sheets(self, entries: Sequence[Entry], targets: Sequence[Path], told: Path) -> None:
        document_of = self._lot.session.fresh_document

        def work(
            progress: Callable[[int, int, str], None], should_stop: Callable[[], bool]
        ) -> bool:
            for done, (entry, path) in enumerate(zip(entries, targets, strict=True), 1):
                if should_stop():
                    return False
                save_sheet(document_of(entry), path)
                progress(done, len(entries), path.name)
            return True

        self._run(told, work)

    def _write_one_file(self, entries: Sequence[Entry], path: Path) -> None:
        document_of = self._lot.session.fresh_document

        def work(
            progress: Callable[[int, int, str], None], should_stop: Callable[[], bool]
        ) -> bool:
            def painted(done: int) -> bool:
                progress(done, len(entries), path.name)
                return not should_stop()

            return save_sheets_pdf(map(document_of, entries), path, painted=painted)

        self._run(path, work, stopped=self.tr("Stopped; no file was written."))

    def _run(
        self,
        target: Path,
        work: Work,
        finished: Callable[[object], None] = lambda _: None,
        stopped: str = "",
    ) -> None:
        def receive(outcome: object) -> None:
            if isinstance(outcome, Failure):
                name, reason = target.name, outcome.reason
                self._lot.report(Problem(ProblemKind.ERROR, name, None, reason, outcome.details))
                self.told.emit(reason)
            elif outcome is False:
                self.told.emit(stopped or self.tr("Stopped; what was done so far is kept."))
            else:
                self.told.emit(self.tr("Saved {0}").format(target))
                finished(outcome)

        self._tasks.start(work, receive, owed=True)


def _targets(entries: Sequence[Entry], folder: Path, kind: SheetKind) -> list[Path]:
    """Return a file name for each sheet, no two the same."""
    targets, used = [], set[str]()
    for entry in entries:
        used.add(stem := _stem(entry, used))
        targets.append(folder / f"{stem}{kind}")
    return targets


def _stem(entry: Entry, used: set[str] | frozenset[str] = frozenset()) -> str:
    sweep = entry.assessment.sweep
    return safe_file_stem(sweep.tube, sweep.section, used)
