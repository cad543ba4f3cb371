"""Every action of the window in one list that can be searched, and carried out from there."""

from __future__ import annotations

from collections.abc import Iterable

from PySide6.QtCore import QEvent, QObject, Qt
from PySide6.QtGui import QAction, QKeyEvent, QKeySequence
from PySide6.QtWidgets import (
    QAbstractItemView,
    QDialog,
    QDialogButtonBox,
    QLineEdit,
    QTableView,
    QVBoxLayout,
    QWidget,
)

from curvelab.window.record_table import Column, RecordTable

__all__ = ["ActionList", "words_of"]

_STEPS = (Qt.Key.Key_Up, Qt.Key.Key_Down, Qt.Key.Key_PageUp, Qt.Key.Key_PageDown)


def words_of(action: QAction) -> str:
    """Return the text of an action as it is read."""
    return action.text().replace("&", "").rstrip("…")


class ActionList(QDialog):
    """Shows the actions with their keys; Enter or a double click does one."""

    def __init__(self, actions: Iterable[QAction], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle(self.tr("All actions"))
        self.field = QLineEdit()
        self.field.setPlaceholderText(self.tr("Search: part of a word, or of a key"))
        self.field.setAccessibleName(self.tr("Search the actions"))
        self.field.setClearButtonEnabled(True)
        self._model: RecordTable[QAction] = RecordTable(self)
        self._model.show(self._columns(), [one for one in actions if one.text()])
        self.view = QTableView()
        self.view.setModel(self._model)
        self.view.setAccessibleName(self.tr("Actions with their keys"))
        self.view.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.view.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.view.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.view.setTabKeyNavigation(False)
        self.view.setShowGrid(False)
        self.view.verticalHeader().hide()
        self.view.verticalHeader().setDefaultSectionSize(self.fontMetrics().height() + 8)
        self.view.resizeColumnsToContents()
        self.view.horizontalHeader().setStretchLastSection(True)
        box = QDialogButtonBox(QDialogButtonBox.StandardButton.Close)
        self.button = box.addButton(self.tr("&Do it"), QDialogButtonBox.ButtonRole.AcceptRole)
        box.accepted.connect(self._do)
        box.rejected.connect(self.reject)
        layout = QVBoxLayout(self)
        layout.addWidget(self.field)
        layout.addWidget(self.view, 1)
        layout.addWidget(box)
        box.button(QDialogButtonBox.StandardButton.Close).setAutoDefault(False)
        self.button.setDefault(True)  # once it is in the dialog, whose Enter it takes
        self.field.textChanged.connect(self._filter)
        self.field.installEventFilter(self)
        self.view.doubleClicked.connect(self._do)
        self.view.activated.connect(self._do)
        self.view.selectionModel().currentChanged.connect(self._enable)
        self.field.setFocus()
        self._filter("")
        self.resize(560, 480)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:  # noqa: N802
        """Let the arrow keys walk along the list while a person types."""
        if watched is self.field and isinstance(event, QKeyEvent):
            pressed = event.type() is QEvent.Type.KeyPress
            if pressed and Qt.Key(event.key()) in _STEPS:
                self.view.keyPressEvent(event)
                return True
        return super().eventFilter(watched, event)

    def _columns(self) -> list[Column[QAction]]:
        return [
            Column(self.tr("action"), words_of, bold=True),
            Column(self.tr("keys"), _keys),
            Column(self.tr("now"), self._state),
        ]

    def _state(self, action: QAction) -> str:
        if not action.isEnabled():
            return self.tr("not possible now")
        return self.tr("on") if action.isCheckable() and action.isChecked() else ""

    def _filter(self, text: str) -> None:
        words = text.casefold().split()

        def wanted(action: QAction) -> bool:
            said = f"{words_of(action)} {_keys(action)}".casefold()
            return all(word in said for word in words)

        self._model.keep_only(wanted)
        if self._model.rowCount():
            self.view.selectRow(0)
        self._enable()

    def _enable(self) -> None:
        action = self._chosen()
        self.button.setEnabled(action is not None and action.isEnabled())

    def _chosen(self) -> QAction | None:
        index = self.view.currentIndex()
        return self._model.record(index.row()) if index.isValid() else None

    def _do(self) -> None:
        action = self._chosen()
        if action is not None and action.isEnabled():
            self.accept()
            action.trigger()


def _keys(action: QAction) -> str:
    return action.shortcut().toString(QKeySequence.SequenceFormat.NativeText)
