"""How long a search may go on."""

from __future__ import annotations

from collections.abc import Callable
from time import monotonic

__all__ = ["Patience", "StoppedError"]


_QUIET = 0.2  # s


class StoppedError(RuntimeError):
    """The search has gone on for long enough; caught within the room, never seen outside."""


class Patience:
    """A time limit, and somebody who may want to stop earlier.

    Parameters
    ----------
    should_stop : callable
        Asked at each check.
    seconds : float
    tell : callable
        Called at a check where some time has gone by since the last time.
    """

    def __init__(
        self,
        should_stop: Callable[[], bool],
        seconds: float,
        tell: Callable[[], None] = lambda: None,
    ) -> None:
        self._should_stop = should_stop
        self._end = monotonic() + seconds
        self._tell = tell
        self._told = monotonic()

    def part(self, share: float) -> Patience:
        """Return patience for a share of the time that is left."""
        return Patience(self._should_stop, share * (self._end - monotonic()), self._tell)

    def at_most(self, seconds: float) -> Patience:
        """Return patience for so long, if there is as much."""
        return Patience(self._should_stop, min(seconds, self._end - monotonic()), self._tell)

    def check(self) -> None:
        """Go on, or not.

        Raises
        ------
        StoppedError
            If the time is over or somebody wants to stop.
        """
        now = monotonic()
        if now > self._told + _QUIET:
            self._told = now
            self._tell()
        if self._should_stop() or now > self._end:
            raise StoppedError
