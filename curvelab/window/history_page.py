"""The history of a tube of the lot file: every judging, hand test and verdict of a person."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from functools import partial

from PySide6.QtCore import QCoreApplication
from PySide6.QtWidgets import QAbstractItemView, QLabel, QTableView, QVBoxLayout, QWidget

from curvelab.catalog.records import TubeHistory
from curvelab.catalog.retest import Change, Retest
from curvelab.fitting.records import Constants
from curvelab.quantities import Unit, format_number
from curvelab.sheets.tables import ConstantQuantities
from curvelab.sheets.text import finite, plain, signed_percent
from curvelab.window.lot import Lot
from curvelab.window.record_table import Column, RecordTable
from curvelab.window.theme import Theme
from curvelab.workbench.open_lot import history_of

__all__ = ["HistoryPage"]

_NONE = "–"


@dataclass(frozen=True, slots=True)
class _Event:
    when: datetime
    what: str
    section: str
    verdict: str
    constants: Constants | None
    words: str


class HistoryPage(QWidget):
    """Shows what the lot file holds of the tube looked at, the newest first."""

    def __init__(self, lot: Lot, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._lot, self._theme = lot, theme
        self._tube: int | None = None
        self._model: RecordTable[_Event] = RecordTable(self)
        self.view = QTableView()
        self.view.setModel(self._model)
        self.view.setAccessibleName(self.tr("History of the tube"))
        self.view.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.view.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.view.setTabKeyNavigation(False)
        self.view.setShowGrid(False)
        self.view.verticalHeader().hide()
        self.view.horizontalHeader().setStretchLastSection(True)
        self.changes = QLabel()
        self.changes.setWordWrap(True)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 4, 0, 0)
        layout.addWidget(self.changes)
        layout.addWidget(self.view, 1)

    def show_tube(self, tube: int | None) -> None:
        """Show another tube by its key in the lot file; read in the background."""
        self._tube = tube
        if tube is None or self._lot.kept is None:
            self._show(None, ())
            return

        def receive(found: object) -> None:
            if self._tube == tube and isinstance(found, tuple):
                self._show(*found)

        path = self._lot.kept.path
        self._lot.file.start(lambda *_: history_of(path, tube), receive)

    def _show(self, history: TubeHistory | None, retests: tuple[Retest, ...]) -> None:
        events = [] if history is None else sorted(_events(history), key=_when, reverse=True)
        self._model.show(self._columns(), events)
        self.view.resizeColumnsToContents()
        self.view.verticalHeader().setDefaultSectionSize(self.view.fontMetrics().height() + 8)
        quantities = self._lot.session.quantities
        said = [self._retest_text(retest, quantities) for retest in retests]
        self.changes.setText("\n".join(said))
        self.changes.setVisible(bool(said))

    def _retest_text(self, retest: Retest, quantities: ConstantQuantities) -> str:
        """Say in a sentence how the newest sweep differs from the one before."""
        section = f"{self.tr('section')} {retest.section}: " if retest.section else ""
        since = retest.earlier_at.date().isoformat()
        names = {name: quantity.symbol for name, quantity in quantities}
        parts = [_change_text(item, names[item.name]) for item in retest.changes]
        if not retest.same_point:
            parts.append(self.tr("taken at another point"))
        if not retest.same_bench:
            parts.append(self.tr("another bench"))
        parts += [f"{self.tr('new')}: {mark.code}" for mark in retest.new_findings]
        parts += [f"{self.tr('gone')}: {mark.code}" for mark in retest.gone_findings]
        if retest.another_tube:
            parts.append(self.tr("so far off that it is hardly the same tube"))
        return f"{section}{self.tr('since')} {since}: {', '.join(parts)}"

    def _columns(self) -> list[Column[_Event]]:
        ink = self._theme.colours.weight
        return [
            Column(
                self.tr("when"),
                lambda event: f"{event.when:%Y-%m-%d}",
                tip=lambda event: f"{event.when:%Y-%m-%d %H:%M} UTC",
            ),
            Column(self.tr("what"), lambda event: event.what, tip=_words, bold=True),
            Column(
                self.tr("verdict"),
                lambda event: event.verdict,
                tip=_words,
                ink=lambda e: ink.get(e.verdict),
            ),
            *(
                Column(
                    f"{quantity.symbol} ({quantity.unit.symbol})".replace(" ()", ""),
                    partial(_constant, name=name, unit=quantity.unit),
                    number=True,
                )
                for name, quantity in self._lot.session.quantities
            ),
            Column(self.tr("section"), lambda event: event.section),
            Column(self.tr("words"), _words, tip=_words),
        ]


def _tr(text: str) -> str:
    return QCoreApplication.translate("HistoryPage", text)


def _words(event: _Event) -> str:
    return event.words


def _when(event: _Event) -> datetime:
    return event.when


def _constant(event: _Event, name: str, unit: Unit) -> str:
    if event.constants is None:
        return ""
    value = finite(getattr(event.constants, name).value)
    return _NONE if value is None else format_number(unit.from_si(value), 4)


def _change_text(change: Change, symbol: str) -> str:
    beyond = change.normalised is not None and abs(change.normalised) > 1
    share = signed_percent(change.share)
    return f"{symbol} {_tr('{0} (changed)').format(share) if beyond else share}"


def _events(history: TubeHistory) -> Iterator[_Event]:
    for measurement in history.measurements:
        kind = measurement.kind.value
        for number, judged in enumerate(measurement.characterisations):
            figures = judged.figures
            found = ", ".join(mark.code for mark in figures.findings)
            yield _Event(
                judged.made_at,
                _tr("{0}, again").format(kind) if number else kind,
                measurement.section or "",
                figures.verdict.value,
                figures.constants,
                plain(f"{judged.bench}: {found or _tr('no finding')}"),
            )
    for test in history.hand_tests:
        marks = ", ".join(mark.code for mark in test.findings) or _tr("no finding")
        words = f"{marks}; {test.note}" if test.note else marks
        yield _Event(
            test.made_at,
            _tr("hand test"),
            test.section or "",
            test.verdict.value,
            None,
            plain(words),
        )
    for overrule in history.overrules:
        words = f"{overrule.person}: {overrule.reason}"
        verdict = overrule.verdict.value
        yield _Event(overrule.made_at, _tr("person"), "", verdict, None, plain(words))
