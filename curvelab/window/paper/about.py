"""What a paper is about."""

from __future__ import annotations

from dataclasses import dataclass

from curvelab.workbench.lot_paper import Wanted

__all__ = ["About"]


@dataclass(frozen=True, slots=True)
class About:
    """What a person wants on paper; nothing named is all of the lot file.

    Attributes
    ----------
    page : str or None
        ``A4`` or ``Letter``; None where the locale decides.
    """

    serials: tuple[str, ...] = ()
    sets: tuple[str, ...] = ()
    graded: bool = True
    page: str | None = None

    @property
    def wanted(self) -> Wanted:
        """The tubes and sets to be gathered."""
        return Wanted(serials=self.serials, sets=self.sets, graded=self.graded)
