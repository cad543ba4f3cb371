"""Off-type: the curves are those of another type than the label says."""

from __future__ import annotations

from collections.abc import Iterator

from curvelab.health.case import Case
from curvelab.health.records import Finding, FindingCode, Severity
from curvelab.reference.identity import Candidate

__all__ = ["find"]

# The other type must not only be likelier but fit: less than this share of the label's miss.
_CLEARLY_BETTER = 0.5


def find(case: Case) -> Iterator[Finding]:
    """Name the type that the curves fit clearly better than the one on the label."""
    if case.identity is None or case.tube_type is None or not case.identity.candidates:
        return
    limits, best = case.limits, case.identity.candidates[0]
    labelled = case.identity.rank_of(case.tube_type.name)
    if labelled is None or labelled is best:
        return
    # Against the label's own class: that a third type fits as well leaves the label wrong.
    likelier = best.odds >= limits.off_type_odds.value * (best.odds + labelled.odds)
    outside = labelled.deviation > limits.off_type_deviation.value
    if not (likelier and outside and best.deviation < _CLEARLY_BETTER * labelled.deviation):
        return
    yield Finding(
        code=FindingCode.OFF_TYPE,
        severity=Severity.CAUTION,
        evidence=(
            f"The curves lie {100 * labelled.deviation:.0f} % from the family of "
            f"{case.tube_type.name} on the label and {100 * best.deviation:.0f} % from that of "
            f"{' or '.join(best.type_names)}: the odds are {_odds(best, labelled)} that it is the "
            "latter."
        ),
        value=100 * labelled.deviation,
        unit="%",
        limit=limits.off_type_deviation.printed,
        limit_source=limits.off_type_deviation.source,
    )


def _odds(best: Candidate, labelled: Candidate) -> str:
    ratio = best.odds / max(labelled.odds, 1e-6)
    return "more than 10000 to 1" if ratio > 1e4 else f"{ratio:.0f} to 1"
