"""Asking for file names, in dialogs that never block the window."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import QCoreApplication, QMimeData
from PySide6.QtWidgets import QFileDialog, QWidget

from curvelab.window.settings import Settings

__all__ = ["FileDialogs", "dropped_paths"]

Receive = Callable[[list[Path]], None]


def dropped_paths(data: QMimeData) -> list[Path]:
    """Return the files and folders of what is dragged over the window."""
    return [Path(url.toLocalFile()) for url in data.urls() if url.isLocalFile()]


class FileDialogs:
    """Asks for files and folders; the answer comes to ``receive``, unless there is none."""

    def __init__(self, parent: QWidget, settings: Settings) -> None:
        self._parent, self._settings = parent, settings

    def ask_files(self, receive: Receive) -> None:
        """Ask which sweep files to open."""
        dialog = self._dialog(_tr("Open sweep files"), QFileDialog.FileMode.ExistingFiles)
        dialog.setNameFilters([_tr("Sweep files (*.csv *.tsv *.txt)"), _tr("All files (*)")])
        self._ask(dialog, receive)

    def ask_file(self, title: str, filters: list[str], receive: Receive) -> None:
        """Ask for one file that is there."""
        dialog = self._dialog(title, QFileDialog.FileMode.ExistingFile)
        dialog.setNameFilters(filters)
        self._ask(dialog, receive)

    def ask_some(self, title: str, filters: list[str], receive: Receive) -> None:
        """Ask which files to take in."""
        dialog = self._dialog(title, QFileDialog.FileMode.ExistingFiles)
        dialog.setNameFilters(filters)
        self._ask(dialog, receive)

    def ask_folder(self, title: str, receive: Receive) -> None:
        """Ask for a folder."""
        self._ask(self._dialog(title, QFileDialog.FileMode.Directory), receive)

    def ask_target(self, title: str, name: str, filters: list[str], receive: Receive) -> None:
        """Ask where to write a file; the dialog asks before one is replaced."""
        dialog = self._dialog(title, QFileDialog.FileMode.AnyFile)
        dialog.setAcceptMode(QFileDialog.AcceptMode.AcceptSave)
        dialog.setNameFilters(filters)
        dialog.setDefaultSuffix(Path(name).suffix.lstrip("."))
        dialog.selectFile(name)
        dialog.filterSelected.connect(lambda chosen: _follow_filter(dialog, chosen))
        self._ask(dialog, receive)

    def _dialog(self, title: str, mode: QFileDialog.FileMode) -> QFileDialog:
        dialog = QFileDialog(self._parent, title, self._settings.last_folder)
        dialog.setFileMode(mode)
        return dialog

    def _ask(self, dialog: QFileDialog, receive: Receive) -> None:
        def take(names: list[str]) -> None:
            self._settings.last_folder = dialog.directory().absolutePath()
            receive([Path(name) for name in names])

        dialog.filesSelected.connect(take)
        dialog.finished.connect(dialog.deleteLater)
        dialog.open()


def _follow_filter(dialog: QFileDialog, chosen: str) -> None:
    """Let the name end as the kind of file that was chosen, such as ``SVG (*.svg)``."""
    suffix = chosen.rpartition("*.")[2].rstrip(")")
    dialog.setDefaultSuffix(suffix)
    named = dialog.selectedFiles()
    if named:
        dialog.selectFile(Path(named[0]).with_suffix(f".{suffix}").name)


def _tr(text: str) -> str:
    return QCoreApplication.translate("file dialogs", text)
