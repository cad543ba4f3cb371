"""Behaviour and published: the real window for weak eyes, and for hands without a mouse.

Contrast as in W3C, Web Content Accessibility Guidelines 2.1 (2018): relative luminance,
contrast ratio, success criterion 1.4.3 (4.5:1 for text).
"""

from __future__ import annotations

import ast
import re

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QAccessible, QKeySequence, QPalette, QTextDocument
from PySide6.QtWidgets import (
    QAbstractButton,
    QApplication,
    QMenu,
    QWidget,
)

from curvelab.health.records import Severity, Verdict
from curvelab.window.bench.decision_dialog import DecisionDialog
from curvelab.window.help.help_window import HelpWindow
from curvelab.window.main_window import MainWindow
from curvelab.window.matching.figures_dialog import FiguresDialog
from curvelab.window.paper.claims_dialog import ClaimsDialog
from curvelab.window.paper.label_dialog import LabelDialog
from curvelab.window.paper.paper_dialog import PaperDialog
from curvelab.window.theme import DARK, LIGHT, Scheme
from curvelab.workbench.lot_documents import label_sheets
from helpers.checkout import PACKAGE
from helpers.colours import contrast

LEAST_FOR_TEXT = 4.5


def test_the_ratio_is_the_standards_at_both_ends():
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.005)  # just fails


@pytest.mark.parametrize("colours", [LIGHT, DARK], ids=["light", "dark"])
def test_every_ink_of_a_text_stands_out_from_every_ground_it_is_put_on(colours):
    grounds = {"window": colours.window, "base": colours.base, "raised": colours.raised}
    inks = {
        "text": colours.text,
        "quiet": colours.quiet_text,
        "link": colours.accent,
        "rating": colours.rating,
        **{word.value: colours.weight[word.value] for word in (*Verdict, *Severity)},
    }
    poor = {
        (ink, ground): round(ratio, 2)
        for ink, on in inks.items()
        for ground, under in grounds.items()
        if (ratio := contrast(on, under)) < LEAST_FOR_TEXT
    }
    assert not poor
    assert contrast(colours.accent_text, colours.accent) >= LEAST_FOR_TEXT
    steps = {step: contrast(step, colours.base) for step in colours.steps(9)}
    assert min(steps.values()) >= 3.0  # curves: criterion 1.4.11


def written_in(document: QTextDocument) -> dict[str, str]:
    """Return the inks that are set in a text, each with some words written in it."""
    found = {}
    block = document.begin()
    while block.isValid():
        at = block.begin()
        while not at.atEnd():
            fragment = at.fragment()
            ink = fragment.charFormat().foreground()
            if ink.style() is not Qt.BrushStyle.NoBrush:
                found[ink.color().name()] = fragment.text()
            at += 1
        block = block.next()
    return found


def test_links_of_help_are_readable_and_follow_the_colours_while_it_is_open(window, theme, qtbot):
    window.actions_.help.trigger()
    shown = window.findChild(HelpWindow)
    for scheme, colours in ((Scheme.DARK, DARK), (Scheme.LIGHT, LIGHT)):
        theme.use(scheme)
        QApplication.processEvents()
        inks: dict[str, str] = {}
        for row in range(shown.list.count()):
            shown.list.setCurrentRow(row)
            inks |= written_in(shown.text.document())
        assert inks
        ground = shown.text.palette().color(QPalette.ColorRole.Base).name()
        assert ground == colours.base
        assert {ink: on for ink, on in inks.items() if contrast(ink, ground) < LEAST_FOR_TEXT} == {}


def test_the_page_of_help_looked_at_takes_up_other_colours_where_it_stands(window, theme):
    window.actions_.help.trigger()
    shown = window.findChild(HelpWindow)
    theme.use(Scheme.DARK)
    QApplication.processEvents()
    assert set(written_in(shown.text.document())) == {DARK.accent}


def focusable(window: QWidget) -> list[QWidget]:
    return [
        widget
        for widget in window.findChildren(QWidget)
        if widget.isVisible()
        and widget.isEnabled()
        and widget.focusProxy() is None  # it hands the focus on
        and widget.focusPolicy() & Qt.FocusPolicy.TabFocus
    ]


def spoken_name(widget: QWidget) -> str:
    found = QAccessible.queryAccessibleInterface(widget)
    return found.text(QAccessible.Text.Name).strip() if found else widget.accessibleName()


def pressed_through(window: QWidget, first: QWidget, limit: int = 200) -> list[QWidget]:
    """Press Tab until the focus is back; return where it was."""
    first.setFocus(Qt.FocusReason.TabFocusReason)
    seen: list[QWidget] = []
    while (now := QApplication.focusWidget()) is not None and now not in seen and len(seen) < limit:
        seen.append(now)
        window.focusNextChild()
    return seen


@pytest.fixture
def lot_window(window, fill_lot, qtbot) -> MainWindow:
    window.activateWindow()
    fill_lot(window.lot)
    window.actions_.problems.setChecked(True)
    QApplication.processEvents()
    return window


DIALOGS = {
    "bench": lambda window: window.tools.bench.dialog,
    "labels": lambda window: LabelDialog(label_sheets(), window),
    "claims": lambda window: ClaimsDialog((), window),
    "figures": lambda window: FiguresDialog("6SN7GTB", window),
    "paper": lambda window: PaperDialog("Report", ("A1",), paged=True, parent=window),
    "decision": lambda window: DecisionDialog("Refuse", "?", "", noted=True, parent=window),
}


@pytest.fixture(params=["start", "lot", "sets", "help", *DIALOGS])
def shown(request, window, fill_lot):
    """Return each face of the program in turn."""
    if request.param in DIALOGS:
        dialog = DIALOGS[request.param](window)
        dialog.show()
        dialog.activateWindow()
        QApplication.processEvents()
        return dialog
    if request.param == "sets":
        fill_lot(window.lot)
        window.actions_.matching.trigger()
    if request.param == "lot":
        fill_lot(window.lot)
        window.actions_.problems.setChecked(True)
    if request.param == "help":
        window.actions_.help.trigger()
        return window.findChild(HelpWindow)
    QApplication.processEvents()
    return window


def test_whatever_takes_the_focus_has_a_name_that_can_be_spoken(shown):
    widgets = focusable(shown)
    assert widgets
    assert not [type(one).__name__ + one.objectName() for one in widgets if not spoken_name(one)]


def test_tab_comes_to_everything_that_takes_the_focus(shown, qtbot):
    widgets = focusable(shown)
    reached = pressed_through(shown, widgets[0])
    missed = [spoken_name(one) for one in widgets if one not in reached and one.isVisible()]
    assert not missed


def test_tab_goes_on_as_the_eye_does(lot_window):
    order = pressed_through(lot_window, lot_window.tubes.filter_field)
    wanted = (
        lot_window.tubes.filter_field,
        lot_window.tubes.view,
        lot_window.words.findings,
        lot_window.curves.plot,
        lot_window.problem_list.view,
    )
    places = [order.index(part) for part in wanted]
    assert places == sorted(places)


def test_every_button_has_an_action_a_letter_or_a_place_in_the_order_of_tab(lot_window):
    for button in lot_window.findChildren(QAbstractButton):
        if not button.isVisible() or not button.text():
            continue
        by_tab = bool(button.focusPolicy() & Qt.FocusPolicy.TabFocus)
        action = getattr(button, "defaultAction", lambda: None)()
        in_menu = action is not None and action in lot_window.actions()
        assert by_tab or in_menu, button.text()


def test_no_two_entries_of_a_menu_share_their_letter(window):
    for menu in window.menuBar().findChildren(QMenu):
        letters = [QKeySequence.mnemonic(action.text()).toString() for action in menu.actions()]
        letters = [letter for letter in letters if letter]
        assert len(letters) == len(set(letters)), (menu.title(), sorted(letters))


def test_text_grows_shrinks_and_returns_with_the_usual_keys(window, qtbot, settings_file):
    usual = QApplication.font().pointSizeF()
    for key, growth in (("=", 1), ("=", 2), ("-", 1), ("0", 0)):
        qtbot.keyClick(window, key, Qt.KeyboardModifier.ControlModifier)
        assert QApplication.font().pointSizeF() == pytest.approx(usual + growth)
        assert window._settings.growth == growth


# What takes words for the screen, and which of its arguments they are.
SHOWING = {
    "setText", "setToolTip", "setWindowTitle", "setAccessibleName", "setPlaceholderText",
    "setStatusTip", "addTab", "setTabText", "addAction", "QLabel", "QPushButton", "QAction",
    "QMenu", "addMenu", "showMessage", "setLabelText", "QCheckBox", "QGroupBox", "setTitle",
    "addRow",
}  # fmt: skip


SENTENCE = re.compile(r"[^\W\d_]{2,} +\(?[^\W\d_]{2,}")  # two words beside each other
MARKUP = re.compile(r"<[^>]*>?")
NOT_SHOWN = {"setStyleSheet", "compile"}


def spelled_out(source: str) -> list[str]:
    """Return literals of words that go to the screen without being translated.

    In a call that shows its arguments a single word is enough; anywhere else it is two of them.
    Messages of exceptions stay as the lower rooms write theirs.
    """
    tree = ast.parse(source)
    parents = {child: node for node in ast.walk(tree) for child in ast.iter_child_nodes(node)}
    found = []
    for node in ast.walk(tree):
        if not isinstance(node, ast.Constant) or not isinstance(node.value, str):
            continue
        above = parents[node]
        if isinstance(above, ast.Expr):  # a docstring
            continue
        direct = parents[above] if isinstance(above, ast.JoinedStr) else above
        calls = []
        while not isinstance(above, ast.stmt):
            if isinstance(above, ast.Call):
                calls.append(getattr(above.func, "attr", getattr(above.func, "id", "")))
            above = parents[above]
        raised = isinstance(above, ast.Raise)
        if raised or {"tr", "_tr", "translate", *NOT_SHOWN} & {*calls}:
            continue
        text = MARKUP.sub("", node.value)
        shown = isinstance(direct, ast.Call) and calls[:1] and calls[0] in SHOWING
        words = any(sign.isalpha() for sign in text) and not text.strip(" –").startswith("curvelab")
        if SENTENCE.search(text) or (shown and words):
            found.append(f"{node.lineno}: {node.value}")
    return found


def test_words_for_the_screen_go_through_the_translator():
    found = {
        str(path.relative_to(PACKAGE)): words
        for path in sorted((PACKAGE / "window").rglob("*.py"))
        if (words := spelled_out(path.read_text(encoding="utf-8")))
    }
    assert not found


@pytest.mark.parametrize(
    "code",
    [
        'label.setText("words")',
        'label.setText(f"{count} words")',
        'told = f"{name}, found again" if again else name',
        'yield "<p><b>Rows set aside</b></p><ul>"',
        'WORDS = {1: "not fit for use"}',
    ],
)
def test_the_check_of_untranslated_words_sees_one(code):
    assert spelled_out(f"def one(): {code}" if code.startswith("yield") else code)


@pytest.mark.parametrize(
    "code",
    [
        'label.setText(self.tr("words"))',
        'label.setText(f"{sign} {name}")',
        'label.setStyleSheet(f"color: {ink}; font-weight: bold")',
        'told = _tr("{0}, found again").format(name)',
        'box.setTitle("<b>")',
        'raise OutputError(f"cannot print to {printer}")',
    ],
)
def test_the_check_of_untranslated_words_lets_the_others_be(code):
    assert spelled_out(code) == []
