"""How large a dialog opens, and how wide a field is."""

from __future__ import annotations

from PySide6.QtWidgets import QLineEdit, QWidget

__all__ = ["open_as_large", "show_whole_example"]

_FRAME = 40  # what the desktop puts around a window
_PADDING = 16  # of a field, around its text


def open_as_large(window: QWidget, width: int, height: int) -> None:
    """Give a window its first size, no larger than the screen it will be on."""
    room = window.screen().availableGeometry()
    window.resize(min(width, room.width()), min(height, room.height() - _FRAME))


def show_whole_example(field: QLineEdit) -> None:
    """Let a field be wide enough for the example that stands in it while it is empty."""
    written = field.fontMetrics().horizontalAdvance(field.placeholderText())
    field.setMinimumWidth(written + _PADDING)
