"""Who may take part in a matching, and why the others may not."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Sequence

from curvelab.errors import MatchingInputError
from curvelab.matching.records import Candidate, Excluded, MatchRequest, Measure

__all__ = ["eligible", "reasons_against"]


def eligible(
    candidates: Sequence[Candidate], request: MatchRequest
) -> tuple[list[Candidate], tuple[Excluded, ...]]:
    """Return the tubes that may take part, and the others with all their reasons.

    Raises
    ------
    MatchingInputError
        If two candidates have one key, or a locked or sold set names a tube twice or one
        that is not there.
    """
    keys = [tube.key for tube in candidates]
    if len(set(keys)) < len(keys):
        double = next(key for key in keys if keys.count(key) > 1)
        raise MatchingInputError(f"two tubes are called {double!r}: every tube needs a name")
    locked, sold = _members(request.locked, keys), _members(request.sold, keys)
    if both := locked & sold:
        raise MatchingInputError(f"tube {min(both)!r} is both in a locked and in a sold set")
    taking_part, excluded = [], []
    for tube in candidates:
        if tube.key in locked:
            continue
        reasons = (*reasons_against(tube, request), *_of_lot(tube, request, sold))
        if reasons:
            excluded.append(Excluded(tube.key, reasons))
        else:
            taking_part.append(tube)
    return taking_part, tuple(excluded)


def reasons_against(
    tube: Candidate, request: MatchRequest, measures: Collection[Measure] | None = None
) -> tuple[str, ...]:
    """Return why a tube by itself may not be matched; none where it may."""
    wanted = request.measures if measures is None else measures
    return (*tube.excluded, *_missing(tube, wanted), *_unbalanced(tube, request))


def _members(sets: Sequence[Sequence[str]], keys: Collection[str]) -> set[str]:
    known = set(keys)
    found: set[str] = set()
    for one in sets:
        for key in one:
            if key not in known:
                raise MatchingInputError(f"a set holds tube {key!r}, which is not in the lot")
            if key in found:
                raise MatchingInputError(f"tube {key!r} is in two sets")
            found.add(key)
    return found


def _missing(tube: Candidate, measures: Collection[Measure]) -> Iterator[str]:
    if not tube.sections:
        yield "has no measurement"
    for section in tube.sections:
        where = "" if section.name is None else f"section {section.name}: "
        for measure in measures:
            if not section.has(measure):
                why = section.missing.get(measure)
                yield f"{where}no {measure}" + (f" ({why})" if why else "")


def _unbalanced(tube: Candidate, request: MatchRequest) -> Iterator[str]:
    limit = request.section_balance
    currents = [s.plate_current.value for s in tube.sections if s.plate_current is not None]
    if limit is None or len(currents) < 2 or min(currents) <= 0:
        return
    difference = 2.0 * math.tanh(math.log(max(currents) / min(currents)) / 2.0)
    if difference > limit:
        yield (
            f"its sections' plate currents differ by {100 * difference:.1f} %, "
            f"more than {100 * limit:g} %"
        )


def _of_lot(tube: Candidate, request: MatchRequest, sold: Collection[str]) -> Iterator[str]:
    if tube.key in sold:
        yield "sold"
    if request.across is not None and tube.lot not in request.across:
        yield "is in neither of the two lots"
