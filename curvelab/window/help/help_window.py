"""Help beside the window: a field to search in, the list of pages, and the page."""

from __future__ import annotations

from collections.abc import Iterable

from PySide6.QtCore import QEvent, QLocale, Qt, QUrl, Signal
from PySide6.QtGui import QAction, QKeySequence, QTextDocument
from PySide6.QtWidgets import (
    QDialog,
    QDialogButtonBox,
    QLabel,
    QLineEdit,
    QListWidget,
    QListWidgetItem,
    QTextBrowser,
    QVBoxLayout,
    QWidget,
)

from curvelab.window.dividers import DividedParts
from curvelab.window.help.book import Book, Page, book_folder, load_book
from curvelab.window.room import open_as_large

__all__ = ["FIRST_PAGE", "KEYS_PAGE", "HelpWindow", "open_help"]

FIRST_PAGE, KEYS_PAGE = "begin", "keys"
_SIZE, _DIVIDED = (960, 680), (280, 680)
_KEY = Qt.ItemDataRole.UserRole


def open_help(parent: QWidget, shortcuts: Iterable[tuple[str, str]], key: str) -> HelpWindow:
    """Turn to a page in the help of a window: the one that is open, or a new one."""
    opened = parent.findChild(HelpWindow)
    window = opened if opened is not None else HelpWindow(shortcuts, parent)
    window.show_page(key)
    window.show()
    window.raise_()
    window.activateWindow()
    window.list.setFocus(Qt.FocusReason.OtherFocusReason)
    return window


class HelpWindow(QDialog):
    """Shows the pages; never blocks the window it belongs to."""

    shown = Signal(str)

    def __init__(self, shortcuts: Iterable[tuple[str, str]], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle(self.tr("Help"))
        written = load_book(book_folder(QLocale().name()))
        self._book = Book((*written.pages, self._keys_page(shortcuts)))
        self.field = QLineEdit()
        self.list = QListWidget()
        self.text = QTextBrowser()
        self._count = QLabel()
        self._make_parts()
        self._lay_out()
        self._list_pages("")
        self.show_page(FIRST_PAGE)

    def show_page(self, key: str) -> None:
        """Turn to a page; where it is not among those found, the search is given up."""
        page = self._book.page(key)
        if page is None:
            return
        if self._row(key) is None:
            self.field.clear()
        row = self._row(key)
        if row is not None:
            self.list.setCurrentRow(row)

    @property
    def current_key(self) -> str:
        """The key of the page that is shown."""
        item = self.list.currentItem()
        return str(item.data(_KEY)) if item else ""

    def changeEvent(self, event: QEvent) -> None:  # noqa: N802
        """Write the page anew in other colours: a document keeps those its links came with."""
        super().changeEvent(event)
        if event.type() is QEvent.Type.PaletteChange:
            bar = self.text.verticalScrollBar()
            place = bar.value()
            self._show()
            bar.setValue(place)

    def _make_parts(self) -> None:
        self.field.setPlaceholderText(self.tr("Search all pages"))
        self.field.setAccessibleName(self.tr("Search all pages of help"))
        self.field.setClearButtonEnabled(True)
        self.field.textChanged.connect(self._list_pages)
        self.field.returnPressed.connect(self.text.setFocus)
        self.list.setAccessibleName(self.tr("Pages of help"))
        self.list.setWordWrap(True)
        self.list.currentItemChanged.connect(self._show)
        self.text.setAccessibleName(self.tr("Page of help"))
        self.text.setOpenLinks(False)
        self.text.anchorClicked.connect(self._follow)
        search = QAction(self.tr("Search"), self)
        search.setShortcut(QKeySequence(QKeySequence.StandardKey.Find))
        search.triggered.connect(lambda: self.field.setFocus(Qt.FocusReason.ShortcutFocusReason))
        self.addAction(search)

    def _lay_out(self) -> None:
        left = QWidget()
        column = QVBoxLayout(left)
        column.setContentsMargins(0, 0, 0, 0)
        for part in (self.field, self._count, self.list):
            column.addWidget(part)
        both = DividedParts(Qt.Orientation.Horizontal)
        both.addWidget(left)
        both.addWidget(self.text)
        both.setSizes(list(_DIVIDED))
        both.setStretchFactor(1, 1)
        both.setChildrenCollapsible(False)
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Close)
        buttons.rejected.connect(self.reject)
        close = buttons.button(QDialogButtonBox.StandardButton.Close)
        close.setAutoDefault(False)  # Enter belongs to the search
        layout = QVBoxLayout(self)
        layout.addWidget(both, 1)
        layout.addWidget(buttons)
        open_as_large(self, *_SIZE)

    def _list_pages(self, text: str) -> None:
        before, pages = self.current_key, self._book.found(text)
        self.list.clear()
        for page in pages:
            item = QListWidgetItem(page.title, self.list)
            item.setData(_KEY, page.key)
        self._count.setText(self.tr("{0} of {1} pages").format(len(pages), len(self._book.pages)))
        kept = None if text.strip() else self._row(before)
        self.list.setCurrentRow(kept or 0)
        if not pages:
            self.text.setPlainText(self.tr("No page holds all of these words."))

    def _row(self, key: str) -> int | None:
        rows = range(self.list.count())
        return next((row for row in rows if self.list.item(row).data(_KEY) == key), None)

    def _show(self) -> None:
        page = self._book.page(self.current_key)
        if page is None:
            return
        self.text.document().setMarkdown(
            f"# {page.title}\n\n{page.text}",
            QTextDocument.MarkdownFeature.MarkdownDialectGitHub,
        )
        self.text.moveCursor(self.text.textCursor().MoveOperation.Start)
        self.shown.emit(page.key)

    def _follow(self, link: QUrl) -> None:
        """Turn to the page a link names; no link leads out of the book."""
        self.show_page(link.fragment())

    def _keys_page(self, shortcuts: Iterable[tuple[str, str]]) -> Page:
        """Return the page of all keys, as the actions have them now."""
        by_hand = (
            (self.tr("move along the list; with Shift or Ctrl choose several"), self.tr("arrows")),
            (self.tr("move the cursor over the plot, with Shift by more"), self.tr("arrows there")),
            (self.tr("zoom about the cursor; the whole plot"), self.tr("+ and - there; Home")),
            (self.tr("zoom and move the plot"), self.tr("wheel, drag; right drag for one axis")),
            (self.tr("show the readings of a finding"), self.tr("Enter or a click on it")),
            (self.tr("what a finding means and what to do"), self.tr("F1 on it")),
            (self.tr("go on to the next part of the window, and back"), "Tab, Shift+Tab"),
            (self.tr("open a menu by its underlined letter"), "Alt"),
        )
        rows = "\n".join(
            f"| {_cell(keys)} | {_cell(words)} |" for words, keys in (*shortcuts, *by_hand)
        )
        head = f"| {self.tr('keys')} | {self.tr('what they do')} |\n| --- | --- |"
        return Page(KEYS_PAGE, self.tr("Keys"), f"{head}\n{rows}")


def _cell(text: str) -> str:
    r"""Return a text as Markdown shows it unchanged in a table."""
    return "".join(f"\\{sign}" if sign in r"\|*_`[]<>&#+-" else sign for sign in text)
