"""What is done with a whole lot: matching, grading, the bench, papers; each has a desk."""

from __future__ import annotations

from PySide6.QtCore import QObject, Signal

from curvelab.window.around import Around
from curvelab.window.bench.desk import BenchDesk
from curvelab.window.grading_desk import GradingDesk
from curvelab.window.matching.desk import MatchingDesk
from curvelab.window.paper.desk import PaperDesk

__all__ = ["LotTools"]


class LotTools(QObject):
    """Makes the desks; ``told`` says what came of what they did."""

    told = Signal(str)

    def __init__(self, around: Around) -> None:
        super().__init__(around.window)
        self.matching = MatchingDesk(around)
        self.grading = GradingDesk(around)
        self.bench = BenchDesk(around)
        self.paper = PaperDesk(around)
        self.matching.sheets_wanted.connect(self.paper.ask_set_sheets)
        for desk in (self.matching, self.grading, self.bench, self.paper):
            desk.told.connect(self.told)

    @property
    def explained(self) -> str | None:
        """The page of help on the panel that has the keyboard."""
        return "matching" if self.matching.has_keyboard else None
