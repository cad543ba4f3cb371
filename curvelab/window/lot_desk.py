"""What a person does to tubes and lot files by menu: asks for what is needed, passes it on."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QObject
from PySide6.QtGui import QAction
from PySide6.QtWidgets import QDialog, QWidget

from curvelab.catalog.records import Overrule, TubeIdentity
from curvelab.window.action_list import ActionList
from curvelab.window.actions import Actions
from curvelab.window.files import FileDialogs
from curvelab.window.hand_test_dialog import HandTestDialog
from curvelab.window.house_dialog import HouseDialog
from curvelab.window.lot import LOT_SUFFIX, Lot
from curvelab.window.overrule_dialog import OverruleDialog
from curvelab.window.settings import Settings
from curvelab.workbench.lot_records import ByHand

__all__ = ["LotDesk"]


class LotDesk(QObject):
    """Joins the actions on lot files, verdicts and fields with the lot."""

    def __init__(
        self,
        window: QWidget,
        lot: Lot,
        actions: Actions,
        dialogs: FileDialogs,
        settings: Settings,
    ) -> None:
        super().__init__(window)
        self._window, self._lot, self._actions = window, lot, actions
        self._dialogs, self._settings = dialogs, settings
        stack = lot.undo_stack
        for action, intent in (
            (actions.new_lot, self._new_lot),
            (actions.open_lot, self._open_lot),
            (actions.close_lot, lambda: lot.keep(None)),
            (actions.file_loose, lot.file.file_loose),
            (actions.overrule, self._overrule),
            (actions.house, self._ask_house),
            (actions.hand_test, self._ask_hand_test),
            (actions.undo, stack.undo),
            (actions.redo, stack.redo),
            (actions.all_actions, self._list_actions),
        ):
            action.triggered.connect(intent)
        self._plain = {action: action.text() for action in (actions.undo, actions.redo)}
        stack.indexChanged.connect(self._enable)
        for changed in (
            lot.tubes_changed, lot.chosen_changed, lot.lines_chosen, lot.lot_file_changed,
        ):  # fmt: skip
            changed.connect(self._enable)
        self._enable()

    def _enable(self) -> None:
        lot, actions, stack = self._lot, self._actions, self._lot.undo_stack
        kept = lot.kept
        writable = kept is not None and not kept.newer
        actions.close_lot.setEnabled(kept is not None)
        actions.file_loose.setEnabled(writable and bool(lot.loose))
        tubes = lot.chosen_tubes
        for action in (actions.remove, actions.copy_rows):
            action.setEnabled(bool(lot.chosen_rows))
        loose = any(key > 0 for key in lot.chosen_rows)
        actions.overrule.setEnabled(loose or (writable and bool(tubes)))
        for action in (actions.house, actions.hand_test):
            action.setEnabled(writable and len(tubes) == 1)
        self._say(actions.undo, stack.canUndo(), stack.undoText())
        self._say(actions.redo, stack.canRedo(), stack.redoText())

    def _say(self, action: QAction, possible: bool, what: str) -> None:
        action.setEnabled(possible)
        plain = self._plain[action]
        action.setText(f"{plain}: {what}" if what else plain)

    def _new_lot(self) -> None:
        def take(paths: list[Path]) -> None:
            self._lot.file.create(paths[0])

        name = f"{self.tr('lot')}{LOT_SUFFIX}"
        filters = [self.tr("Lot files (*{0})").format(LOT_SUFFIX)]
        self._dialogs.ask_target(self.tr("New lot file"), name, filters, take)

    def _open_lot(self) -> None:
        filters = [self.tr("Lot files (*{0})").format(LOT_SUFFIX), self.tr("All files (*)")]
        self._dialogs.ask_file(
            self.tr("Open a lot file"), filters, lambda paths: self._lot.file.open(paths[0])
        )

    def _overrule(self) -> None:
        rows = [row for row in self._lot.rows if row.key in set(self._lot.chosen_rows)]
        if not rows:
            return
        many = self.tr("{0} tubes").format(len(rows))
        dialog = OverruleDialog(
            rows[0].title if len(rows) == 1 else many,
            rows[0].verdict,
            self._settings.person,
            self._window,
        )
        dialog.overruled.connect(self._take_overrule)
        _open(dialog)

    def _take_overrule(self, overrule: Overrule) -> None:
        self._settings.person = overrule.person
        self._lot.overrule(overrule)

    def _ask_house(self) -> None:
        tubes = self._lot.chosen_tubes
        if len(tubes) != 1:
            return
        tube = tubes[0]

        def take(identity: TubeIdentity) -> None:
            words = self.tr("fields of {0}").format(identity.serial)
            self._lot.file.change_identity(tube, identity, words)

        dialog = HouseDialog(tube.identity, self._window)
        dialog.changed.connect(take)
        _open(dialog)

    def _ask_hand_test(self) -> None:
        tubes = self._lot.chosen_tubes
        if len(tubes) != 1:
            return
        tube = tubes[0]

        def take(entered: ByHand) -> None:
            words = self.tr("hand test of {0}").format(tube.identity.serial)
            self._lot.file.enter_hand_test(tube, entered, words)

        dialog = HandTestDialog(tube, self._window)
        dialog.entered.connect(take)
        _open(dialog)

    def _list_actions(self) -> None:
        _open(ActionList(self._window.actions(), self._window))


def _open(dialog: QDialog) -> None:
    dialog.finished.connect(dialog.deleteLater)
    dialog.open()
