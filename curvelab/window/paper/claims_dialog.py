"""The rejects with what is to be said to their suppliers, the most pressing first."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Signal
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import (
    QComboBox,
    QDialog,
    QDialogButtonBox,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QTableView,
    QVBoxLayout,
    QWidget,
)

from curvelab.catalog.records import Claim
from curvelab.sheets.text import plain
from curvelab.window.record_table import Column, RecordTable, copied_rows, record_view
from curvelab.window.room import open_as_large

__all__ = ["ClaimsDialog"]

_SIZE = (900, 480)
_LAST = float("inf")


class ClaimsDialog(QDialog):
    """Lists claims, of one supplier or of all; says which are to be saved.

    Signals
    -------
    save_wanted : tuple of Claim
    tube_wanted : str
        Look at a tube, by its serial.
    """

    save_wanted = Signal(object)
    tube_wanted = Signal(str)

    def __init__(self, claims: Sequence[Claim], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle(self.tr("Claims against suppliers"))
        self._claims = tuple(claims)
        self.supplier = QComboBox()
        self.supplier.addItem(self.tr("all suppliers"), None)
        for name in sorted({claim.tube.supplier or "" for claim in self._claims}):
            self.supplier.addItem(plain(name) or self.tr("none named"), name)
        self.view: QTableView
        self.model: RecordTable[Claim]
        self.view, self.model = record_view(self.tr("Rejects with the reasons"), self)
        self.count = QLabel()
        self.copy = QPushButton(self.tr("&Copy"))
        self.save = QPushButton(self.tr("&Save as CSV…"))
        box = QDialogButtonBox(QDialogButtonBox.StandardButton.Close)
        for button in (self.copy, self.save):
            box.addButton(button, QDialogButtonBox.ButtonRole.ActionRole)
        label = QLabel(self.tr("Su&pplier"))
        label.setBuddy(self.supplier)
        self.supplier.setAccessibleName(self.tr("Supplier"))
        line = QHBoxLayout()
        line.addWidget(label)
        line.addWidget(self.supplier)
        line.addWidget(self.count, 1)
        layout = QVBoxLayout(self)
        layout.addLayout(line)
        layout.addWidget(self.view, 1)
        layout.addWidget(box)
        self.supplier.currentIndexChanged.connect(self._show)
        self.copy.clicked.connect(self._copy)
        self.save.clicked.connect(lambda: self.save_wanted.emit(self.shown))
        self.view.activated.connect(
            lambda index: self.tube_wanted.emit(self.model.record(index.row()).tube.serial)
        )
        box.rejected.connect(self.reject)
        self._show()
        open_as_large(self, *_SIZE)

    @property
    def shown(self) -> tuple[Claim, ...]:
        """The claims of the supplier that is picked."""
        wanted = self.supplier.currentData()
        return tuple(claim for claim in self._claims if wanted in (None, claim.tube.supplier or ""))

    def _show(self) -> None:
        shown = self.shown
        self.model.show(self._columns(), shown)
        self.view.resizeColumnsToContents()
        self.view.verticalHeader().setDefaultSectionSize(self.view.fontMetrics().height() + 8)
        one, many = self.tr("1 reject"), self.tr("{0} rejects")
        self.count.setText(one if len(shown) == 1 else many.format(len(shown)))
        for button in (self.copy, self.save):
            button.setEnabled(bool(shown))

    def _copy(self) -> None:
        if not self.view.selectionModel().hasSelection():
            self.view.selectAll()
        QGuiApplication.clipboard().setText(copied_rows(self.view))

    def _columns(self) -> list[Column[Claim]]:
        return [
            Column(self.tr("tube"), lambda claim: plain(claim.tube.serial), bold=True),
            Column(self.tr("type"), lambda claim: plain(claim.tube.type_label or "")),
            Column(self.tr("supplier"), lambda claim: plain(claim.tube.supplier or "")),
            Column(
                self.tr("cost"),
                lambda claim: "" if claim.cost is None else f"{claim.cost}",
                sort=lambda claim: _LAST if claim.cost is None else float(claim.cost),
                number=True,
            ),
            Column(
                self.tr("days left"),
                lambda claim: "" if claim.days_left is None else f"{claim.days_left}",
                sort=lambda claim: _LAST if claim.days_left is None else claim.days_left,
                number=True,
                explained=self.tr("to return it; less than nothing once the time is over"),
            ),
            Column(self.tr("because"), _reasons, tip=_reasons),
        ]


def _reasons(claim: Claim) -> str:
    return plain(" ".join(claim.reasons))
