"""What a paper is about."""

from __future__ import annotations

from dataclasses import dataclass

from curvelab.workbench.lot_paper import Proposal, Wanted

__all__ = ["ALL", "About"]


@dataclass(frozen=True, slots=True)
class About:
    """What a person wants on paper; nothing named is all of the lot file.

    Attributes
    ----------
    proposed : tuple of Proposal
        Sets that the lot file does not hold.
    page : str or None
        ``A4`` or ``Letter``; None where the locale decides.
    """

    serials: tuple[str, ...] = ()
    sets: tuple[str, ...] = ()
    proposed: tuple[Proposal, ...] = ()
    graded: bool = True
    page: str | None = None

    @property
    def wanted(self) -> Wanted:
        """The tubes and sets to be gathered."""
        return Wanted(
            serials=self.serials, sets=self.sets, proposed=self.proposed, graded=self.graded
        )

    @property
    def settled(self) -> bool:
        """Whether it is settled already which sets it is about."""
        return bool(self.sets or self.proposed)


ALL = About()
