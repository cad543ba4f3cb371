"""The check of the bench: verdict, control charts, and the corrections that a person decides on."""

from __future__ import annotations

import html
from collections.abc import Sequence

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QDialog,
    QHBoxLayout,
    QLabel,
    QListWidget,
    QPushButton,
    QTextBrowser,
    QVBoxLayout,
    QWidget,
)

from curvelab.bench_check.correction import AcceptedCorrection
from curvelab.bench_check.verdict import BenchCheck, BenchStanding
from curvelab.sheets.bench_check_text import bench_check_lines
from curvelab.sheets.control_picture import ControlPicture, control_pictures
from curvelab.sheets.text import plain
from curvelab.sheets.wording import CAUTIONS
from curvelab.window.bench.check_form import CheckForm
from curvelab.window.dividers import DividedParts
from curvelab.window.files import FileDialogs
from curvelab.window.plots.control_plot import ControlPlot
from curvelab.window.room import open_as_large
from curvelab.window.theme import Theme

__all__ = ["CheckDialog"]

_SIZE = (1120, 760)
_FORM_WIDTH = 400
_INK = {
    BenchStanding.STEADY: "accept",
    BenchStanding.SHIFTED: "reject",
    BenchStanding.UNCLEAR: "hold",
    BenchStanding.NO_HISTORY: "hold",
}


class CheckDialog(QDialog):
    """Shows a check; says what a person decides about its suggestions.

    Signals
    -------
    check_wanted
        Check by what the form says.
    accept_wanted, refuse_wanted, withdraw_wanted
        Decide about what the last check suggested, or about what is in force.
    """

    check_wanted = Signal()
    accept_wanted = Signal()
    refuse_wanted = Signal()
    withdraw_wanted = Signal()

    def __init__(self, theme: Theme, dialogs: FileDialogs, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle(self.tr("Check of the bench"))
        self._theme = theme
        self._check: BenchCheck | None = None
        self._pictures: tuple[ControlPicture, ...] = ()
        self.form = CheckForm(dialogs)
        self.form.setFixedWidth(_FORM_WIDTH)
        self.words = QTextBrowser()
        self.words.setAccessibleName(self.tr("Whether the bench can be trusted"))
        self.charts = QListWidget()
        self.charts.setAccessibleName(self.tr("Golden tubes and how far each has moved"))
        self.plot = ControlPlot(theme)
        self.why_none = QLabel()
        self.why_none.setWordWrap(True)
        self.suggested = QLabel()
        self.in_force = QLabel()
        for label in (self.suggested, self.in_force):
            label.setWordWrap(True)
        self.accept_button = QPushButton(self.tr("Acc&ept…"))
        self.refuse_button = QPushButton(self.tr("Re&fuse…"))
        self.withdraw_button = QPushButton(self.tr("With&draw…"))
        self._lay_out()
        self.form.wanted.connect(self.check_wanted)
        self.accept_button.clicked.connect(self.accept_wanted)
        self.refuse_button.clicked.connect(self.refuse_wanted)
        self.withdraw_button.clicked.connect(self.withdraw_wanted)
        self.charts.currentRowChanged.connect(self._show_chart)
        self.show_check(None)
        self.show_in_force(())
        theme.changed.connect(self._show_words)
        open_as_large(self, *_SIZE)

    def show_check(self, check: BenchCheck | None) -> None:
        """Show what came of a check, with its charts and suggestions."""
        self._check = check
        self._pictures = () if check is None else control_pictures(check)
        self.charts.clear()
        for picture in self._pictures:
            mark = f" – {self.tr('breaks a rule')}" if picture.out_of_control else ""
            self.charts.addItem(f"{picture.title}: {picture.shift}{mark}")
        self._show_words()
        odd = (at for at, picture in enumerate(self._pictures) if picture.out_of_control)
        self.charts.setCurrentRow(next(odd, 0 if self._pictures else -1))
        self._show_chart()
        suggestions = () if check is None else check.suggestions
        self.show_decided(
            "\n".join(self.tr("Suggested: {0}").format(plain(item.words)) for item in suggestions),
            open_=bool(suggestions),
        )

    def show_decided(self, words: str, *, open_: bool = False) -> None:
        """Say what is suggested, or what was decided about it."""
        self.suggested.setText(words or self.tr("No correction is suggested."))
        self.accept_button.setEnabled(open_)
        self.refuse_button.setEnabled(open_)

    def show_in_force(self, corrections: Sequence[AcceptedCorrection]) -> None:
        """Say which corrections what is filed now goes through."""
        lines = [
            self.tr("In force: {0} (accepted by {1}, {2})").format(
                plain(item.correction.words), plain(item.accepted_by), item.accepted_on[:10]
            )
            for item in corrections
        ]
        self.in_force.setText("\n".join(lines) or self.tr("No correction is in force."))
        self.withdraw_button.setEnabled(bool(corrections))

    def say(self, words: str) -> None:
        """Put words in the place of a verdict."""
        self.words.setPlainText(words)

    def _show_words(self) -> None:
        if self._check is None:
            cautions = "".join(f"<li>{html.escape(line)}</li>" for line in CAUTIONS)
            first = self.tr(
                "Before a batch: choose what was measured on the bench today, and check. The lot "
                "file keeps every check; golden tubes are judged by their own history on it."
            )
            self.words.setHtml(f"<p>{html.escape(first)}</p><ul>{cautions}</ul>")
            return
        head, *rest = bench_check_lines(self._check)
        ink = self._theme.colours.weight[_INK[self._check.standing]]
        lines = "".join(f"<li>{html.escape(line)}</li>" for line in rest)
        standing = html.escape(self._check.standing.value)
        self.words.setHtml(
            f'<h2 style="color: {ink}">{standing}</h2><p>{html.escape(head)}</p><ul>{lines}</ul>'
        )

    def _show_chart(self) -> None:
        row = self.charts.currentRow()
        picture = self._pictures[row] if 0 <= row < len(self._pictures) else None
        reason = None if picture is None else picture.reason
        self.plot.setVisible(picture is not None and reason is None)
        self.plot.show_picture(None if reason else picture)
        rules = (
            []
            if picture is None
            else [rule for at, rule in picture.signals if at == picture.values.size - 1]
        )
        if picture is None:
            text = self.tr("A control chart is drawn here once golden tubes were checked.")
        elif reason is not None:
            text = self.tr("No chart: {0}.").format(reason)
        else:
            text = self.tr("Today: {0}.").format("; ".join(rules)) if rules else ""
        self.why_none.setText(text)
        self.why_none.setVisible(bool(text))

    def _lay_out(self) -> None:
        chart = QWidget()
        under = QVBoxLayout(chart)
        under.setContentsMargins(0, 0, 0, 0)
        under.addWidget(self.charts, 1)
        under.addWidget(self.why_none)
        under.addWidget(self.plot, 3)
        right = DividedParts(Qt.Orientation.Vertical)
        right.addWidget(self.words)
        right.addWidget(chart)
        right.setSizes([_SIZE[1] // 3, _SIZE[1] * 2 // 3])
        right.setChildrenCollapsible(False)
        decide = QVBoxLayout()
        for label, buttons in (
            (self.suggested, (self.accept_button, self.refuse_button)),
            (self.in_force, (self.withdraw_button,)),
        ):
            line = QHBoxLayout()
            line.addWidget(label, 1)
            for button in buttons:
                button.setAutoDefault(False)
                line.addWidget(button)
            decide.addLayout(line)
        column = QVBoxLayout()
        column.addWidget(right, 1)
        column.addLayout(decide)
        layout = QHBoxLayout(self)
        layout.addWidget(self.form)
        layout.addLayout(column, 1)
