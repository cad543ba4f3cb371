"""Pictures that were made once and are kept while their tubes are unchanged."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from typing import Any, TypeVar

__all__ = ["ViewCache"]

_Picture = TypeVar("_Picture")
_MOST = 400  # pictures kept; the one made first goes first


class ViewCache:
    """Keeps pictures by the tubes they are of."""

    def __init__(self) -> None:
        self._made: dict[tuple[tuple[int, ...], Hashable], Any] = {}

    def get(self, tubes: tuple[int, ...], what: Hashable, make: Callable[[], _Picture]) -> _Picture:
        """Return a picture of some tubes, made where it is not there yet."""
        name = (tubes, what)
        if name not in self._made:
            while len(self._made) >= _MOST:
                del self._made[next(iter(self._made))]
            self._made[name] = make()
        picture: _Picture = self._made[name]
        return picture

    def forget(self, tube: int) -> None:
        """Drop every picture of a tube: it has changed or is gone."""
        for name in [name for name in self._made if tube in name[0]]:
            del self._made[name]

    def clear(self) -> None:
        """Drop every picture."""
        self._made.clear()
