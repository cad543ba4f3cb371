"""Behaviour: every page is there, can be found, and is reached from where it is needed."""

from __future__ import annotations

import re

import pytest
from PySide6.QtCore import Qt, QUrl

from curvelab.errors import CurvelabError
from curvelab.health.limits import HouseLimits
from curvelab.health.records import FindingCode, Verdict
from curvelab.paths import resource_folder
from curvelab.window.help.book import book_folder, load_book
from curvelab.window.help.help_window import HelpWindow

LINK = re.compile(r"\]\(#([a-z0-9-]+)\)")
ANY_LINK = re.compile(r"\]\((?!#)")


@pytest.fixture(scope="module")
def book():
    return load_book(book_folder("en"))


def test_each_finding_has_a_page_with_its_meaning_its_evidence_and_what_to_do(book):
    for code in FindingCode:
        page = book.page(code.value)
        assert page is not None, code
        meaning, shows, rest = re.split(r"^## What .+$", page.text, flags=re.MULTILINE)
        assert meaning.strip() and shows.strip(), code
        assert "\n- " in f"\n{rest.strip()}", code


def test_no_key_stands_twice_and_every_link_leads_to_a_page(book):
    keys = [page.key for page in book.pages]
    assert len(keys) == len(set(keys))
    linked = {key for page in book.pages for key in LINK.findall(page.text)}
    assert linked
    assert linked <= {*keys}
    assert not [page.key for page in book.pages if ANY_LINK.search(page.text)]  # none leads out


def test_cautions_come_first_and_name_the_dangers(book):
    first = book.pages[0]
    assert first.key == "cautions"
    for danger in (
        "lethal",
        "stored charge",
        "hot glass",
        "arcing contacts",
        "interlock",
        "rating",
    ):
        assert danger in first.text.casefold()
    assert all(verdict.value in book.page("verdicts").text for verdict in Verdict)


LIMITS = HouseLimits()


@pytest.mark.parametrize(
    ("code", "limits"),
    [
        ("gas", (LIMITS.reverse_grid_current,)),
        ("runaway", (LIMITS.pass_disagreement, LIMITS.pass_disagreement_reject)),
        ("bias-drift", (LIMITS.drift_band,)),
        ("weak-emission", (LIMITS.weak_emission, LIMITS.weak_emission_reject)),
        ("off-type", (LIMITS.off_type_odds, LIMITS.off_type_deviation)),
        ("section-imbalance", (LIMITS.section_balance,)),
        ("over-rating", (LIMITS.over_rating_caution,)),
        ("far-from-bogey", (LIMITS.far_from_bogey,)),
        ("heater-cathode", (LIMITS.heater_cathode_leakage,)),
        ("no-emission", (LIMITS.no_emission, LIMITS.no_emission_current)),
        ("short-warm-up", (LIMITS.warm_up,)),
        ("noisy", (LIMITS.noise, LIMITS.noise_caution)),
        ("disagreement", (LIMITS.disagreement,)),
    ],
)
def test_a_page_states_the_limit_that_decides(book, code, limits):
    text = " ".join(book.page(code).text.split())
    for limit in limits:
        assert re.search(rf"(?<![\d.]){limit.printed:g}(?![\d.]*\d)", text), limit
        assert limit.source.split(",")[0] in text


def test_search_wants_all_words_in_whatever_case_and_puts_titles_first(book):
    assert book.found("GAS")[0].key == "gas"
    assert {page.key for page in book.found("bleeder plug")} == {"cautions"}
    assert book.found("no such word anywhere") == ()
    assert book.found("  ") == book.pages


def test_an_unknown_language_reads_what_was_first_written():
    written = resource_folder() / "help" / "en"
    assert book_folder("en_GB") == book_folder("xx_YY") == book_folder("../../en") == written


def test_a_folder_without_pages_is_refused(tmp_path):
    with pytest.raises(CurvelabError, match="pages of help"):
        load_book(tmp_path)


@pytest.fixture
def open_help(window):
    def open_it() -> HelpWindow:
        window.actions_.help.trigger()
        (found,) = window.findChildren(HelpWindow)
        assert found.isVisible() and not found.isModal()
        return found

    return open_it


def test_f1_begins_at_the_beginning_and_the_menu_at_the_cautions(window, open_help):
    help_window = open_help()
    assert help_window.current_key == "begin"
    window.actions_.cautions.trigger()
    assert window.findChildren(HelpWindow) == [help_window]
    assert "Lethal voltage" in help_window.text.toPlainText()


def test_f1_on_a_finding_opens_its_page(window, fill_lot, qtbot):
    keys = fill_lot(window.lot)
    window.tubes.view.selectRow(1)
    window.words.tabs.setCurrentWidget(window.words.findings)
    findings = window.words.findings
    assert window.lot.session.current.key == keys[1]
    findings.setFocus()
    qtbot.waitUntil(findings.hasFocus)
    findings.setCurrentIndex(findings.model().index(0, 0))
    code = findings.explained
    assert code in set(FindingCode)
    qtbot.keyClick(findings, Qt.Key.Key_F1)
    (found,) = window.findChildren(HelpWindow)
    assert found.current_key == code


def test_searching_lists_what_is_found_and_links_turn_the_page(open_help, qtbot):
    help_window = open_help()
    qtbot.keyClicks(help_window.field, "gas ions")
    assert help_window.current_key == "gas"
    help_window.text.anchorClicked.emit(QUrl("#grid-current"))
    assert help_window.current_key == "grid-current"
    qtbot.keyClicks(help_window.field, "zzz")
    assert help_window.list.count() == 0
    help_window.show_page("noisy")  # as F1 would: the search is given up
    assert (help_window.field.text(), help_window.current_key) == ("", "noisy")
    help_window.text.anchorClicked.emit(QUrl("https://example.org/"))
    assert help_window.current_key == "noisy"


def test_the_page_of_keys_has_every_key(window, open_help):
    help_window = open_help()
    help_window.show_page("keys")
    shown = help_window.text.toPlainText()
    listed = list(window.actions_.listed())
    assert len(listed) > 20
    assert not [words for words, keys in listed if keys not in shown or words not in shown]


def test_no_two_actions_share_a_key(window):
    keys = [
        key.toString()
        for action in window.actions()
        for key in action.shortcuts()
        if not key.isEmpty()
    ]
    assert len(keys) == len(set(keys))
