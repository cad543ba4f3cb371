"""Where files come in: preview, bench in force and watched folder, joined to the lot."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from PySide6.QtCore import QObject, Qt, QTimer, Signal
from PySide6.QtGui import QAction, QActionGroup
from PySide6.QtWidgets import QMenu, QWidget

from curvelab.errors import CurvelabError
from curvelab.paths import sample_folder
from curvelab.sheets.text import plain
from curvelab.sweep.records import SourceFile
from curvelab.window.files import FileDialogs
from curvelab.window.intake.arrivals import Arrivals
from curvelab.window.intake.folder_watch import FolderWatch
from curvelab.window.intake.preview_dialog import PreviewDialog
from curvelab.window.lot import Lot
from curvelab.window.settings import Settings
from curvelab.window.theme import Theme
from curvelab.workbench.characterize import Batch, Request, files_of
from curvelab.workbench.import_preview import File, to_look_at
from curvelab.workbench.kept_benches import bench_folder, kept_benches
from curvelab.workbench.session import Problem, ProblemKind
from curvelab.workbench.watched_folder import Look

__all__ = ["IntakeDesk"]

_LATER_MS = 200


class IntakeDesk(QObject):
    """Carries out what a person wants of files that come in; ``told`` says what came of it."""

    told = Signal(str)

    def __init__(
        self, lot: Lot, theme: Theme, settings: Settings, dialogs: FileDialogs, window: QWidget
    ) -> None:
        super().__init__(window)
        self._lot, self._settings, self._dialogs = lot, settings, dialogs
        self._theme, self._window = theme, window
        self._preview: PreviewDialog | None = None
        self.watch = FolderWatch(self)
        self.watch.looked.connect(self._take_arrived)
        self.watch.ended.connect(self._forget_watch)
        self.arrivals = Arrivals(lot, self)
        self.arrivals.at_once = settings.at_once
        lot.read.connect(self._look_at_guesses)
        if settings.bench is not None:
            self.use_bench(settings.bench)
        lot.intake_changed.connect(self._remember_bench)

    @property
    def preview(self) -> PreviewDialog:
        """The dialog, made when it is first wanted."""
        if self._preview is None:
            self._preview = PreviewDialog(self._lot, self._theme, self._window)
            self._preview.wanted.connect(self._take_in)
            self._preview.dropped.connect(self.import_paths)
        return self._preview

    def ask_import(self) -> None:
        """Ask for files and show how they would be read, before any is taken in."""
        self._dialogs.ask_files(self.import_paths)

    def import_paths(self, paths: Sequence[Path]) -> None:
        """Show how files would be read, before any is taken in."""
        files, missing, _ = files_of(paths)
        for error in missing:
            self._lot.report(Problem(ProblemKind.ERROR, error.file, None, error.reason))
        self._show(files, taken=False)

    def show_reading(self) -> None:
        """Show how the files of the chosen tubes were read."""
        sources = {
            entry.assessment.sweep.source.path: entry.assessment.sweep.source
            for entry in self._lot.session.chosen
        }
        self._show(tuple(sources.values()), taken=True)

    def use_bench(self, path: Path | None) -> None:
        """Read the next files with a description; one that cannot be read is told."""
        try:
            self._lot.use_bench(path)
        except CurvelabError as error:
            name = "" if path is None else path.name
            self._lot.report(Problem(ProblemKind.ERROR, name, None, str(error)))

    def fill_benches(self, menu: QMenu) -> None:
        """List the descriptions there are, the one in force marked."""
        menu.clear()
        group = QActionGroup(menu)
        in_force = self._lot.intake.bench
        entries: list[tuple[str, Path | None]] = [
            (self.tr("&None: each file speaks for itself"), None)
        ]
        entries += [(plain(kept.name).replace("&", "&&"), kept.path) for kept in kept_benches()]
        if in_force is not None and in_force not in [path for _, path in entries]:
            entries.append((plain(in_force.name).replace("&", "&&"), in_force))
        for text, path in entries:
            action = menu.addAction(text)
            action.setCheckable(True)
            action.setChecked(path == in_force)
            action.triggered.connect(lambda _=False, path=path: self.use_bench(path))
            group.addAction(action)

    def follow(self, action: QAction) -> None:
        """Let an action that can be checked start and end the watch."""
        action.triggered.connect(self._ask_watch)
        self.watch.begun.connect(lambda _: action.setChecked(True))
        self.watch.ended.connect(lambda: action.setChecked(False))

    def show_at_once(self, on: bool) -> None:
        """Show each tube as it comes in, or leave the one looked at in its place."""
        self.arrivals.at_once = self._settings.at_once = on

    def watch_again(self) -> None:
        """Go on with the watch of the last run, once the lot of that run is back."""
        kept = self._settings.watched
        if kept is None or self.watch.folder is not None:
            return
        if self._lot.busy:
            QTimer.singleShot(_LATER_MS, self, self.watch_again)
            return
        folder, reached = kept
        self.watch.start(folder, reached)
        self.told.emit(self.tr("Watching {0} again").format(plain(str(folder))))

    def close(self) -> None:
        """Let no thread outlive the window; a watch goes on with the next run."""
        watched = self._settings.watched
        self.watch.close()
        self._settings.watched = watched
        if self._preview is not None:
            self._preview.close()
            self._preview.tasks.close()

    def _ask_watch(self, on: bool) -> None:
        action = self.sender()
        if not on:
            self.watch.stop()
            return
        if isinstance(action, QAction):
            action.setChecked(False)  # until a folder has been chosen
        self._dialogs.ask_folder(
            self.tr("Watch a folder for new sweeps"), lambda paths: self.watch.start(paths[0])
        )

    def _forget_watch(self) -> None:
        self._settings.watched = None

    def _take_arrived(self, look: Look) -> None:
        folder = self.watch.folder
        if folder is not None and look.there:
            self._settings.watched = folder, look.reached
        for error in look.errors:
            path = Path(error.file)
            self._lot.report(Problem(ProblemKind.ERROR, path.name, None, error.reason, path=path))
        if look.arrived:
            self._lot.take(look.arrived)
            names = ", ".join(plain(source.name) for source in look.arrived[:3])
            self.told.emit(self.tr("Came in from the bench: {0}").format(names))

    def _take_in(self, paths: list[Path], sources: list[SourceFile]) -> None:
        self._lot.take_again(paths, sources)

    def _look_at_guesses(self, request: Request, batch: Batch) -> None:
        """Show by itself what was guessed and changes the figures, and what is asked."""
        if [path.resolve() for path in request.paths] == [sample_folder().resolve()]:
            return  # however it was named: the story of the sample lot tells what is odd in it
        files = [file for file in to_look_at(batch) if not self.preview.has_taken(file)]
        self._show(files, taken=True, by_itself=True)

    def _show(self, files: Sequence[File], *, taken: bool, by_itself: bool = False) -> None:
        if not files:
            return
        dialog = self.preview
        dialog.add(files, taken=taken)
        # What opens by itself leaves the keyboard where a person has it.
        dialog.setAttribute(Qt.WidgetAttribute.WA_ShowWithoutActivating, by_itself)
        dialog.show()
        if not by_itself:
            dialog.raise_()
            dialog.activateWindow()

    def _remember_bench(self) -> None:
        bench = self._lot.intake.bench
        if bench is None or bench.parent == bench_folder():  # another is for this run alone
            self._settings.bench = bench
