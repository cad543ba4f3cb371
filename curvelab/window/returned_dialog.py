"""A tube that came back: its newest sweep against the one before, with what speaks against it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import (
    QDialog,
    QDialogButtonBox,
    QLabel,
    QPushButton,
    QTableView,
    QVBoxLayout,
    QWidget,
)

from curvelab.catalog.records import FindingMark, TubeIdentity
from curvelab.catalog.retest import Change, Retest
from curvelab.health.records import Severity
from curvelab.quantities import Unit, format_number
from curvelab.sheets.tables import ConstantQuantities
from curvelab.sheets.text import plain, signed_percent
from curvelab.window.around import Around
from curvelab.window.record_table import Column, RecordTable, copied_rows, record_view
from curvelab.window.room import open_as_large
from curvelab.window.tasks import Failure
from curvelab.window.theme import Theme
from curvelab.workbench.lot_upkeep import compare_returned

__all__ = ["ReturnedDialog", "show_returned"]

_SIZE = (760, 460)


@dataclass(frozen=True, slots=True)
class _Line:
    """A constant of one section, then and now."""

    section: str
    symbol: str
    unit: Unit
    change: Change

    @property
    def beyond(self) -> bool | None:
        """Whether it has changed by more than the uncertainty; None where nobody knows."""
        normalised = self.change.normalised
        return None if normalised is None else abs(normalised) > 1


def show_returned(around: Around) -> None:
    """Compare the chosen tube of the lot file with what it was, beside the window, and show it."""
    lot = around.lot
    kept, tubes = lot.kept, lot.chosen_tubes
    if kept is None or len(tubes) != 1:
        return
    path, identity = kept.path, tubes[0].identity

    def receive(outcome: object) -> None:
        if isinstance(outcome, Failure):
            lot.note_failure(path.name, outcome)
        elif isinstance(outcome, tuple):
            quantities = lot.session.quantities
            dialog = ReturnedDialog(identity, outcome, quantities, around.theme, around.window)
            dialog.finished.connect(dialog.deleteLater)
            dialog.open()

    lot.file.start(lambda *_: compare_returned(path, identity.serial, identity.lot), receive)


class ReturnedDialog(QDialog):
    """Shows what has become of a tube since the sweep before its last.

    Parameters
    ----------
    retests : sequence of Retest
        One for each section that was swept twice or more often.
    quantities : sequence of (str, Quantity)
        The constants, in the units that are shown.
    """

    def __init__(
        self,
        identity: TubeIdentity,
        retests: Sequence[Retest],
        quantities: ConstantQuantities,
        theme: Theme,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.setWindowTitle(self.tr("{0} now and before").format(plain(identity.serial)))
        self._theme = theme
        self.words = QLabel("\n".join(self._sentences(identity, retests)))
        self.words.setWordWrap(True)
        self.words.setTextFormat(Qt.TextFormat.PlainText)
        self.words.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.view: QTableView
        self.lines: RecordTable[_Line]
        self.view, self.lines = record_view(self.tr("Constants before and now"), self)
        shown = [line for item in retests for line in _lines(item, quantities)]
        self.lines.show(self._columns(several=any(line.section for line in shown)), shown)
        self.view.resizeColumnsToContents()
        self.view.verticalHeader().setDefaultSectionSize(self.view.fontMetrics().height() + 8)
        self.view.setVisible(bool(shown))
        self.copy = QPushButton(self.tr("&Copy"))
        self.copy.setAutoDefault(False)
        box = QDialogButtonBox(QDialogButtonBox.StandardButton.Close)
        box.addButton(self.copy, QDialogButtonBox.ButtonRole.ActionRole)
        layout = QVBoxLayout(self)
        layout.addWidget(self.words)
        layout.addWidget(self.view, 1)
        layout.addWidget(box)
        self.copy.clicked.connect(self._copy)
        box.rejected.connect(self.reject)
        if shown:
            open_as_large(self, *_SIZE)

    def _copy(self) -> None:
        """Put all that is said on the clipboard, to be told to whom it came from."""
        self.view.selectAll()
        rows = f"\n\n{copied_rows(self.view)}" if self.lines.rowCount() else "\n"
        QGuiApplication.clipboard().setText(f"{self.words.text()}{rows}")

    def _columns(self, *, several: bool) -> list[Column[_Line]]:
        theme = self._theme
        changed = {True: self.tr("yes"), False: self.tr("no"), None: self.tr("not known")}
        columns: list[Column[_Line]] = [
            Column(self.tr("constant"), _name, bold=True),
            Column(self.tr("before"), lambda line: _figure(line, line.change.earlier), number=True),
            Column(self.tr("now"), lambda line: _figure(line, line.change.later), number=True),
            Column(
                self.tr("change"),
                lambda line: signed_percent(line.change.share),
                sort=lambda line: line.change.share,
                number=True,
            ),
            Column(
                "E_n",
                _normalised,
                number=True,
                explained=self.tr(
                    "the difference in units of both uncertainties together (ISO 13528): beyond 1 "
                    "the constant has changed"
                ),
            ),
            Column(
                self.tr("more than\nthe uncertainty"),
                lambda line: changed[line.beyond],
                ink=lambda line: (
                    theme.colours.of_severity(Severity.CAUTION) if line.beyond else None
                ),
                explained=self.tr("whether the constant has changed, at 95 %"),
            ),
        ]
        if several:
            columns.insert(0, Column(self.tr("section"), lambda line: line.section))
        return columns

    def _sentences(self, identity: TubeIdentity, retests: Sequence[Retest]) -> Iterator[str]:
        serial = plain(identity.serial)
        if not retests:
            yield self.tr(
                "{0} was swept once only: there is nothing to compare. Sweep it again, and open "
                "the file of the sweep while this lot file is open."
            ).format(serial)
        for item in retests:
            section = "" if item.section is None else f" {self.tr('section')} {plain(item.section)}"
            both = item.earlier_at, item.later_at
            one_day = both[0].date() == both[1].date()
            days = (f"{at:%Y-%m-%d %H:%M} UTC" if one_day else f"{at:%Y-%m-%d}" for at in both)
            yield self.tr("{0}, filed on {1} and {2}:").format(f"{serial}{section}", *days)
            yield from (f"    {words}" for words in self._of(item))

    def _of(self, item: Retest) -> Iterator[str]:
        """Yield what is to be said of one section, the cautions first."""
        if item.another_tube:
            yield self.tr("Its amplification factor moved so far that it is hardly the same tube.")
        if not item.same_bench:
            yield self.tr(
                "Two benches measured it: the uncertainties hold only if both state theirs."
            )
        if not item.same_point:
            yield self.tr(
                "It was measured at two operating points: its constants are not compared."
            )
        if item.curve_distance is not None:
            distance = f"{100 * item.curve_distance:.1f}"
            yield self.tr("Its curves lie {0} % apart (RMS).").format(distance)
        for words, marks in (
            (self.tr("New: {0}"), item.new_findings),
            (self.tr("Gone: {0}"), item.gone_findings),
        ):
            if marks:
                yield words.format(", ".join(map(_mark, marks)))


def _lines(item: Retest, quantities: ConstantQuantities) -> Iterator[_Line]:
    known = dict(quantities)
    for change in item.changes:
        quantity = known[change.name]
        yield _Line(plain(item.section or ""), quantity.symbol, quantity.unit, change)


def _name(line: _Line) -> str:
    return f"{line.symbol} ({line.unit.symbol})".replace(" ()", "")


def _figure(line: _Line, value: float) -> str:
    return format_number(line.unit.from_si(value), 4)


def _normalised(line: _Line) -> str:
    normalised = line.change.normalised
    return "–" if normalised is None else f"{normalised:+.2f}"


def _mark(mark: FindingMark) -> str:
    return plain(f"{mark.code} ({mark.severity})")
