"""What the desks of the window work with."""

from __future__ import annotations

from dataclasses import dataclass

from PySide6.QtWidgets import QMainWindow

from curvelab.window.actions import Actions
from curvelab.window.files import FileDialogs
from curvelab.window.lot import Lot
from curvelab.window.settings import Settings
from curvelab.window.tasks import TaskQueue
from curvelab.window.theme import Theme
from curvelab.window.tube_list import TubeList

__all__ = ["Around"]


@dataclass(frozen=True, slots=True, eq=False)
class Around:
    """The window, what it shows, and its means of asking, working and remembering."""

    window: QMainWindow
    lot: Lot
    tasks: TaskQueue
    tubes: TubeList
    actions: Actions
    dialogs: FileDialogs
    settings: Settings
    theme: Theme
