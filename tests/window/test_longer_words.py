"""Behaviour: the window and every dialog in languages of longer words and of tall letters."""

from __future__ import annotations

import contextlib

import pytest
from PySide6.QtCore import QCoreApplication, QEvent, Qt, QTranslator
from PySide6.QtWidgets import (
    QAbstractButton,
    QComboBox,
    QDialog,
    QGroupBox,
    QHeaderView,
    QLabel,
    QLineEdit,
    QSizePolicy,
    QStyle,
    QStyleOptionComboBox,
    QTabBar,
    QWidget,
)

from curvelab.window.intake.keep_dialog import KeepDialog
from curvelab.window.main_window import MainWindow
from curvelab.window.tasks import Failure
from curvelab.workbench.characterize import Request
from curvelab.workbench.lot_file import Addition, add_to_lot, create_lot
from helpers.sweeps import write_sweep

SMALL = (1280, 720)
TALL = str.maketrans("AEIOUaeiouyNn", "\u01faẾḮ\u1ed8Ǘ\u01fbếḯộǘỹÑñ")


class Longer(QTranslator):
    """A language whose words are 40 % longer than those of the source."""

    def __init__(self) -> None:
        super().__init__()
        self.asked: set[str] = set()

    def translate(self, context, source, disambiguation=None, n=-1) -> str:
        self.asked.add(source)
        more = max(1, round(0.4 * len(source)))
        return source + ("~~~~~~~ " * more)[:more].rstrip()

    def isEmpty(self) -> bool:  # noqa: N802
        return False


class Taller(Longer):
    """A language of letters with signs above and below; its words are longer too."""

    def translate(self, context, source, disambiguation=None, n=-1) -> str:
        return super().translate(context, source).translate(TALL)


@pytest.fixture(params=[Longer, Taller])
def longer(qapp, request):
    made = request.param()
    QCoreApplication.installTranslator(made)
    yield made
    QCoreApplication.removeTranslator(made)


def clipped(root: QWidget) -> list[str]:
    """Return the texts that have less room than they need."""
    seen = [one for one in root.findChildren(QWidget) if one.isVisible() and one.width() > 1]
    return [text for widget in seen for text in _cut(widget)]


def _cut(widget: QWidget) -> list[str]:
    """Return the texts of one widget that have less room than they need."""
    write = widget.fontMetrics().horizontalAdvance
    if isinstance(widget, QLabel) and widget.text():
        if widget.wordWrap():
            short = widget.height() < widget.heightForWidth(widget.width()) - 1
        else:
            short = widget.width() < widget.minimumSizeHint().width() - 1
        low = widget.height() < widget.fontMetrics().height()
        return [widget.text()] if short or low else []
    if isinstance(widget, QAbstractButton) and widget.text():
        needed = widget.minimumSizeHint()
        short = widget.width() < needed.width() - 1 or widget.height() < needed.height() - 1
        return [widget.text()] if short else []
    if isinstance(widget, QTabBar):
        return [
            widget.tabText(tab)
            for tab in range(widget.count())
            if widget.isTabVisible(tab)
            and widget.tabRect(tab).width() < write(widget.tabText(tab).replace("&", ""))
        ]
    if isinstance(widget, QComboBox):
        field = widget.style().subControlRect(
            QStyle.ComplexControl.CC_ComboBox, _option(widget),
            QStyle.SubControl.SC_ComboBoxEditField, widget,
        )  # fmt: skip
        shown = widget.currentText() or widget.placeholderText()
        return [shown] if field.width() < write(shown) else []
    if isinstance(widget, QLineEdit) and not widget.text():
        return [widget.placeholderText()] * (widget.width() < write(widget.placeholderText()) + 8)
    if isinstance(widget, QGroupBox):
        return [widget.title()] * (widget.width() < write(widget.title()))
    if isinstance(widget, QHeaderView) and widget.orientation() is Qt.Orientation.Horizontal:
        return _cut_headings(widget)
    return []


def _option(box: QComboBox) -> QStyleOptionComboBox:
    option = QStyleOptionComboBox()
    box.initStyleOption(option)
    return option


def _cut_headings(header: QHeaderView) -> list[str]:
    found = []
    for section in range(header.count()):
        text = str(header.model().headerData(section, header.orientation()) or "")
        needed = max(map(header.fontMetrics().horizontalAdvance, text.split("\n")))
        if not header.isSectionHidden(section) and header.sectionSize(section) < needed:
            found.append(text)
    return found


@pytest.mark.parametrize("size", [(1280, 720), (1920, 1080), (3840, 2160)])
@pytest.mark.parametrize("growth", [0, 4])
@pytest.mark.parametrize("filled", [False, True], ids=["start", "lot"])
def test_no_text_is_cut_in_a_language_of_longer_words(
    longer, make_window, fill_lot, theme, size, growth, filled, qtbot
):
    window = make_window()
    if filled:
        fill_lot(window.lot)
    theme.grow(growth)
    window.resize(*size)
    settles(qtbot, lambda: not clipped(window))
    assert not clipped(window)
    assert "&Open files…" in longer.asked
    assert window.width() <= size[0]
    assert window.height() <= size[1]


def settles(qtbot, so) -> None:
    """Give layouts the time to follow a change of font; what does not come is told after."""
    with contextlib.suppress(qtbot.TimeoutError):
        qtbot.waitUntil(so, timeout=1500)


def test_the_check_of_cut_texts_sees_one(qtbot, theme):
    frame = QWidget()
    label = QLabel("far too long for this", frame)
    label.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Fixed)
    label.setGeometry(0, 0, 20, 20)
    qtbot.addWidget(frame)
    frame.show()
    assert clipped(frame) == ["far too long for this"]


@pytest.fixture
def lot_window(longer, make_window, tmp_path, idle) -> MainWindow:
    """Return the window on a lot file, a tube chosen that has been judged."""
    bench = tmp_path / "bench"
    bench.mkdir()
    for number in range(3):
        write_sweep(bench / f"A{number}.csv", seed=number)
    path = tmp_path / "spring.lot"
    create_lot(path)
    add_to_lot(path, Addition(Request(paths=(bench,))))
    window = make_window()
    window.resize(*SMALL)
    window.lot.file.open(path)
    idle(window)
    window.lot.choose_rows([window.lot.rows[0].key])
    idle(window)
    return window


def dialogs(window: MainWindow) -> list[QDialog]:
    return [one for one in window.findChildren(QDialog) if one.isVisible()]


def look_at(window: MainWindow, qtbot) -> dict[str, list[str]]:
    """Return the cut texts of the dialogs that are open, and close them."""
    found = {}
    screen = window.screen().availableGeometry()
    for dialog in dialogs(window):
        if dialog.width() >= screen.width():  # the tests' is 800 wide: there it had no more room
            dialog.resize(SMALL[0] - 160, min(dialog.height(), SMALL[1] - 40))
        settles(qtbot, lambda dialog=dialog: not clipped(dialog))
        cut = clipped(dialog)
        least = dialog.minimumSizeHint()
        if least.width() > SMALL[0] or least.height() > SMALL[1] - 40:
            cut.append(f"needs {least.width()} x {least.height()}")
        if dialog.width() > max(screen.width(), SMALL[0]) or dialog.height() > screen.height():
            cut.append(f"has {dialog.width()} x {dialog.height()}")
        if cut:
            found[type(dialog).__name__] = cut
        dialog.reject()
    QCoreApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
    return found


def test_no_text_is_cut_in_any_dialog_on_a_small_screen(lot_window, qtbot, idle):
    """Whatever an action with three dots opens is looked at; those that ask for a file are not."""
    found, opened = {}, set()
    for action in lot_window.actions():
        if "…" not in action.text() or not action.isEnabled():
            continue
        action.trigger()
        idle(lot_window)
        preview = lot_window.intake.preview
        qtbot.waitUntil(lambda preview=preview: not preview.tasks.busy)
        opened |= {type(dialog).__name__ for dialog in dialogs(lot_window)}
        found |= look_at(lot_window, qtbot)
    assert {
        "ActionList", "CheckDialog", "ClaimsDialog", "ColumnDialog", "FiguresDialog",
        "HandTestDialog", "HouseDialog", "OverruleDialog", "PaperDialog", "PreviewDialog",
        "ReturnedDialog", "SheetPreview", "StandInDialog", "TypesDialog",
    } <= opened  # fmt: skip
    assert not found


def test_no_text_is_cut_in_the_panel_of_sets_nor_in_what_it_asks(lot_window, qtbot, idle):
    window, panel = lot_window, lot_window.tools.matching
    window.actions_.matching.trigger()
    panel.find_sets()
    idle(window)
    settles(qtbot, lambda: not clipped(window))
    assert not clipped(window)
    assert window.height() <= SMALL[1]
    panel.panel.sets_view.selectAll()
    panel.panel.lock.click()
    assert dialogs(window)
    assert not look_at(window, qtbot)
    panel.find_mate()
    idle(window)
    settles(qtbot, lambda: not clipped(window))
    assert not clipped(window)


def test_no_text_is_cut_in_labels_nor_where_a_person_decides(lot_window, qtbot, idle):
    window = lot_window
    window.actions_.labels.trigger()
    asked = dialogs(window)[0]
    asked.graded.setChecked(False)
    asked.button.click()
    idle(window)
    assert [type(one).__name__ for one in dialogs(window)] == ["LabelDialog"]
    assert not look_at(window, qtbot)
    window.actions_.check_bench.trigger()
    idle(window)
    desk = window.tools.bench
    for button in (desk.dialog.accept_button, desk.dialog.refuse_button):
        button.setEnabled(True)
        button.click()
    assert len(dialogs(window)) == 3
    assert not look_at(window, qtbot)


def test_no_text_is_cut_where_something_is_told(lot_window, qtbot, tmp_path):
    window, actions = lot_window, lot_window.actions_
    window.lot.failed.emit(Failure("ValueError: something", "details"))
    for action in (actions.help, actions.about):
        action.trigger()
    asks = tmp_path / "asks.csv"
    asks.write_text("Vp,Vg,Ip\n100,-2,3\n", encoding="utf-8")
    window.intake.import_paths([asks])
    preview = window.intake.preview
    qtbot.waitUntil(lambda: not preview.tasks.busy)
    preview.ask_name()
    assert len(dialogs(window)) >= 4
    assert [one for one in dialogs(window) if isinstance(one, KeepDialog)]
    assert not look_at(window, qtbot)
    window.recovery.found.emit(12, "spring.lot")
    window.words.tabs.setCurrentWidget(window.words.history)
    settles(qtbot, lambda: not clipped(window))
    assert not clipped(window)


def test_the_line_below_has_room_for_all_that_it_may_have_to_say_at_once(
    lot_window, tmp_path, qtbot
):
    """A watch, newcomers, work that goes on, problems and the reminder."""
    window = lot_window
    folder = tmp_path / "the sweeps of the day"
    folder.mkdir()
    with qtbot.waitSignal(window.intake.watch.looked, timeout=10_000):
        window.intake.watch.start(folder)
    window.lot.arrived.emit(tuple(row.key for row in window.lot.rows[1:]))
    window.lot.note_failure("bad.csv", Failure("no sweep"))
    window.tasks.busy_changed.emit(True)
    window.tasks.progressed.emit(12, 200, "a file with a long name, section 2.csv")
    window.resize(*SMALL)
    settles(qtbot, lambda: not clipped(window))
    assert not clipped(window)
    assert window.width() <= SMALL[0]
    window.tasks.busy_changed.emit(False)
