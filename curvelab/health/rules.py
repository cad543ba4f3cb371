"""All rules in order, and what of their findings stands."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from curvelab.health import (
    clipped,
    contact,
    disagreement,
    far_from_bogey,
    grid_current,
    grid_step,
    heater_cathode,
    no_emission,
    noisy,
    not_covered,
    off_sign,
    off_type,
    over_rating,
    passes,
    reduced_heater,
    section_balance,
    series_resistor,
    short,
    swapped,
    warm_up,
    weak_emission,
)
from curvelab.health.case import Case
from curvelab.health.records import Finding, FindingCode, Severity
from curvelab.sweep.records import SweepKind

__all__ = ["RULES", "judge"]

Rule = Callable[[Case], Iterable[Finding]]

# What the file itself states, for sweeps and drift logs alike.
_STATED: tuple[Rule, ...] = (
    short.find,
    heater_cathode.find,
    swapped.find,
    off_sign.find,
    warm_up.find,
)
RULES: tuple[Rule, ...] = (
    no_emission.find,
    grid_current.find,
    series_resistor.find,
    passes.find,
    weak_emission.find,
    reduced_heater.find,
    contact.find,
    clipped.find,
    grid_step.find,
    off_type.find,
    section_balance.find,
    over_rating.find,
    noisy.find,
    disagreement.find,
    far_from_bogey.find,
    not_covered.find,
    *_STATED,
)
# A file of the same tube under a changed set-up is judged as the test that it is: its curves are
# not those of the tube in service.
_FOR_TESTS: tuple[Rule, ...] = (
    no_emission.find,
    grid_current.find,
    series_resistor.find,
    reduced_heater.find,
    contact.find,
    clipped.find,
    grid_step.find,
    over_rating.find,
    *_STATED,
)
_FOR_LOGS: tuple[Rule, ...] = (over_rating.find, *_STATED)

_RANK = {Severity.REJECT: 0, Severity.CAUTION: 1, Severity.NOTE: 2}

# What a finding already accounts for; the other is then no fault of its own.
_EXPLAINS: dict[FindingCode, frozenset[FindingCode]] = {
    FindingCode.NO_EMISSION: frozenset(
        {
            FindingCode.GAS,
            FindingCode.GRID_LEAKAGE,
            FindingCode.GRID_EMISSION,
            FindingCode.WEAK_EMISSION,
            FindingCode.CONTACT,
            FindingCode.CLIPPED,
            FindingCode.GRID_STEP,
            FindingCode.OFF_TYPE,
            FindingCode.SECTION_IMBALANCE,
            FindingCode.NOISY,
            FindingCode.DISAGREEMENT,
            FindingCode.FAR_FROM_BOGEY,
            FindingCode.NOT_COVERED,
            FindingCode.RUNAWAY,
        }
    ),
    FindingCode.CLIPPED: frozenset({FindingCode.WEAK_EMISSION}),
    FindingCode.WEAK_EMISSION: frozenset(
        {FindingCode.OFF_TYPE, FindingCode.NOISY, FindingCode.DISAGREEMENT}
    ),
    FindingCode.OFF_TYPE: frozenset({FindingCode.FAR_FROM_BOGEY, FindingCode.NOT_COVERED}),
    FindingCode.RUNAWAY: frozenset({FindingCode.NOISY, FindingCode.DISAGREEMENT}),
    FindingCode.NOISY: frozenset({FindingCode.DISAGREEMENT}),
}


def _rules_for(case: Case) -> tuple[Rule, ...]:
    if case.sweep.kind is SweepKind.DRIFT_LOG:
        return _FOR_LOGS
    return _FOR_TESTS if any(probe.base is not None for probe in case.probes) else RULES


def judge(case: Case) -> tuple[Finding, ...]:
    """Return what is wrong with one tube or its bench, worst first.

    A finding that another one accounts for is dropped: a dead tube is dead, and not also far
    from bogey.
    """
    found = [finding for rule in _rules_for(case) for finding in rule(case)]
    explained = {code for finding in found for code in _EXPLAINS.get(finding.code, ())}
    kept = [finding for finding in found if finding.code not in explained]
    return tuple(sorted(kept, key=lambda finding: _RANK[finding.severity]))
