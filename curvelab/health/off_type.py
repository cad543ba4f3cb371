"""Off-type: the curves are those of another type than the label says."""

from __future__ import annotations

from collections.abc import Iterator

from curvelab.health.case import Case
from curvelab.health.records import Finding, FindingCode, Severity
from curvelab.reference.identity import Candidate, Identity

__all__ = ["find", "is_another_type"]

# The other type must not only be likelier but fit: what it takes is within so many squares of the
# spreads among tubes of a type, or a small share of what the label would take (house rule).
_FITS, _CLEARLY_BETTER = 16.0, 0.3
_LEFT_OPEN = 0.05  # of the best one's odds, from which on another type is named (house rule)


def find(case: Case) -> Iterator[Finding]:
    """Name the type that the curves fit clearly better than the one on the label."""
    found = _other_type(case, case.identity)
    if found is None:
        return
    (best, labelled), limits = found, case.limits
    assert case.tube_type is not None  # or nothing was found
    yield Finding(
        code=FindingCode.OFF_TYPE,
        severity=Severity.CAUTION,
        evidence=(
            f"The curves lie {100 * labelled.deviation:.0f} % from the family of "
            f"{case.tube_type.name} on the label and {100 * best.deviation:.0f} % from that of "
            f"{_names(best)}: of these two the odds are {_odds(best, labelled)} for the latter."
            f"{_third(case.identity, best, labelled)}"
        ),
        value=100 * labelled.deviation,
        unit="%",
        limit=limits.off_type_deviation.printed,
        limit_source=limits.off_type_deviation.source,
    )


def is_another_type(case: Case) -> bool:
    """Tell whether all readings, and the lower currents alone, are clearly another type's.

    A worn cathode bends the curves at their top only; a wrong label is wrong everywhere.
    """
    return all(_other_type(case, ranked) for ranked in (case.identity, case.low_identity))


def _other_type(case: Case, ranked: Identity | None) -> tuple[Candidate, Candidate] | None:
    """Return the best candidate and the label's, where the first is clearly the better."""
    if ranked is None or case.tube_type is None or not ranked.candidates:
        return None
    limits, best = case.limits, ranked.candidates[0]
    labelled = ranked.rank_of(case.tube_type.name)
    if labelled is None or labelled is best:
        return None
    # Against the label's own class: that a third type fits as well leaves the label wrong.
    likelier = best.odds >= limits.off_type_odds.value * (best.odds + labelled.odds)
    outside = labelled.deviation > limits.off_type_deviation.value
    fits = best.misfit < max(_FITS, _CLEARLY_BETTER * labelled.misfit)
    clearly = fits and best.deviation < labelled.deviation
    return (best, labelled) if likelier and outside and clearly else None


def _third(ranked: Identity | None, best: Candidate, labelled: Candidate) -> str:
    """Name a third class that the curves do not rule out, or nothing."""
    others = [c for c in ranked.candidates if c is not best and c is not labelled] if ranked else []
    if not others or others[0].odds < _LEFT_OPEN * best.odds:
        return ""
    share = 100 * others[0].odds / best.odds
    return f" It may be {_names(others[0])} as well: {share:.0f} % as likely."


def _names(candidate: Candidate) -> str:
    return " or ".join(candidate.type_names)


def _odds(best: Candidate, labelled: Candidate) -> str:
    ratio = best.odds / max(labelled.odds, 1e-6)
    return "more than 10000 to 1" if ratio > 1e4 else f"{ratio:.0f} to 1"
