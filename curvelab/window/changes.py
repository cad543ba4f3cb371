"""What can be undone: exchanges of entries of the list, and changes of the lot file."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from PySide6.QtGui import QUndoCommand

from curvelab.workbench.session import Entry

__all__ = ["Exchange", "FiledChange"]

Put = Callable[[tuple[Entry, ...], tuple[Entry, ...]], None]
Write = Callable[[], None]


class Exchange(QUndoCommand):
    """Entries of the list in the place of others; without any, they are taken off.

    Parameters
    ----------
    put : callable
        Takes the entries that go and those that come.
    """

    def __init__(self, words: str, put: Put, old: Iterable[Entry], new: Iterable[Entry]) -> None:
        super().__init__(words)
        self._put, self._old, self._new = put, tuple(old), tuple(new)

    def redo(self) -> None:
        """Do it, or do it again."""
        self._put(self._old, self._new)

    def undo(self) -> None:
        """Put things back as they were."""
        self._put(self._new, self._old)


class FiledChange(QUndoCommand):
    """A change of the lot file that has been written; undone and done again in the background."""

    def __init__(self, words: str, again: Write, back: Write) -> None:
        super().__init__(words)
        self._again, self._back = again, back
        self._written = True  # the stack calls for it once more when it is put there

    def redo(self) -> None:
        """Write it again."""
        if self._written:
            self._written = False
        else:
            self._again()

    def undo(self) -> None:
        """Write what was there before."""
        self._back()
