"""The check of the bench in the window: run beside it, and decided by a person."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import QObject, Signal
from PySide6.QtGui import QKeySequence, QShortcut

from curvelab.errors import CurvelabError
from curvelab.sheets.text import plain
from curvelab.window.around import Around
from curvelab.window.bench.check_dialog import CheckDialog
from curvelab.window.bench.decision_dialog import DecisionDialog
from curvelab.window.help.help_window import open_help
from curvelab.window.tasks import Failure
from curvelab.workbench.lot_bench import (
    KeptCheck,
    accept_last,
    check_for_lot,
    corrections_of_lot,
    refuse_last,
    withdraw,
)

__all__ = ["BenchDesk"]

Decide = Callable[[Path, Path | None, str, str], object]


class BenchDesk(QObject):
    """Joins the dialog with the lot file; ``told`` says what came of it."""

    told = Signal(str)

    def __init__(self, around: Around) -> None:
        super().__init__(around.window)
        self._around, self._lot = around, around.lot
        self._dialog: CheckDialog | None = None
        self._running = False
        around.lot.lot_file_changed.connect(self._change_lot)
        around.lot.intake_changed.connect(self._change_lot)

    @property
    def dialog(self) -> CheckDialog:
        """The dialog, made when it is first wanted."""
        if self._dialog is None:
            around = self._around
            self._dialog = dialog = CheckDialog(around.theme, around.dialogs, around.window)
            dialog.check_wanted.connect(self._check)
            dialog.accept_wanted.connect(self._ask_accept)
            dialog.refuse_wanted.connect(self._ask_refuse)
            dialog.withdraw_wanted.connect(self._ask_withdraw)
            dialog.form.changed.connect(self._enable)
            key = QShortcut(QKeySequence.StandardKey.HelpContents, dialog)
            key.activated.connect(self._help)
        return self._dialog

    def show(self) -> None:
        """Show the dialog beside the window."""
        self.dialog.show()
        self.dialog.raise_()
        self.dialog.activateWindow()
        self._read_in_force()
        self._enable()

    def _help(self) -> None:
        open_help(self._around.window, self._around.actions.listed(), "bench-check")

    def _check(self) -> None:
        kept = self._lot.kept
        if kept is None:
            return
        try:
            request = self.dialog.form.request(self._lot.intake.bench)
        except CurvelabError as error:
            self.dialog.say(str(error))
            return

        def receive(outcome: object) -> None:
            self._running = False
            self._enable()
            if isinstance(outcome, Failure):
                self._fail(outcome)
            elif isinstance(outcome, KeptCheck):
                self.dialog.show_check(outcome.result.check)
                standing = outcome.result.check.standing.value
                self.told.emit(self.tr("Check of the bench: {0}").format(standing))

        self._running = True
        self._enable()
        self.dialog.say(self.tr("Checking…"))
        self._around.tasks.start(
            lambda progress, should_stop: check_for_lot(
                kept.path, request, progress=progress, should_stop=should_stop
            ),
            receive,
            owed=True,
        )

    def _ask_accept(self) -> None:
        words = self.tr(
            "{0}\nWhat is filed from now on is corrected by it, says so, and has a wider "
            "uncertainty. What is filed already stays as it is."
        ).format(self.dialog.suggested.text())
        self._ask(
            self.tr("Accept"),
            words,
            lambda path, bench, person, _: accept_last(path, bench, person),
            self.tr("Accepted by {0}."),
        )

    def _ask_refuse(self) -> None:
        words = self.tr("{0}\nNothing is corrected; the lot file keeps that you refused it.")
        self._ask(
            self.tr("Refuse"),
            words.format(self.dialog.suggested.text()),
            refuse_last,
            self.tr("Refused by {0}: {1}"),
            noted=True,
        )

    def _ask_withdraw(self) -> None:
        words = self.tr(
            "{0}\nWhat is filed from now on is not corrected. What was filed with it stays as it "
            "is. Check the bench again afterwards."
        )
        self._ask(
            self.tr("Withdraw"),
            words.format(self.dialog.in_force.text()),
            lambda path, bench, person, _: withdraw(path, bench, person),
            self.tr("Withdrawn by {0}."),
        )

    def _ask(
        self, title: str, words: str, decide: Decide, done: str, *, noted: bool = False
    ) -> None:
        settings = self._around.settings
        dialog = DecisionDialog(title, words, settings.person, noted=noted, parent=self.dialog)

        def take(person: str, note: str) -> None:
            settings.person = person
            self._decide(decide, person, note, done)

        dialog.decided.connect(take)
        dialog.finished.connect(dialog.deleteLater)
        dialog.open()

    def _decide(self, decide: Decide, person: str, note: str, done: str) -> None:
        kept, bench = self._lot.kept, self._lot.intake.bench
        if kept is None:
            return

        def receive(outcome: object) -> None:
            if isinstance(outcome, Failure):
                self._fail(outcome)
            else:
                self.dialog.show_decided(done.format(plain(person), plain(note)))
                self._read_in_force()

        self._lot.file.start(lambda *_: decide(kept.path, bench, person, note), receive)

    def _read_in_force(self) -> None:
        kept, bench = self._lot.kept, self._lot.intake.bench
        if kept is None:
            self.dialog.show_in_force(())
            return

        def receive(outcome: object) -> None:
            if isinstance(outcome, Failure):
                self._fail(outcome)
            elif isinstance(outcome, tuple):
                self.dialog.show_in_force(outcome)

        self._lot.file.start(lambda *_: corrections_of_lot(kept.path, bench), receive)

    def _fail(self, failure: Failure) -> None:
        self.dialog.say(failure.reason)
        if failure.details:
            self._lot.note_failure(self.tr("check of the bench"), failure)

    def _change_lot(self) -> None:
        """Begin anew with another lot file or bench; without a lot file there is no history."""
        kept = self._lot.kept
        if self._dialog is None:
            return
        self._dialog.show_check(None)
        if kept is None:
            self._dialog.close()
        elif self._dialog.isVisible():
            self._read_in_force()

    def _enable(self) -> None:
        form = self.dialog.form
        form.check.setEnabled(form.measured and not self._running)
