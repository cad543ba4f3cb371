"""Opening the window, and saying plainly why where that cannot be."""

from __future__ import annotations

import ctypes
import os
import sys
from argparse import Namespace
from importlib.util import find_spec
from pathlib import Path

from curvelab.cli.console import note

__all__ = ["DEBIAN_PACKAGES", "run", "why_no_window"]

_NOT_SHOWN = 1
# What Qt needs for an X screen beyond drawing on Debian 12, found by adding one at a time.
DEBIAN_PACKAGES = (
    "libxcb-cursor0",
    "libxcb-icccm4",
    "libxcb-image0",
    "libxcb-keysyms1",
    "libxcb-randr0",
    "libxcb-render-util0",
    "libxcb-shape0",
    "libxcb-xkb1",
    "libxkbcommon-x11-0",
)


def run(arguments: Namespace) -> int:
    """Open the window on the paths given and return its exit status once it is closed."""
    reason = why_no_window()
    if reason is not None:
        note(f"{reason}, so the window cannot be opened; 'curvelab characterize' needs no window")
        return _NOT_SHOWN
    # Imported here: only now is it known that Qt can be loaded at all.
    from curvelab import window  # noqa: PLC0415

    return window.main(tuple(getattr(arguments, "paths", ())), getattr(arguments, "bench", None))


def why_no_window() -> str | None:
    """Return why no window can be shown, or None where one can.

    Qt ends the whole process where it finds no screen or lacks a library of the screen's
    system, so both are tried before Qt is.
    """
    if find_spec("PySide6") is None or find_spec("pyqtgraph") is None:
        return "PySide6 or pyqtgraph is not installed (pip install PySide6-Essentials pyqtgraph)"
    if not sys.platform.startswith("linux") or os.environ.get("QT_QPA_PLATFORM"):
        return None
    if os.environ.get("WAYLAND_DISPLAY"):
        return None
    if not os.environ.get("DISPLAY"):
        return "there is no screen here"
    return _why_no_x_screen()


def _why_no_x_screen() -> str | None:
    """Return why the X screen that ``DISPLAY`` names cannot be used, or None."""
    try:
        xcb = ctypes.CDLL("libxcb.so.1")
        for plugin in _plugins("libqxcb.so"):
            ctypes.CDLL(str(plugin))
    except OSError as error:
        return f"{error} (on Debian or Ubuntu: apt-get install {' '.join(DEBIAN_PACKAGES)})"
    xcb.xcb_connect.restype = ctypes.c_void_p
    connection = ctypes.c_void_p(xcb.xcb_connect(None, None))
    failed = bool(xcb.xcb_connection_has_error(connection))
    xcb.xcb_disconnect(connection)
    return f"the screen {os.environ['DISPLAY']} does not answer" if failed else None


def _plugins(name: str) -> list[Path]:
    found = find_spec("PySide6")
    folders = [] if found is None else [Path(f) for f in found.submodule_search_locations or ()]
    return [path for folder in folders for path in folder.glob(f"Qt/plugins/platforms/{name}")]
