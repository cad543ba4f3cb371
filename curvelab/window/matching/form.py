"""What a person wants matched: how many tubes, how close, compared by what."""

from __future__ import annotations

from collections.abc import Iterable
from enum import Enum, auto

from PySide6.QtCore import QSignalBlocker, Signal
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


class _Pairing(Enum):
    """Which sections of the tubes of a set must match."""

    ALIKE = auto()
    EVERY = auto()
    OF_ONE = auto()


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
        self.other_lot, self.sections = QComboBox(), QComboBox()
        for words, measures in (
            (self.tr("one point"), BY_POINT),
            (self.tr("whole curves"), BY_CURVE),
            (self.tr("point and curves"), BY_BOTH),
        ):
            self.by.addItem(words, measures)
        for words, pairing in (
            (self.tr("each with its like"), _Pairing.ALIKE),
            (self.tr("every one alike"), _Pairing.EVERY),
            (self.tr("of one tube"), _Pairing.OF_ONE),
        ):
            self.sections.addItem(words, pairing)
        for part, name in (
            (self.tolerance, self.tr("Largest difference within a set")),
            (self.balance, self.tr("Largest difference between the sections of a tube")),
            (self.by, self.tr("Compared by")),
            (self.type, self.tr("Types that take part")),
            (self.lot, self.tr("Lots that take part")),
            (self.grade, self.tr("Grades that take part")),
            (self.other_lot, self.tr("The other lot of sets across two")),
            (self.sections, self.tr("Sections that must match")),
        ):
            part.setAccessibleName(name)
        for box in (
            self.type,
            self.lot,
            self.grade,
            self.other_lot,
        ):  # long names must not widen the form
            box.setSizeAdjustPolicy(
                QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon
            )
        self.by.setToolTip(
            self.tr(
                "Plate current and transconductance at the operating point, the whole fitted "
                "curves over the working region, or both"
            )
        )
        self.other_lot.setToolTip(self.tr("Every set then holds tubes of both lots"))
        self.sections.setToolTip(
            self.tr(
                "In a set of dual tubes: each section with that of the same name, or every section "
                "with every other. Of one tube: dual tubes whose own two sections match"
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
        self.lot.currentIndexChanged.connect(self._offer_other_lots)
        self.sections.currentIndexChanged.connect(self._enable)
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
            self._offer(box, every, names)
        self._offer_other_lots()

    def _offer(self, box: QComboBox, first: str, names: Iterable[str]) -> None:
        picked = box.currentData()
        with QSignalBlocker(box):
            box.clear()
            box.setMinimumContentsLength(len(first))
            box.addItem(first, None)
            for name in dict.fromkeys(names):
                box.addItem(name or self.tr("no lot"), name)
            box.setCurrentIndex(max(box.findData(picked), 0))

    def _offer_other_lots(self) -> None:
        """Offer the lots that sets may be across, once one of them is picked."""
        lots = [self.lot.itemData(at) for at in range(1, self.lot.count())]
        picked = self.lot.currentData()
        others = () if picked is None else (name for name in lots if name != picked)
        self._offer(self.other_lot, self.tr("none"), others)
        self._enable()

    def _enable(self) -> None:
        """Let be filled in what there is a choice of, and what counts."""
        tubes = not self._of_one_tube
        for part, possible in (
            (self.lot, self.lot.count() > 2),
            (self.grade, self.grade.count() > 1),
            (self.other_lot, tubes and self.other_lot.count() > 1),
            (self.tubes, tubes),
            (self.spare, tubes),
        ):
            part.setEnabled(possible)

    @property
    def _of_one_tube(self) -> bool:
        return self.sections.currentData() is _Pairing.OF_ONE

    @property
    def _lots(self) -> tuple[str, ...]:
        """The lots that are picked: none is all of them, two are to be in every set."""
        other = None if self._of_one_tube else self.other_lot.currentData()
        return tuple(name for name in (self.lot.currentData(), other) if name is not None)

    @property
    def request(self) -> MatchRequest:
        """How tubes are compared, and how many make a set."""
        lots = self._lots
        return MatchRequest(
            size=self.tubes.value(),
            spare=self.spare.value(),
            tolerance=self.tolerance.value() / 100,
            measures=tuple(self.by.currentData()),
            section_balance=self.balance.value() / 100 or None,
            all_sections=self.sections.currentData() is _Pairing.EVERY,
            across=(lots[0], lots[1]) if len(lots) > 1 else None,
            guarded=self.guarded.isChecked(),
        )

    @property
    def stock(self) -> Stock:
        """Which tubes take part."""
        picked = (box.currentData() for box in (self.type, self.grade))
        types, grades = (() if name is None else (name,) for name in picked)
        return Stock(
            lots=self._lots,
            types=types,
            grades=grades,
            with_held=self.held.isChecked(),
        )

    @property
    def wanted(self) -> SetsWanted:
        """The sets that are to be found."""
        return SetsWanted(
            self.request,
            self.stock,
            one_tube=self._of_one_tube,
            counted=self.counted.isChecked(),
        )

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
        grid.setVerticalSpacing(4)
        fields: tuple[tuple[int, int, str, QWidget], ...] = (
            (0, 0, self.tr("Tubes in a set"), self.tubes),
            (0, 2, self.tr("spare"), self.spare),
            (1, 0, self.tr("Within"), self.tolerance),
            (1, 2, self.tr("by"), self.by),
            (2, 0, self.tr("Type"), self.type),
            (2, 2, self.tr("lot"), self.lot),
            (3, 0, self.tr("Grade"), self.grade),
            (3, 2, self.tr("and lot"), self.other_lot),
            (4, 0, self.tr("Sections"), self.sections),
            (4, 2, self.tr("differ by"), self.balance),
        )
        for row, column, words, part in fields:
            label = QLabel(words)
            label.setBuddy(part)
            grid.addWidget(label, row, column)
            grid.addWidget(part, row, column + 1)
        grid.addWidget(self.held, 5, 0, 1, 2)
        grid.addWidget(self.guarded, 5, 2, 1, 2)
        grid.addWidget(self.counted, 6, 0, 1, 2)
        grid.addWidget(self.seek, 6, 2, 1, 2)
        grid.addWidget(self.ask_mate, 7, 0, 1, 2)
        grid.addWidget(self.figures, 7, 2, 1, 2)
        grid.setColumnStretch(1, 1)
        grid.setColumnStretch(3, 1)
        grid.setRowStretch(8, 1)
        self.setLayout(grid)
