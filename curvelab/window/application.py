"""Starting the window."""

from __future__ import annotations

import sys
import traceback
from collections.abc import Sequence
from pathlib import Path
from types import TracebackType

from PySide6.QtCore import QSettings
from PySide6.QtWidgets import QApplication

from curvelab.window.collector import Collector
from curvelab.window.help_pages import show_failure
from curvelab.window.main_window import MainWindow
from curvelab.window.settings import Settings
from curvelab.window.tasks import Failure
from curvelab.window.theme import Theme

__all__ = ["main"]


def main(paths: Sequence[str | Path] = (), bench: Path | None = None) -> int:
    """Show the window on files and folders; return the exit status once it is closed.

    With a ``bench`` description the files of this run are read as it says.
    """
    found = QApplication.instance()
    application = found if isinstance(found, QApplication) else QApplication(["curvelab"])
    application.setApplicationName("curvelab")
    window = MainWindow(Theme(application), Settings(QSettings("curvelab", "curvelab")))
    previous = _last_resort(window)
    window.show()
    collector = Collector(window)
    if bench is not None:
        window.intake.use_bench(bench)
    window.begin([Path(path) for path in paths])
    try:
        return application.exec()
    finally:
        sys.excepthook = previous
        collector.stop()


def _last_resort(window: MainWindow):  # type: ignore[no-untyped-def]
    """Show what nothing else caught, in a window that can be closed, and go on."""
    previous = sys.excepthook

    def show(kind: type[BaseException], error: BaseException, trace: TracebackType | None) -> None:
        if isinstance(error, KeyboardInterrupt):
            window.close()
            return
        details = "".join(traceback.format_exception(kind, error, trace))
        show_failure(window, Failure(f"{kind.__name__}: {error}", details))

    sys.excepthook = show
    return previous
