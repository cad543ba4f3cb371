"""The bench description in force: chosen among those kept, or kept from what is looked at."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QSignalBlocker, Signal
from PySide6.QtWidgets import QComboBox, QHBoxLayout, QLabel, QPushButton, QWidget

from curvelab.errors import CurvelabError
from curvelab.sheets.text import plain
from curvelab.window.lot import Lot
from curvelab.workbench.kept_benches import kept_benches

__all__ = ["BenchBox"]


class BenchBox(QWidget):
    """Says which description the next files are read with; ``changed`` when it is another."""

    changed = Signal()
    keep_wanted = Signal()

    def __init__(self, lot: Lot, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._lot = lot
        self.box = QComboBox()
        self.box.setAccessibleName(self.tr("Bench description"))
        self.box.setMinimumContentsLength(24)
        self.box.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToContents)
        label = QLabel(self.tr("&Bench description"))
        label.setBuddy(self.box)
        self.keep_button = QPushButton(self.tr("&Keep this way of reading…"))
        self.keep_button.setToolTip(
            self.tr("Keep how the file looked at is read, by a name, for the files to come")
        )
        self._said = QLabel()
        line = QHBoxLayout(self)
        line.setContentsMargins(0, 0, 0, 0)
        for part in (label, self.box, self.keep_button):
            line.addWidget(part)
        line.addWidget(self._said, 1)
        self.box.activated.connect(self._use)
        self.keep_button.clicked.connect(self.keep_wanted)
        lot.intake_changed.connect(self.refresh)
        self.refresh()

    def refresh(self) -> None:
        """Show the descriptions there are now, and the one in force."""
        with QSignalBlocker(self.box):
            self.box.clear()
            self.box.addItem(self.tr("none: each file speaks for itself"), None)
            for kept in kept_benches():
                self.box.addItem(plain(kept.name), kept.path)
            self._add_foreign()
            self.box.setCurrentIndex(max(0, self._place(self._lot.intake.bench)))

    def _add_foreign(self) -> None:
        """Show a description from elsewhere too, as the command line may name one."""
        bench = self._lot.intake.bench
        if bench is not None and self._place(bench) < 0:
            self.box.addItem(plain(bench.name), bench)

    def _place(self, bench: Path | None) -> int:
        return next((at for at in range(self.box.count()) if self.box.itemData(at) == bench), -1)

    def _use(self, at: int) -> None:
        try:
            self._lot.use_bench(self.box.itemData(at))
        except CurvelabError as error:
            self._said.setText(plain(str(error)))
            self.refresh()
            return
        self._said.clear()
        self.changed.emit()
