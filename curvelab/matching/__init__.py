"""Matched sets out of a lot: differences between tubes, best sets, mates for one tube."""

from curvelab.matching.match import match_sections, match_tubes, what_if
from curvelab.matching.mates import rank_mates
from curvelab.matching.records import Candidate, MatchRequest, MatchResult

__all__ = [
    "Candidate",
    "MatchRequest",
    "MatchResult",
    "match_sections",
    "match_tubes",
    "rank_mates",
    "what_if",
]
