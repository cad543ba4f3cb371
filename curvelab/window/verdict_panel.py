"""What is to be said of the tube looked at: verdict, constants, findings, readings."""

from __future__ import annotations

import html
from collections.abc import Iterator

from PySide6.QtCore import QCoreApplication, Qt, Signal
from PySide6.QtWidgets import (
    QHBoxLayout,
    QLabel,
    QSizePolicy,
    QTabWidget,
    QTextBrowser,
    QVBoxLayout,
    QWidget,
)

from curvelab.assessment.records import Assessment
from curvelab.health.records import Verdict
from curvelab.sheets.document import SheetDocument
from curvelab.sheets.text import plain
from curvelab.window.comparison_choice import ComparisonChoice
from curvelab.window.constants_grid import ConstantsGrid
from curvelab.window.finding_list import FindingList
from curvelab.window.history_page import HistoryPage
from curvelab.window.lot import Lot
from curvelab.window.theme import Theme

__all__ = ["VerdictPanel"]

_SIGN = {Verdict.ACCEPT: "✓", Verdict.HOLD: "?", Verdict.REJECT: "✕"}
_LARGER = 12


class VerdictPanel(QWidget):
    """Shows the sheet of one tube in words."""

    picked = Signal(object)
    wished = Signal(object)

    def __init__(self, lot: Lot, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._lot, self._theme = lot, theme
        self._verdict = QLabel()
        self._verdict.setAccessibleName(self.tr("Verdict"))
        self._meaning = QLabel()
        self._meaning.setWordWrap(True)
        policy = QSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)
        policy.setHeightForWidth(True)
        self._meaning.setSizePolicy(policy)
        self.comparison = ComparisonChoice()
        self._table_title = QLabel()
        self.constants = ConstantsGrid(theme)
        self.findings = FindingList(theme)
        self.readings = QTextBrowser()
        self.readings.setAccessibleName(self.tr("File, readings, bench and conditions"))
        self.readings.setAcceptDrops(False)
        self.history = HistoryPage(lot, theme)
        self.tabs = QTabWidget()
        self.tabs.setDocumentMode(True)
        self.tabs.tabBar().setAccessibleName(self.tr("Findings, or file and readings"))
        self.tabs.addTab(self.findings, "")
        self.tabs.addTab(self.readings, self.tr("File and &readings"))
        self.tabs.addTab(self.history, self.tr("Hi&story"))
        self._lay_out()
        self.tabs.currentChanged.connect(self._show_readings)
        self.findings.picked.connect(self.picked)
        self.comparison.wished.connect(self.wished)
        lot.chosen_changed.connect(self._show_chosen)
        lot.lot_file_changed.connect(self._show_history)
        lot.finding_changed.connect(lambda: self.findings.show_pointed_out(lot.session.finding))
        theme.when_changed(self._show_chosen)

    @property
    def explained(self) -> str:
        """The code of the finding that the keyboard is on, empty where it is elsewhere."""
        return self.findings.explained

    def _lay_out(self) -> None:
        line = QHBoxLayout()
        line.addWidget(self._verdict)
        line.addWidget(self._meaning, 1)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(8, 4, 8, 0)
        layout.setSpacing(4)
        layout.addLayout(line)
        layout.addWidget(self.comparison)
        layout.addWidget(self._table_title)
        layout.addWidget(self.constants)
        layout.addWidget(self.tabs, 1)

    def _show_chosen(self) -> None:
        entry = self._lot.session.current
        for part in (self.comparison, self.tabs, self.constants):
            part.setVisible(entry is not None)
        if entry is None:
            self._verdict.setText("")
            self._meaning.setText("")
            self._table_title.setText("")
            return
        document = self._lot.session.document(entry.key)
        self._show_verdict(document)
        self.comparison.show_wish(entry.wish, entry.assessment)
        self._table_title.setText(f"<b>{html.escape(document.table_title)}</b>")
        self.constants.show_table(document.table, self._lot.session.quantities)
        self.findings.show_findings(document.findings)
        self.findings.show_pointed_out(self._lot.session.finding)
        self.tabs.setTabText(0, self.tr("Fi&ndings ({0})").format(len(document.findings)))
        self._show_readings()

    def _show_history(self) -> None:
        """Read the history of the tube if it is to be seen; without a lot file there is none."""
        place = self.tabs.indexOf(self.history)
        self.tabs.setTabVisible(place, self._lot.kept is not None)
        tubes = self._lot.chosen_tubes
        seen = self.tabs.currentWidget() is self.history
        self.history.show_tube(tubes[0].key if tubes and seen else None)

    def _show_readings(self) -> None:
        """Fill the page that is to be seen: laying it out takes its time."""
        self._show_history()
        entry = self._lot.session.current
        if entry is not None and self.tabs.currentWidget() is self.readings:
            document = self._lot.session.document(entry.key)
            quiet = self._theme.colours.quiet_text
            words = _readings_html(document, entry.assessment, quiet)
            self.readings.setHtml("".join(words))

    def _show_verdict(self, document: SheetDocument) -> None:
        ink = self._theme.colours.of_verdict(document.verdict)
        self._verdict.setFont(self._theme.font(_LARGER, bold=True))
        self._verdict.setStyleSheet(f"color: {ink}")
        self._verdict.setText(f"{_SIGN[document.verdict]} {document.verdict.value.upper()}")
        self._meaning.setText(
            f"<b>{html.escape(document.title)}</b>: "
            f"{html.escape(document.overruled or document.verdict_meaning)}<br>"
            f"{html.escape(document.type_line)}"
        )
        self._meaning.setTextFormat(Qt.TextFormat.RichText)


def _tr(text: str) -> str:
    return QCoreApplication.translate("VerdictPanel", text)


def _readings_html(document: SheetDocument, assessment: Assessment, quiet: str) -> Iterator[str]:
    """Yield what the sheet says of file and bench, every remark, and every row set aside."""
    yield '<table cellspacing="0" cellpadding="2">'
    for fact in document.facts:
        yield (
            f'<tr><td style="color:{quiet}">{html.escape(fact.label)}&nbsp;</td>'
            f"<td>{html.escape(fact.text)}</td></tr>"
        )
    yield "</table>"
    sweep = assessment.sweep
    if sweep.remarks:
        yield f"<p><b>{_tr('What the reader understood')}</b></p><ul>"
        for remark in sweep.remarks:
            guessed = f" <i>{_tr('(guessed)')}</i>" if remark.guessed else ""
            yield f"<li>{html.escape(plain(remark.text))}{guessed}</li>"
        yield "</ul>"
    if sweep.set_aside:
        yield f"<p><b>{_tr('Rows set aside')}</b></p><ul>"
        for row in sweep.set_aside:
            where = _tr("line {0}").format(row.line)
            yield (
                f"<li>{where}: {html.escape(plain(row.reason))}: "
                f"<code>{html.escape(plain(row.text))}</code></li>"
            )
        yield "</ul>"
    yield f"<p>{html.escape(document.not_said)}</p>"
