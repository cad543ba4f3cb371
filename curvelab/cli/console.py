"""What is said on the terminal: results on standard output, the rest on standard error."""

from __future__ import annotations

import io
import shutil
import sys
import time

__all__ = ["Progress", "note", "show", "show_bytes", "width"]

_WIDTH_WITHOUT_TERMINAL = 120
_BETWEEN_UPDATES = 0.05  # [s]: faster than an eye, slower than a terminal


def width() -> int:
    """Return the columns there are to write on."""
    return shutil.get_terminal_size((_WIDTH_WITHOUT_TERMINAL, 24)).columns


def note(text: str) -> None:
    """Say one line on standard error."""
    line = " ".join(text.split())
    sys.stderr.write(f"curvelab: {line}\n")
    sys.stderr.flush()


def show(text: str) -> None:
    """Write a text for people on standard output, whatever its encoding can hold."""
    if isinstance(sys.stdout, io.TextIOWrapper):
        sys.stdout.reconfigure(errors="replace")
    sys.stdout.write(text)


def show_bytes(content: bytes) -> None:
    """Write a result for programs on standard output as it is."""
    sys.stdout.flush()
    sys.stdout.buffer.write(content)
    sys.stdout.buffer.flush()


class Progress:
    """A counter on standard error, seen only where that is a terminal.

    Used as a context manager, so that the counter is gone before anything else is said.
    """

    def __init__(self, doing: str = "") -> None:
        self._doing = f"{doing} " if doing else ""
        self._seen = sys.stderr.isatty()
        self._written = 0
        self._last = 0.0

    def __enter__(self) -> Progress:
        return self

    def __exit__(self, *_: object) -> None:
        self._write("")

    def __call__(self, done: int, total: int, name: str) -> None:
        """Show that ``done`` of ``total`` are done, ``name`` the latest."""
        now = time.monotonic()
        if now - self._last >= _BETWEEN_UPDATES:
            self._last = now
            self._write(f"{self._doing}{done} of {total}  {name}")

    def _write(self, text: str) -> None:
        if not self._seen:
            return
        line = "".join(char if char.isprintable() else " " for char in text)[: width() - 1]
        sys.stderr.write(f"\r{line:<{self._written}}")
        sys.stderr.write("\r" if not line else "")
        sys.stderr.flush()
        self._written = len(line)
