"""What is done with a whole lot: matching, grading, the bench, each with a desk of its own."""

from __future__ import annotations

from PySide6.QtCore import QObject, Signal

from curvelab.window.around import Around
from curvelab.window.bench.desk import BenchDesk
from curvelab.window.grading_desk import GradingDesk
from curvelab.window.matching.desk import MatchingDesk

__all__ = ["LotTools"]


class LotTools(QObject):
    """Makes the desks; ``told`` says what came of what they did."""

    told = Signal(str)

    def __init__(self, around: Around) -> None:
        super().__init__(around.window)
        self.matching = MatchingDesk(around)
        self.grading = GradingDesk(around)
        self.bench = BenchDesk(around)
        for desk in (self.matching, self.grading, self.bench):
            desk.told.connect(self.told)
