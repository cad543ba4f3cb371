"""Find a mate: the stock ranked against one tube, known by its figures or its curve only."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from curvelab.errors import MatchingInputError
from curvelab.matching.differences import differences
from curvelab.matching.eligible import reasons_against
from curvelab.matching.records import Candidate, Excluded, MatchRequest, Mate, MateRanking

__all__ = ["rank_mates"]


def rank_mates(tube: Candidate, stock: Sequence[Candidate], request: MatchRequest) -> MateRanking:
    """Rank the stock by its difference from one tube.

    Compared by those of the request's measures that the tube is known by. Tubes in locked
    or sold sets take no part, and neither does the tube itself where it is in the stock.

    Raises
    ------
    MatchingInputError
        If the tube is known by none of the measures.
    """
    measures = tuple(measure for measure in request.measures if tube.has(measure))
    if not measures:
        raise MatchingInputError(
            f"tube {tube.key!r} has no {' and no '.join(request.measures)} to rank by"
        )
    asked = replace(request, measures=measures)
    taken = {key: "in a locked set" for one in request.locked for key in one}
    taken |= {key: "sold" for one in request.sold for key in one}
    free, excluded = [], []
    for other in stock:
        if other.key == tube.key:
            continue
        reasons = reasons_against(other, asked)
        if other.key in taken:
            reasons = (*reasons, taken[other.key])
        if reasons:
            excluded.append(Excluded(other.key, reasons))
        else:
            free.append(other)
    known = differences([tube], free, asked)
    mates = []
    for place, other in enumerate(free):
        if not np.isfinite(known.of_tolerance[0, place]):
            excluded.append(Excluded(other.key, (_not_comparable(tube, other),)))
            continue
        difference = known.between(0, place)
        mates.append(Mate(other.key, difference, bool(known.within[0, place])))
    mates.sort(key=lambda mate: mate.difference.of_tolerance)
    return MateRanking(tube.key, measures, tuple(mates), tuple(excluded))


def _not_comparable(tube: Candidate, other: Candidate) -> str:
    if other.type_class != tube.type_class:
        return f"is a {other.type_class}, not a {tube.type_class}"
    if [s.name for s in other.sections] != [s.name for s in tube.sections]:
        return "has other sections"
    return "was measured at another operating point or over another region"
