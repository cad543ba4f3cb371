"""Is Qt there to draw with? The only module of this package that loads without it."""

from __future__ import annotations

import ctypes
import os
import sys
from functools import cache
from typing import TYPE_CHECKING

from curvelab.errors import DrawingUnavailableError

if TYPE_CHECKING:
    from PySide6.QtCore import QCoreApplication

__all__ = ["DEBIAN_PACKAGES", "require_drawing"]

# What a bare Debian 12 lacks for drawing without a screen, found by adding one at a time.
DEBIAN_PACKAGES = (
    "libglib2.0-0",
    "libgl1",
    "libxkbcommon0",
    "libegl1",
    "libfontconfig1",
    "libdbus-1-3",
)
# Needed by Qt's own plug-in for drawing without a screen, which ends the process without it.
_PLUGIN_LIBRARY = "libfontconfig.so.1"


def require_drawing() -> None:
    """Make sure that pages and pictures can be painted, with or without a screen.

    On Linux nothing painted here needs a screen, so none is asked for, unless the user
    chose a platform for Qt or a window is already up.

    Raises
    ------
    DrawingUnavailableError
        If PySide6 or a system library it stands on is missing.
    """
    _application()


@cache
def _application() -> QCoreApplication:
    try:
        # Imported here: the rest of the program must run where Qt is missing.
        from PySide6.QtCore import QCoreApplication  # noqa: PLC0415
        from PySide6.QtGui import QGuiApplication  # noqa: PLC0415

        if sys.platform.startswith("linux"):
            ctypes.CDLL(_PLUGIN_LIBRARY)
    except (ImportError, OSError) as error:
        raise DrawingUnavailableError(_advice(error)) from error
    arguments = ["curvelab"]
    if sys.platform.startswith("linux") and "QT_QPA_PLATFORM" not in os.environ:
        arguments += ["-platform", "offscreen"]
    return QCoreApplication.instance() or QGuiApplication(arguments)


def _advice(error: Exception) -> str:
    if isinstance(error, ModuleNotFoundError):
        return "nothing can be drawn: PySide6 is not installed (pip install PySide6-Essentials)"
    return (
        f"nothing can be drawn: {error}; on Debian or Ubuntu install "
        f"{' '.join(DEBIAN_PACKAGES)} (apt-get install ...)"
    )
