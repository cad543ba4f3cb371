"""Matched sets and mates as plain values, for machines: fractions become percent here."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from curvelab import __version__
from curvelab.matching.records import (
    Difference,
    Excluded,
    LeftOver,
    MatchRequest,
    MatchResult,
    MatchSet,
    MateRanking,
    Neighbour,
    WhatIf,
)
from curvelab.sheets.text import plain

__all__ = [
    "HeldSet",
    "match_document",
    "matches_document",
    "mate_document",
    "mates_document",
    "set_record",
    "what_if_document",
]

_DIGITS = 6  # of a percentage: beyond what any bench tells


@dataclass(frozen=True, slots=True)
class HeldSet:
    """What a lot file knows of a set.

    Attributes
    ----------
    name : str or None
        What it is called there; None where it is not kept.
    against : tuple of Excluded
        Its tubes that would be in no set today, and why.
    """

    name: str | None = None
    against: tuple[Excluded, ...] = ()


def match_document(result: MatchResult) -> dict[str, Any]:
    """Return the sets of a lot.

    ``spread_pct`` is the largest difference of any two tubes of a set, in percent of their
    mean, by the measure that decides; ``of_tolerance`` is the same in units of its tolerance;
    ``distinguishable`` is null where nobody knows an uncertainty. ``left_over`` has the keys of
    the tubes in no set, ``nearest`` their nearest partners, of all tubes and of those that
    are free. ``gap_pct`` is how far the result may be from the best one.
    """
    return {
        "sets": [_set(one) for one in result.sets],
        "left_over": [plain(one.key) for one in result.left_over],
        "nearest": [_left_over(one) for one in result.left_over],
        "excluded": [_excluded(one) for one in result.excluded],
        "proven": result.proven,
        "gap_pct": _percent(result.gap),
        "most_sets": result.most_sets,
    }


def matches_document(
    result: MatchResult,
    request: MatchRequest,
    held: Sequence[HeldSet],
    regions: Mapping[str, str],
    counts: tuple[WhatIf, ...] | None = None,
) -> dict[str, Any]:
    """Return the sets of a lot file, schema ``curvelab.matches/1``.

    Parameters
    ----------
    held : sequence of HeldSet
        What the lot file knows of each set.
    """
    found = match_document(result)
    named = [
        {
            **entry,
            "name": None if known.name is None else plain(known.name),
            "against": [_excluded(one) for one in known.against],
        }
        for entry, known in zip(found["sets"], held, strict=True)
    ]
    return {
        "schema": "curvelab.matches/1",
        "made_with": f"curvelab {__version__}",
        **_asked(request),
        "size": request.size,
        "spares": request.spare,
        **found,
        "sets": named,
        "regions": [
            {"type": plain(name), "region": plain(words)} for name, words in regions.items()
        ],
        "what_if": None if counts is None else what_if_document(counts),
    }


def set_record(one: MatchSet, request: MatchRequest) -> dict[str, Any]:
    """Return a set as a lot file keeps it beside its members: how it was matched."""
    return {**_set(one), **_asked(request)}


def mates_document(ranking: MateRanking, request: MatchRequest) -> dict[str, Any]:
    """Return the stock of a lot file against one tube, schema ``curvelab.mates/1``."""
    return {
        "schema": "curvelab.mates/1",
        "made_with": f"curvelab {__version__}",
        **_asked(request),
        **mate_document(ranking),
    }


def _asked(request: MatchRequest) -> dict[str, Any]:
    return {
        "by": [measure.value for measure in request.measures],
        "tolerance_pct": _percent(request.tolerance),
    }


def what_if_document(counts: tuple[WhatIf, ...]) -> list[dict[str, Any]]:
    """Return how many sets there would be at several tolerances."""
    return [
        {"tolerance_pct": _percent(one.tolerance), "sets": one.sets, "proven": one.proven}
        for one in counts
    ]


def mate_document(ranking: MateRanking) -> dict[str, Any]:
    """Return the stock ranked against one tube, nearest first."""
    return {
        "tube": plain(ranking.key),
        "by": [measure.value for measure in ranking.measures],
        "mates": [
            {
                "tube": plain(mate.key),
                **_difference(mate.difference),
                "within_tolerance": mate.within,
            }
            for mate in ranking.mates
        ],
        "excluded": [_excluded(one) for one in ranking.excluded],
    }


def _set(one: MatchSet) -> dict[str, Any]:
    return {
        "tubes": [plain(key) for key in one.tubes],
        "spare": [plain(key) for key in one.spare],
        **_difference(one.spread),
        "locked": one.locked,
    }


def _difference(difference: Difference | None) -> dict[str, Any]:
    if difference is None:
        return dict.fromkeys(("spread_pct", "u95_pct", "of_tolerance", "distinguishable"))
    return {
        "spread_pct": _percent(difference.fraction),
        "u95_pct": _percent(difference.u95),
        "of_tolerance": _percent(difference.of_tolerance / 100.0),
        "distinguishable": difference.distinguishable,
    }


def _left_over(one: LeftOver) -> dict[str, Any]:
    return {
        "tube": plain(one.key),
        "partner": _neighbour(one.nearest),
        "free_partner": _neighbour(one.nearest_free),
    }


def _neighbour(neighbour: Neighbour | None) -> dict[str, Any] | None:
    if neighbour is None:
        return None
    return {"tube": plain(neighbour.key), **_difference(neighbour.difference)}


def _excluded(one: Excluded) -> dict[str, Any]:
    return {"tube": plain(one.key), "reasons": [plain(reason) for reason in one.reasons]}


def _percent(fraction: float | None) -> float | None:
    if fraction is None or not math.isfinite(fraction):
        return None
    return float(f"{100.0 * fraction:.{_DIGITS}g}")
