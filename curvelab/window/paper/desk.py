"""The papers of a lot: asked for, gathered and written beside the window."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QDialog
from shiboken6 import isValid

from curvelab.catalog.records import Claim
from curvelab.drawing.export import save_labels_pdf
from curvelab.errors import CurvelabError
from curvelab.sheets.claims_table import claims_table
from curvelab.sheets.label import LabelDocument, LabelPrint
from curvelab.sheets.output import write_output
from curvelab.sheets.paged import PagedDocument
from curvelab.sheets.spreadsheet import table_csv
from curvelab.window.around import Around
from curvelab.window.paper.about import ALL, About
from curvelab.window.paper.claims_dialog import ClaimsDialog
from curvelab.window.paper.label_dialog import LabelDialog
from curvelab.window.paper.paper_dialog import PaperDialog
from curvelab.window.paper.writing import (
    listing_words,
    report_pages,
    set_pages,
    write_listings,
    write_report,
    write_set_sheets,
)
from curvelab.window.tasks import Failure, Work
from curvelab.workbench.lot_documents import label_sheets, labels_of_lot
from curvelab.workbench.lot_paper import LotPaper, gather_lot
from curvelab.workbench.lot_upkeep import list_claims
from curvelab.workbench.session import Problem, ProblemKind

if TYPE_CHECKING:
    from PySide6.QtPrintSupport import QPrinter

__all__ = ["PaperDesk"]

Pages = Callable[
    [Path, About, Callable[[int, int, str], None], Callable[[], bool]], tuple[PagedDocument, ...]
]

_REPORT_KINDS = ["PDF (*.pdf)", "Workbook (*.xlsx)", "CSV (*.csv)"]


class PaperDesk(QObject):
    """Asks what is wanted on paper and has it written; ``told`` says what came of it."""

    told = Signal(str)

    def __init__(self, around: Around) -> None:
        super().__init__(around.window)
        self._around, self._lot, self._dialogs = around, around.lot, around.dialogs

    def ask_report(self) -> None:
        """Ask what the report is about and where it goes, then write it."""
        self._ask(self.tr("Report of the lot"), self._report, pages=report_pages)

    def _report(self, about: About) -> None:
        name = f"{self._path.stem}-report.pdf"
        self._ask_target(self.tr("Save the report"), name, _REPORT_KINDS, about, write_report)

    def ask_set_sheets(self, about: About = ALL) -> None:
        """Write the sheets of some sets, or of all that the lot file keeps."""
        self._ask(self.tr("Sheets of the sets"), self._set_sheets, about, pages=set_pages)

    def _set_sheets(self, about: About) -> None:
        name = f"{self._path.stem}-sets.pdf"
        self._ask_target(
            self.tr("Save the sheets of the sets"), name, ["PDF (*.pdf)"], about, write_set_sheets
        )

    def ask_listings(self) -> None:
        """Write text and picture for a shop, of each set and each other tube."""
        self._ask(self.tr("Listings for a shop"), self._listings)

    def _listings(self, about: About) -> None:
        path = self._path
        self._dialogs.ask_folder(
            self.tr("Save listings into"),
            lambda paths: self._run(
                paths[0], lambda *hooks: write_listings(path, about, paths[0], *hooks)
            ),
        )

    def copy_listing(self) -> None:
        """Put the text of the listing of the tube looked at on the clipboard."""
        tubes, path = self._lot.chosen_tubes, self._path
        about = About(serials=(tubes[0].identity.serial,))

        def receive(outcome: object) -> None:
            if isinstance(outcome, Failure):
                self._fail(path, outcome)
            elif isinstance(outcome, str):
                QGuiApplication.clipboard().setText(outcome)
                self.told.emit(self.tr("Copied the listing of {0}").format(about.serials[0]))

        self._around.tasks.start(lambda *hooks: listing_words(path, about, *hooks), receive)

    def ask_labels(self) -> None:
        """Ask which tubes get labels, gather them, and show how they lie on their sheets."""
        self._ask(self.tr("Labels"), self._labels)

    def _labels(self, about: About) -> None:
        path = self._path

        def receive(outcome: object) -> None:
            if isinstance(outcome, Failure):
                self._fail(path, outcome)
            elif isinstance(outcome, LotPaper) and outcome.stopped:
                self.told.emit(self.tr("Stopped; no label was made."))
            elif isinstance(outcome, LotPaper):
                self._show_labels(outcome)

        self._around.tasks.start(lambda *hooks: gather_lot(path, about.wanted, *hooks), receive)

    def _show_labels(self, paper: LotPaper) -> None:
        try:
            sheets = label_sheets()
        except CurvelabError as error:
            self._fail(Path("label_sheets.toml"), Failure(str(error)))
            return
        dialog = LabelDialog(sheets, self._around.window)
        newest: list[LabelPrint] = []

        def make(wanted: LabelPrint) -> None:
            newest[:] = [wanted]

            def receive(outcome: object) -> None:
                if not isValid(dialog) or newest != [wanted]:  # closed, or wanted otherwise since
                    return
                if isinstance(outcome, Failure):
                    dialog.refuse(outcome.reason)
                elif isinstance(outcome, LabelDocument):
                    dialog.show_document(outcome)

            self._lot.file.start(lambda *_: labels_of_lot(paper, wanted), receive)

        dialog.changed.connect(make)
        dialog.save_wanted.connect(lambda document: self._save_labels(paper.name, document))
        dialog.print_wanted.connect(self._print_labels)
        dialog.finished.connect(dialog.deleteLater)
        dialog.show()
        dialog.begin()

    def _save_labels(self, name: str, document: LabelDocument) -> None:
        def write(path: Path) -> None:
            self._run(path, lambda *_: save_labels_pdf(document, path))

        self._dialogs.ask_target(
            self.tr("Save the labels"),
            f"{name}-labels.pdf",
            ["PDF (*.pdf)"],
            lambda paths: write(paths[0]),
        )

    def _print_labels(self, document: LabelDocument) -> None:
        # Imported here: few print, and every start would wait for it.
        from curvelab.window.printing import ask_printer, print_labels  # noqa: PLC0415

        def start(printer: QPrinter) -> None:
            def receive(outcome: object) -> None:
                sent = self.tr("Sent to the printer")
                self.told.emit(outcome.reason if isinstance(outcome, Failure) else sent)

            self._around.tasks.start(lambda *_: print_labels(printer, document), receive, owed=True)

        ask_printer(self._around.window, document.title, start)

    def show_claims(self) -> None:
        """List the rejects with what is to be said to their suppliers."""
        path = self._path

        def receive(outcome: object) -> None:
            if isinstance(outcome, Failure):
                self._fail(path, outcome)
            elif isinstance(outcome, tuple):
                self._show_claims(path.stem, outcome)

        self._lot.file.start(lambda *_: list_claims(path, date.today()), receive)

    def _show_claims(self, name: str, claims: tuple[Claim, ...]) -> None:
        dialog = ClaimsDialog(claims, self._around.window)
        dialog.save_wanted.connect(lambda shown: self._save_claims(name, shown))
        dialog.tube_wanted.connect(lambda serial: self._lot.choose_called([serial]))
        dialog.finished.connect(dialog.deleteLater)
        dialog.show()

    def _save_claims(self, name: str, claims: tuple[Claim, ...]) -> None:
        def write(path: Path) -> None:
            text = table_csv(claims_table(claims))
            self._run(path, lambda *_: write_output(path, text.encode("utf-8")))

        self._dialogs.ask_target(
            self.tr("Save the claims"),
            f"{name}-claims.csv",
            ["CSV (*.csv)"],
            lambda paths: write(paths[0]),
        )

    @property
    def _path(self) -> Path:
        kept = self._lot.kept
        assert kept is not None  # the actions are possible only then
        return kept.path

    def _ask(
        self,
        title: str,
        then: Callable[[About], None],
        about: About = ALL,
        pages: Pages | None = None,
    ) -> None:
        """Ask what a paper is about; one that has ``pages`` can be printed at once."""
        chosen = [tube.identity.serial for tube in self._lot.chosen_tubes]
        window = self._around.window
        dialog = PaperDialog(title, chosen, about, paged=pages is not None, parent=window)
        dialog.settled.connect(then)
        if pages is not None:
            dialog.print_wanted.connect(lambda about: self._print(title, about, pages))
        _open(dialog)

    def _print(self, title: str, about: About, pages: Pages) -> None:
        # Imported here: few print, and every start would wait for it.
        from curvelab.window.printing import ask_printer, print_pages  # noqa: PLC0415

        path = self._path

        def start(printer: QPrinter) -> None:
            def work(
                progress: Callable[[int, int, str], None], should_stop: Callable[[], bool]
            ) -> bool:
                found = pages(path, about, progress, should_stop)
                if found:
                    print_pages(printer, found)
                return bool(found)

            def receive(outcome: object) -> None:
                if isinstance(outcome, Failure):
                    self._fail(path, outcome)
                else:
                    sent, stopped = self.tr("Sent to the printer"), self.tr("Printing was stopped")
                    self.told.emit(sent if outcome else stopped)

            self._around.tasks.start(work, receive, owed=True)

        ask_printer(self._around.window, title, start)

    def _ask_target(
        self,
        title: str,
        name: str,
        kinds: list[str],
        about: About,
        write: Callable[..., bool],
    ) -> None:
        path = self._path
        self._dialogs.ask_target(
            title,
            name,
            kinds,
            lambda paths: self._run(paths[0], lambda *hooks: write(path, about, paths[0], *hooks)),
        )

    def _run(self, target: Path, work: Work) -> None:
        def receive(outcome: object) -> None:
            if isinstance(outcome, Failure):
                self._fail(target, outcome)
            elif outcome is False:
                self.told.emit(self.tr("Stopped before all of it was written."))
            else:
                self.told.emit(self.tr("Saved {0}").format(target))

        self._around.tasks.start(work, receive, owed=True)

    def _fail(self, path: Path, failure: Failure) -> None:
        self._lot.report(
            Problem(ProblemKind.ERROR, path.name, None, failure.reason, failure.details)
        )
        self.told.emit(failure.reason)


def _open(dialog: QDialog) -> None:
    dialog.finished.connect(dialog.deleteLater)
    dialog.open()
