"""What is done with a whole lot: matching, grading, the bench, papers; each has a desk."""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal

from curvelab.window.around import Around

if TYPE_CHECKING:
    from curvelab.window.bench.desk import BenchDesk
    from curvelab.window.grading_desk import GradingDesk
    from curvelab.window.matching.desk import MatchingDesk
    from curvelab.window.paper.desk import PaperDesk

__all__ = ["LotTools"]

_STEP = 32  # by which the panel of sets becomes larger [px]


class LotTools(QObject):
    """Says what is possible, and makes each desk when it is first wanted.

    Few starts of the window want one, and each start would wait for all that they import.
    ``told`` says what came of what they did.
    """

    told = Signal(str)

    def __init__(self, around: Around) -> None:
        super().__init__(around.window)
        self._around, self._lot = around, around.lot
        actions, lot = around.actions, around.lot
        for action, intent in (
            (actions.mate, lambda: self.matching.find_mate()),
            (actions.mate_of_figures, lambda: self.matching.ask_figures()),
            (actions.keep_set, lambda: self.matching.keep_chosen()),
            (actions.larger_panel, lambda: self.matching.resize_panel(_STEP)),
            (actions.smaller_panel, lambda: self.matching.resize_panel(-_STEP)),
            (actions.grade, lambda: self.grading.grade()),
            (actions.grade_rules, lambda: self.grading.edit_rules()),
            (actions.returned, self._show_returned),
            (actions.check_bench, lambda: self.bench.show()),
            (actions.lot_report, lambda: self.paper.ask_report()),
            (actions.set_sheets, lambda: self.paper.ask_set_sheets()),
            (actions.labels, lambda: self.paper.ask_labels()),
            (actions.listings, lambda: self.paper.ask_listings()),
            (actions.copy_listing, lambda: self.paper.copy_listing()),
            (actions.claims, lambda: self.paper.show_claims()),
        ):
            action.triggered.connect(intent)
        actions.matching.toggled.connect(self._show_matching)
        for changed in (
            lot.lot_file_changed, lot.tubes_changed, lot.chosen_changed, lot.lines_chosen,
        ):  # fmt: skip
            changed.connect(self._enable)
        self._enable()

    @cached_property
    def matching(self) -> MatchingDesk:
        """Matched sets and mates."""
        from curvelab.window.matching.desk import MatchingDesk  # noqa: PLC0415 (as said above)

        desk = MatchingDesk(self._around)
        desk.sheets_wanted.connect(lambda about: self.paper.ask_set_sheets(about))
        desk.told.connect(self.told)
        return desk

    @cached_property
    def grading(self) -> GradingDesk:
        """Grades."""
        from curvelab.window.grading_desk import GradingDesk  # noqa: PLC0415 (as said above)

        desk = GradingDesk(self._around)
        desk.told.connect(self.told)
        return desk

    @cached_property
    def bench(self) -> BenchDesk:
        """The check of the bench."""
        from curvelab.window.bench.desk import BenchDesk  # noqa: PLC0415 (as said above)

        desk = BenchDesk(self._around)
        desk.told.connect(self.told)
        return desk

    @cached_property
    def paper(self) -> PaperDesk:
        """The papers."""
        from curvelab.window.paper.desk import PaperDesk  # noqa: PLC0415 (as said above)

        desk = PaperDesk(self._around)
        desk.told.connect(self.told)
        return desk

    def _show_matching(self, on: bool) -> None:
        self.matching.show(on=on)
        self._enable()

    def _show_returned(self) -> None:
        from curvelab.window.returned_dialog import show_returned  # noqa: PLC0415 (as said above)

        show_returned(self._around)

    @property
    def explained(self) -> str | None:
        """The page of help on the panel that has the keyboard."""
        return "matching" if self._matching_made and self.matching.has_keyboard else None

    def table_with_keyboard(self) -> str | None:
        """Return the chosen rows of a panel for the clipboard, None without the keyboard."""
        return self.matching.table_with_keyboard() if self._matching_made else None

    @property
    def _matching_made(self) -> bool:
        return "matching" in self.__dict__

    def _enable(self) -> None:
        lot, kept, actions = self._lot, self._lot.kept, self._around.actions
        filed = kept is not None and bool(kept.tubes)
        writable = kept is not None and not kept.newer
        one = bool(lot.chosen_tubes) if kept is not None else lot.session.current is not None
        for action, possible in (
            (actions.matching, bool(lot.rows)),
            (actions.mate, one),
            (actions.mate_of_figures, kept is not None),
            (actions.larger_panel, actions.matching.isChecked()),
            (actions.smaller_panel, actions.matching.isChecked()),
            (actions.keep_set, writable and len(lot.chosen_tubes) > 1),
            (actions.grade, writable and filed),
            (actions.check_bench, writable),
            (actions.returned, len(lot.chosen_tubes) == 1),
            (actions.lot_report, filed),
            (actions.set_sheets, filed),
            (actions.labels, filed),
            (actions.listings, filed),
            (actions.copy_listing, filed and bool(lot.chosen_tubes)),
            (actions.claims, filed),
        ):
            action.setEnabled(possible)
        if not lot.rows:
            actions.matching.setChecked(False)
