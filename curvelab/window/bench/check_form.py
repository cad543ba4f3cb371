"""What was measured before a batch: golden tubes, a resistor, an empty socket."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QDoubleSpinBox,
    QGridLayout,
    QGroupBox,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QListWidget,
    QListWidgetItem,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from curvelab.bench_check.empty_socket import EMPTY_SOCKET_CAUTION
from curvelab.bench_check.resistor import RESISTOR_CAUTION, ResistorStandard
from curvelab.window.files import FileDialogs
from curvelab.workbench.bench_check import CheckRequest

__all__ = ["CheckForm"]


class CheckForm(QWidget):
    """Asks for the sweeps; says when there is one, and when a check is wanted."""

    changed = Signal()
    wanted = Signal()

    def __init__(self, dialogs: FileDialogs, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._dialogs = dialogs
        self.golden = QListWidget()
        self.golden.setAccessibleName(self.tr("Sweeps of the golden tubes"))
        self.golden.setSelectionMode(QListWidget.SelectionMode.ExtendedSelection)
        self.add = QPushButton(self.tr("&Add…"))
        self.remove = QPushButton(self.tr("&Remove"))
        self.resistor = self._file_field(self.tr("Sweep of the resistor"))
        self.socket = self._file_field(self.tr("Sweep of the empty socket"))
        self.ohm = self._spin(self.tr("Resistance"), (0.001, 10_000.0), 10.0, " kohm")
        self.tolerance = self._spin(self.tr("Its tolerance"), (0.0, 49.0), 1.0, " %")
        self.watt = self._spin(self.tr("Its rated power"), (0.1, 1000.0), 10.0, " W")
        self.check = QPushButton(self.tr("&Check the bench"))
        self.check.setDefault(True)
        for button in (self.add, self.remove):
            button.setAutoDefault(False)
        self._lay_out()
        self.add.clicked.connect(self._ask_golden)
        self.remove.clicked.connect(self._remove)
        self.golden.itemSelectionChanged.connect(self._enable)
        self.check.clicked.connect(self.wanted)
        self._enable()

    def request(self, bench: Path | None) -> CheckRequest:
        """Return what is to be checked on a bench, as measured now.

        Raises
        ------
        BenchCheckError
            If what is said of the resistor makes no sense.
        """
        resistor, socket = self.resistor.text().strip(), self.socket.text().strip()
        standard = ResistorStandard(
            self.ohm.value() * 1e3, self.tolerance.value() / 100, self.watt.value()
        )
        return CheckRequest(
            date=datetime.now(UTC).isoformat(timespec="seconds"),
            golden=tuple(self.golden_paths),
            resistor=Path(resistor) if resistor else None,
            standard=standard if resistor else None,
            empty_socket=Path(socket) if socket else None,
            bench=bench,
        )

    @property
    def golden_paths(self) -> list[Path]:
        """The sweeps of the golden tubes."""
        items = (self.golden.item(row) for row in range(self.golden.count()))
        return [Path(item.data(Qt.ItemDataRole.UserRole)) for item in items]

    @property
    def measured(self) -> bool:
        """Whether there is anything to check by."""
        return bool(self.golden_paths or self.resistor.text() or self.socket.text())

    def take_golden(self, paths: list[Path]) -> None:
        """Add sweeps of golden tubes, each once."""
        here = set(self.golden_paths)
        for path in paths:
            if path not in here:
                item = QListWidgetItem(path.name)
                item.setData(Qt.ItemDataRole.UserRole, str(path))
                item.setToolTip(str(path))
                self.golden.addItem(item)
                here.add(path)
        self._enable()

    def _ask_golden(self) -> None:
        self._dialogs.ask_some(
            self.tr("Sweeps of the golden tubes"), self._filters(), self.take_golden
        )

    def _remove(self) -> None:
        for item in self.golden.selectedItems():
            self.golden.takeItem(self.golden.row(item))
        self._enable()

    def _filters(self) -> list[str]:
        return [self.tr("Sweep files (*.csv *.tsv *.txt)"), self.tr("All files (*)")]

    def _file_field(self, name: str) -> QLineEdit:
        field = QLineEdit()
        field.setAccessibleName(name)
        field.setPlaceholderText(self.tr("not measured"))
        field.setClearButtonEnabled(True)
        field.textChanged.connect(self._enable)
        return field

    def _spin(
        self, name: str, bounds: tuple[float, float], value: float, unit: str
    ) -> QDoubleSpinBox:
        box = QDoubleSpinBox()
        box.setRange(*bounds)
        box.setDecimals(3)
        box.setSuffix(unit)
        box.setValue(value)
        box.setAccessibleName(name)
        return box

    def _enable(self) -> None:
        if not hasattr(self, "check"):
            return
        self.remove.setEnabled(bool(self.golden.selectedItems()))
        for box in (self.ohm, self.tolerance, self.watt):
            box.setEnabled(bool(self.resistor.text()))
        self.changed.emit()

    def _lay_out(self) -> None:
        buttons = QHBoxLayout()
        buttons.addWidget(self.add)
        buttons.addWidget(self.remove)
        buttons.addStretch(1)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.addWidget(
            self._group(
                self.tr("Golden tubes"),
                self.golden,
                buttons,
                tip=self.tr("Two or more, the same ones each time"),
            ),
            1,
        )
        figures = QGridLayout()
        named = (
            (self.tr("&Ohms"), self.ohm),
            (self.tr("&Within"), self.tolerance),
            (self.tr("&Power"), self.watt),
        )
        for row, (words, box) in enumerate(named):
            label = QLabel(words)
            label.setBuddy(box)
            figures.addWidget(label, 0, 2 * row)
            figures.addWidget(box, 1, 2 * row, 1, 2)
        layout.addWidget(
            self._group(
                self.tr("Precision resistor in the tube's place"),
                self._with_button(self.resistor, self.tr("Choose &it…")),
                figures,
                tip=RESISTOR_CAUTION,
            )
        )
        layout.addWidget(
            self._group(
                self.tr("Empty socket"),
                self._with_button(self.socket, self.tr("Choose i&ts sweep…")),
                tip=EMPTY_SOCKET_CAUTION,
            )
        )
        layout.addWidget(self.check)

    def _with_button(self, field: QLineEdit, words: str) -> QHBoxLayout:
        button = QPushButton(words)
        button.setAutoDefault(False)
        button.clicked.connect(
            lambda: self._dialogs.ask_file(
                field.accessibleName(), self._filters(), _first_into(field)
            )
        )
        line = QHBoxLayout()
        line.addWidget(field, 1)
        line.addWidget(button)
        return line

    def _group(
        self, title: str, *parts: QWidget | QHBoxLayout | QGridLayout, tip: str = ""
    ) -> QGroupBox:
        group = QGroupBox(title)
        inside = QVBoxLayout(group)
        for part in parts:
            if isinstance(part, QWidget):
                inside.addWidget(part, int(part is self.golden))
            else:
                inside.addLayout(part)
        if tip:
            inside.addWidget(self._words(tip))
        return group

    def _words(self, text: str) -> QLabel:
        label = QLabel(text)
        label.setWordWrap(True)
        return label


def _first_into(field: QLineEdit) -> Callable[[list[Path]], None]:
    return lambda paths: field.setText(str(paths[0]))
