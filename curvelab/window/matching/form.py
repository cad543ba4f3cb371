"""What a person wants matched: how many tubes, how close, compared by what."""

from __future__ import annotations

from collections.abc import Iterable

from PySide6.QtCore import Signal
from PySide6.QtWidgets import (
    QCheckBox,
    QComboBox,
    QDoubleSpinBox,
    QGridLayout,
    QLabel,
    QPushButton,
    QSpinBox,
    QWidget,
)

from curvelab.matching.records import BY_BOTH, BY_CURVE, BY_POINT, MatchRequest
from curvelab.workbench.lot_matching import SetsWanted, Stock

__all__ = ["MatchingForm"]

_USUAL_SIZE, _LARGEST, _MOST_SPARES = 2, 24, 8
_USUAL_PERCENT = 5.0


class MatchingForm(QWidget):
    """Asks for the size of the sets, the tolerance, and which tubes take part.

    Signals
    -------
    sets_wanted
        Find matched sets.
    mate_wanted
        Rank the stock against the tube looked at.
    figures_wanted
        Rank it against figures that a person types in.
    """

    sets_wanted = Signal()
    mate_wanted = Signal()
    figures_wanted = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.tubes = self._spin(self.tr("Tubes in a set"), 2, _LARGEST, _USUAL_SIZE)
        self.spare = self._spin(self.tr("Spares that match all of a set"), 0, _MOST_SPARES, 0)
        self.tolerance = QDoubleSpinBox()
        self.tolerance.setRange(0.1, 99.0)
        self.tolerance.setDecimals(1)
        self.tolerance.setSuffix(" %")
        self.tolerance.setValue(_USUAL_PERCENT)
        self.balance = QDoubleSpinBox()
        self.balance.setRange(0.0, 99.0)
        self.balance.setDecimals(1)
        self.balance.setSuffix(" %")
        self.balance.setSpecialValueText(self.tr("any"))
        self.balance.setToolTip(
            self.tr("Tubes whose sections differ by more in plate current are left out")
        )
        self.by, self.type = QComboBox(), QComboBox()
        self.lot, self.grade = QComboBox(), QComboBox()
        for words, measures in (
            (self.tr("one point"), BY_POINT),
            (self.tr("whole curves"), BY_CURVE),
            (self.tr("point and curves"), BY_BOTH),
        ):
            self.by.addItem(words, measures)
        for part, name in (
            (self.tolerance, self.tr("Largest difference within a set")),
            (self.balance, self.tr("Largest difference between the sections of a tube")),
            (self.by, self.tr("Compared by")),
            (self.type, self.tr("Types that take part")),
            (self.lot, self.tr("Lots that take part")),
            (self.grade, self.tr("Grades that take part")),
        ):
            part.setAccessibleName(name)
        for box in (self.type, self.lot, self.grade):  # long names must not widen the form
            box.setSizeAdjustPolicy(
                QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon
            )
        self.by.setToolTip(
            self.tr(
                "Plate current and transconductance at the operating point, the whole fitted "
                "curves over the working region, or both"
            )
        )
        self.held = QCheckBox(self.tr("Also tubes on hold"))
        self.guarded = QCheckBox(self.tr("Uncertainty counts"))
        self.guarded.setToolTip(
            self.tr("A difference must be within tolerance with its uncertainty added")
        )
        self.counted = QCheckBox(self.tr("Also at 2, 5, 10 %"))
        self.counted.setChecked(True)
        self.counted.setToolTip(self.tr("Count the sets that other tolerances would give"))
        self.seek = QPushButton(self.tr("Find sets"))
        self.ask_mate = QPushButton(self.tr("Mate for the tube"))
        self.figures = QPushButton(self.tr("Mate for figures…"))
        self._lay_out()
        self.seek.clicked.connect(self.sets_wanted)
        self.ask_mate.clicked.connect(self.mate_wanted)
        self.figures.clicked.connect(self.figures_wanted)
        self.show_stock((), ())

    def show_stock(
        self, types: Iterable[str], lots: Iterable[str], grades: Iterable[str] = ()
    ) -> None:
        """Offer the types, lots and grades that there are; what was picked stays if it can."""
        for box, every, names in (
            (self.type, self.tr("all types"), types),
            (self.lot, self.tr("all lots"), lots),
            (self.grade, self.tr("all grades"), grades),
        ):
            picked = box.currentData()
            box.clear()
            box.setMinimumContentsLength(len(every))
            box.addItem(every, None)
            for name in dict.fromkeys(names):
                box.addItem(name or self.tr("no lot"), name)
            box.setCurrentIndex(max(box.findData(picked), 0))
        self.lot.setEnabled(self.lot.count() > 2)
        self.grade.setEnabled(self.grade.count() > 1)

    @property
    def request(self) -> MatchRequest:
        """How tubes are compared, and how many make a set."""
        return MatchRequest(
            size=self.tubes.value(),
            spare=self.spare.value(),
            tolerance=self.tolerance.value() / 100,
            measures=tuple(self.by.currentData()),
            section_balance=self.balance.value() / 100 or None,
            guarded=self.guarded.isChecked(),
        )

    @property
    def stock(self) -> Stock:
        """Which tubes take part."""
        picked = (box.currentData() for box in (self.lot, self.type, self.grade))
        lots, types, grades = (() if name is None else (name,) for name in picked)
        return Stock(
            lots=lots,
            types=types,
            grades=grades,
            with_held=self.held.isChecked(),
        )

    @property
    def wanted(self) -> SetsWanted:
        """The sets that are to be found."""
        return SetsWanted(self.request, self.stock, counted=self.counted.isChecked())

    def enable(self, *, sets: bool, mate: bool, figures: bool) -> None:
        """Say what can be asked for now."""
        self.seek.setEnabled(sets)
        self.ask_mate.setEnabled(mate)
        self.figures.setEnabled(figures)

    def _spin(self, name: str, low: int, high: int, value: int) -> QSpinBox:
        box = QSpinBox()
        box.setRange(low, high)
        box.setValue(value)
        box.setAccessibleName(name)
        return box

    def _lay_out(self) -> None:
        """Lay it out low and wide: the panel shares the height with the tubes."""
        grid = QGridLayout()
        grid.setContentsMargins(0, 0, 0, 0)
        fields: tuple[tuple[int, int, str, QWidget], ...] = (
            (0, 0, self.tr("Tubes in a set"), self.tubes),
            (0, 2, self.tr("spare"), self.spare),
            (1, 0, self.tr("Within"), self.tolerance),
            (1, 2, self.tr("by"), self.by),
            (2, 0, self.tr("Type"), self.type),
            (2, 2, self.tr("lot"), self.lot),
            (3, 0, self.tr("Grade"), self.grade),
            (3, 2, self.tr("sections"), self.balance),
        )
        for row, column, words, part in fields:
            label = QLabel(words)
            label.setBuddy(part)
            grid.addWidget(label, row, column)
            grid.addWidget(part, row, column + 1)
        grid.addWidget(self.held, 4, 0, 1, 2)
        grid.addWidget(self.guarded, 4, 2, 1, 2)
        grid.addWidget(self.counted, 5, 0, 1, 2)
        grid.addWidget(self.seek, 5, 2, 1, 2)
        grid.addWidget(self.ask_mate, 6, 0, 1, 2)
        grid.addWidget(self.figures, 6, 2, 1, 2)
        grid.setColumnStretch(1, 1)
        grid.setColumnStretch(3, 1)
        grid.setRowStretch(7, 1)
        self.setLayout(grid)
