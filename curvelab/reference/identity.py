"""Which type of the library do these curves look like?"""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["Candidate", "Identity"]


@dataclass(frozen=True, slots=True)
class Candidate:
    """A type, or a class of types the bench could not tell apart.

    ``odds`` is the posterior probability among the library's classes, with equal priors.
    """

    type_names: tuple[str, ...]
    odds: float
    deviation: float


@dataclass(frozen=True, slots=True)
class Identity:
    """Candidates, likeliest first."""

    candidates: tuple[Candidate, ...]

    def rank_of(self, type_name: str) -> Candidate | None:
        """Return the candidate that holds a type."""
        return next((c for c in self.candidates if type_name in c.type_names), None)
