"""The import preview: what of each file was understood, guessed and set aside, to be put right.

It blocks nothing. Whatever a person changes is read again at once beside the window; the lot
changes when they take the files in.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from pathlib import Path

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import (
    QAction,
    QColor,
    QDragEnterEvent,
    QDropEvent,
    QKeySequence,
    QShowEvent,
)
from PySide6.QtWidgets import (
    QDialog,
    QHBoxLayout,
    QLabel,
    QListWidget,
    QListWidgetItem,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from curvelab.ingest.choices import ReadingChoices
from curvelab.sheets.text import plain
from curvelab.sweep.records import SourceFile
from curvelab.window.dividers import DividedParts
from curvelab.window.files import dropped_paths
from curvelab.window.intake.bench_box import BenchBox
from curvelab.window.intake.file_panel import FilePanel
from curvelab.window.intake.keep_dialog import KeepDialog
from curvelab.window.lot import Lot
from curvelab.window.room import open_as_large
from curvelab.window.tasks import Failure, TaskQueue
from curvelab.window.theme import Theme
from curvelab.workbench.import_preview import File, FilePreview, preview_files, settled

__all__ = ["PreviewDialog"]

_SIZE = (1120, 700)


class PreviewDialog(QDialog):
    """Files on the left, the one looked at on the right.

    Signals
    -------
    wanted : list of Path, list of SourceFile
        Files to be taken in; how they are read has been told to the lot's intake.
    dropped : list of Path
        Files and folders to be looked at too.
    """

    wanted = Signal(object, object)
    dropped = Signal(object)

    def __init__(self, lot: Lot, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle(self.tr("Import preview"))
        self.setModal(False)
        self.setAcceptDrops(True)
        self._lot, self._theme = lot, theme
        self.tasks = TaskQueue(self)  # its own: a look at a file does not wait for a long fit
        self._seen: dict[str, FilePreview] = {}
        self._turn: dict[str, int] = {}  # of the last wish to read a file; older ones are late
        self._changed: set[str] = set()
        self._taken: set[tuple[str, str]] = set()  # path and bytes that a person has taken in
        self._drafts: dict[str, ReadingChoices] = {}  # changed, but not taken in before closing
        self.files = QListWidget()
        self.files.setAccessibleName(self.tr("Files"))
        self.panel = FilePanel(theme)
        self.bench = BenchBox(lot)
        self._lay_out()
        self.files.currentItemChanged.connect(lambda *_: self._show_current())
        self.panel.changed.connect(self._change)
        self.panel.alike.connect(self._read_alike)
        self.panel.confirmed.connect(self.confirm)
        self.bench.changed.connect(self._read_with_bench)
        self.bench.keep_wanted.connect(self.ask_name)
        self.finished.connect(self._put_away)
        theme.when_changed(self._paint_theme)

    def _lay_out(self) -> None:
        self._heading = QLabel()
        self._heading.setWordWrap(True)
        left = QWidget()
        column = QVBoxLayout(left)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self._heading)
        column.addWidget(self.files, 1)
        self._across = DividedParts(Qt.Orientation.Horizontal)
        self._across.addWidget(left)
        self._across.addWidget(self.panel)
        self._across.setStretchFactor(1, 1)
        self._across.setChildrenCollapsible(False)
        self._across.setSizes([300, _SIZE[0] - 300])
        self.take_button = QPushButton(self.tr("&Take in"))
        self.take_button.clicked.connect(self.take_in)
        self.take_button.setDefault(True)
        self.next_button = QPushButton(self.tr("&Next to look at"))
        self.next_button.setShortcut(QKeySequence("F8"))
        self.next_button.setToolTip(self.tr("The next file that a person should look at (F8)"))
        self.next_button.clicked.connect(self.go_to_next)
        close = QPushButton(self.tr("Close"))
        close.setAutoDefault(False)
        close.clicked.connect(self.reject)
        line = QHBoxLayout()
        line.addWidget(self.next_button)
        line.addStretch(1)
        line.addWidget(self.take_button)
        line.addWidget(close)
        layout = QVBoxLayout(self)
        layout.addWidget(self.bench)
        layout.addWidget(self._across, 1)
        layout.addLayout(line)
        open_as_large(self, *_SIZE)
        take = QAction(self)
        take.setShortcut(QKeySequence("Ctrl+Return"))
        take.triggered.connect(self.take_button.click)
        self.addAction(take)

    def showEvent(self, event: QShowEvent) -> None:  # noqa: N802
        """Begin with the files, and with the descriptions there are by now."""
        super().showEvent(event)
        self.bench.refresh()
        self.files.setFocus(Qt.FocusReason.OtherFocusReason)

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:  # noqa: N802
        """Take files and folders here too."""
        if dropped_paths(event.mimeData()):
            event.acceptProposedAction()

    def dropEvent(self, event: QDropEvent) -> None:  # noqa: N802
        """Show how what is dropped would be read."""
        event.acceptProposedAction()
        self.dropped.emit(dropped_paths(event.mimeData()))

    def _put_away(self) -> None:
        """Show no file; what was changed but not taken in is there again the next time."""
        self.tasks.cancel()
        self._drafts |= {path: self._seen[path].choices for path in self._changed}
        self.clear()

    def clear(self) -> None:
        """Show no file."""
        self.files.clear()  # first, for it says which of them was looked at
        self._seen.clear()
        self._turn.clear()
        self._changed.clear()
        self._show_current()

    def add(self, files: Iterable[File], *, taken: bool) -> None:
        """Show more files; ``taken`` are in the lot already and are taken in only if changed."""
        intake, readings = self._lot.intake, self._lot.session.readings
        wanted: list[tuple[File, ReadingChoices]] = []
        for file in files:
            path = _path(file)
            choices = intake.choices_of(path)
            if taken:
                choices = readings.get(path, choices)
            draft = self._drafts.pop(path, choices)
            if draft != choices or not taken:
                self._changed.add(path)
            choices = draft
            if path not in self._seen:
                self._add_item(FilePreview(file, choices))
            wanted.append((file, choices))
        if self.files.currentItem() is None and self.files.count():
            self.files.setCurrentRow(0)
        self._read(wanted)

    def take_in(self) -> None:
        """Take in the files that are new or were changed, as they are read now."""
        taken = [self._seen[path] for path in self._ready()]
        for seen in taken:
            self._changed.discard(seen.path)
            self._taken.add(_identity(seen.file))
            if seen.choices != self._lot.intake.choices_of(seen.path):
                self._lot.intake.correct(seen.path, seen.choices)
        on_disk = [path for seen in taken if (path := Path(seen.path)).is_file()]
        paths = set(map(str, on_disk))
        bytes_only = [
            seen.file
            for seen in taken
            if seen.path not in paths and isinstance(seen.file, SourceFile)
        ]
        if any(map(self._is_open, self._seen.values())):
            self._show_all()
        else:
            self.close()
        if taken:
            self.wanted.emit(on_disk, bytes_only)

    def has_taken(self, file: File) -> bool:
        """Tell whether a person has looked at a file and taken it in as it is."""
        return _identity(file) in self._taken

    def confirm(self) -> None:
        """Choose for the file looked at what was guessed in it; what cannot be chosen is seen."""
        seen = self.current
        if seen is None:
            return
        self._taken.add(_identity(seen.file))
        choices = settled(seen)
        if choices != seen.choices:
            self._change(choices)
        else:
            self._show_all()

    def ask_name(self) -> None:
        """Ask for the name under which the way of reading the file looked at is kept."""
        seen = self.current
        if seen is None:
            return

        def keep(path: Path) -> None:
            self._lot.use_bench(path)
            self._read_with_bench()

        dialog = KeepDialog(settled(seen), keep, self)
        dialog.finished.connect(dialog.deleteLater)
        dialog.open()

    def go_to_next(self) -> None:
        """Go to the next file that a person should look at."""
        paths = list(self._seen)
        start = self.files.currentRow() + 1
        for at in [*range(start, len(paths)), *range(start)]:
            if self._is_open(self._seen[paths[at]]):
                self.files.setCurrentRow(at)
                return

    @property
    def current(self) -> FilePreview | None:
        """The file looked at."""
        item = self.files.currentItem()
        return None if item is None else self._seen[item.data(Qt.ItemDataRole.UserRole)]

    def _is_open(self, seen: FilePreview) -> bool:
        return seen.needs_a_person and not self.has_taken(seen.file)

    def _add_item(self, seen: FilePreview) -> None:
        self._seen[seen.path] = seen
        item = QListWidgetItem(plain(seen.name))
        item.setData(Qt.ItemDataRole.UserRole, seen.path)
        item.setToolTip(plain(seen.path))
        self.files.addItem(item)

    def _change(self, choices: ReadingChoices) -> None:
        """Read the file looked at as a person has just said."""
        seen = self.current
        if seen is not None:
            self._changed.add(seen.path)
            self._read([(seen.file, choices)])

    def _read_alike(self) -> None:
        """Read every file with the same headings as the one looked at is read."""
        seen = self.current
        if seen is None:
            return
        alike = [other for other in self._seen.values() if _headings(other) == _headings(seen)]
        self._changed |= {other.path for other in alike if other.choices != seen.choices}
        self._read([(other.file, seen.choices) for other in alike])

    def _read_with_bench(self) -> None:
        """Read the files that nobody has corrected as the bench now in force says."""
        intake = self._lot.intake
        again: list[tuple[File, ReadingChoices]] = []
        for seen in self._seen.values():
            own = seen.choices.overrules or intake.is_corrected(seen.path)
            if not own:
                choices = intake.choices_of(seen.path)
                if choices != seen.choices:
                    self._changed.add(seen.path)
                again.append((seen.file, choices))
        self._read(again)

    def _read(self, files: Sequence[tuple[File, ReadingChoices]]) -> None:
        if not files:
            return
        turns = {}
        for file, choices in files:
            path = _path(file)
            self._turn[path] = turns[path] = self._turn.get(path, 0) + 1
            self._seen[path] = replace(self._seen[path], choices=choices)

        def receive(outcome: object) -> None:
            if isinstance(outcome, Failure):
                self._heading.setText(plain(outcome.reason))
                return
            found = outcome if isinstance(outcome, tuple) else ()
            for seen in found:
                if self._turn.get(seen.path) == turns[seen.path]:
                    self._seen[seen.path] = seen
            self._show_all()

        self.tasks.start(lambda progress, stop: preview_files(files, progress, stop), receive)

    def _show_all(self) -> None:
        for row in range(self.files.count()):
            item = self.files.item(row)
            seen = self._seen[item.data(Qt.ItemDataRole.UserRole)]
            item.setText(f"{plain(seen.name)}\n    {self._state(seen)}")
            colours = self._theme.colours
            is_open = self._is_open(seen)
            item.setForeground(QColor(colours.weight["caution"] if is_open else colours.text))
        self._show_current()

    def _state(self, seen: FilePreview) -> str:
        if seen.ways:
            return self.tr("please choose a meaning")
        if seen.reading is None:
            return self.tr("cannot be read") if seen.reason else self.tr("being read")
        tubes = len(seen.reading.sweeps)
        told = self.tr("1 tube") if tubes == 1 else self.tr("{0} tubes").format(tubes)
        if seen.reading.set_aside:
            told += ", " + self.tr("{0} set aside").format(len(seen.reading.set_aside))
        if seen.weighty:
            told = self.tr("please check") + ", " + told
        return told

    def _ready(self) -> list[str]:
        return [
            path
            for path in self._seen
            if path in self._changed and self._seen[path].reading is not None
        ]

    def _show_current(self) -> None:
        self.panel.show_preview(self.current)
        look = sum(map(self._is_open, self._seen.values()))
        ready = len(self._ready())
        count = len(self._seen)
        files = self.tr("1 file") if count == 1 else self.tr("{0} files").format(count)
        self._heading.setText(
            files if not look else self.tr("{0}, {1} to look at").format(files, look)
        )
        text = self.tr("&Take in") if ready < 2 else self.tr("&Take in {0} files").format(ready)
        self.take_button.setText(text)
        self.take_button.setEnabled(ready > 0)
        self.next_button.setEnabled(look > 0)

    def _paint_theme(self) -> None:
        self._show_all()


def _path(file: File) -> str:
    return str(file) if isinstance(file, Path) else file.path


def _identity(file: File) -> tuple[str, str]:
    return _path(file), "" if isinstance(file, Path) else file.sha256


def _headings(seen: FilePreview) -> tuple[str, ...]:
    columns = () if seen.layout is None else seen.layout.columns
    return tuple(item.heading for item in columns if item.step is None)
