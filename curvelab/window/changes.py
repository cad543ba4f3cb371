"""What can be undone, as Qt's undo stack wants it."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtGui import QUndoCommand

__all__ = ["Change"]


class Change(QUndoCommand):
    """A change with its name, how it is done, and how it is taken back.

    Parameters
    ----------
    done : bool
        Whether it has been done already: the stack calls for it when it is put there.
    """

    def __init__(
        self,
        words: str,
        do: Callable[[], object],
        back: Callable[[], object],
        *,
        done: bool = False,
    ) -> None:
        super().__init__(words)
        self._do, self._back, self._done = do, back, done

    def redo(self) -> None:
        """Do it, or do it again."""
        if self._done:
            self._done = False
        else:
            self._do()

    def undo(self) -> None:
        """Take it back."""
        self._back()
