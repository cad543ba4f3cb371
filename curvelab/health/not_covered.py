"""Not covered: constants that the readings cannot give, with the reason."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from curvelab.fitting.pentode_family import PentodeFamily
from curvelab.fitting.records import Outcome
from curvelab.health.case import Case
from curvelab.health.evidence import volts
from curvelab.health.records import Finding, FindingCode, Severity
from curvelab.reference.records import PentodePoint

__all__ = ["find"]

_SYMBOLS = {
    "plate_current": "Ip",
    "transconductance": "gm",
    "plate_resistance": "rp",
    "amplification_factor": "mu",
}


def find(case: Case) -> Iterator[Finding]:
    """Say which constants have no value, and why; without a single one a person must decide."""
    missing = {
        symbol: constant
        for name, symbol in _SYMBOLS.items()
        if (constant := getattr(case.constants, name)).outcome is not Outcome.GOOD
    }
    if not missing:
        yield from _bogey_out_of_reach(case)
        return
    first = next(iter(missing.values()))
    reason = (first.reason or case.fit.reason or str(first.outcome)).rstrip(".")
    at = ""
    if case.operating_point is not None:
        at = f" at {volts(case.operating_point[0])}, {volts(case.operating_point[1])}"
    yield Finding(
        code=FindingCode.NOT_COVERED,
        severity=Severity.CAUTION if len(missing) == len(_SYMBOLS) else Severity.NOTE,
        evidence=f"No {', '.join(missing)} can be given{at}: {reason}.",
    )


def _bogey_out_of_reach(case: Case) -> Iterator[Finding]:
    """Note that the type's own point of comparison was not swept."""
    if case.tube_type is None or case.fit.hull is None or case.operating_point is None:
        return
    kind, family = case.tube_type, case.fit.family
    bogey = kind.pentode_bogey if case.with_screen_grid else kind.bogey
    if bogey is None:
        return
    shift = 0.0 if case.family is None else case.family.grid_shift
    at = (bogey.plate_voltage, bogey.grid_voltage - shift)
    words, plate, grid = f"{volts(at[0])}, {volts(at[1])}", np.array(at[0]), np.array(at[1])
    if isinstance(bogey, PentodePoint) and isinstance(family, PentodeFamily):
        words += f" with {volts(bogey.screen_voltage)} on the screen"
        reached = bool(family.at_screen(bogey.screen_voltage).covers(plate, grid))
    else:
        reached = case.operating_point == at or bool(case.fit.hull.contains(plate, grid))
    if reached:
        return
    yield Finding(
        code=FindingCode.NOT_COVERED,
        severity=Severity.NOTE,
        evidence=(
            f"The sweep does not reach the handbook's point at {words}; the constants are taken "
            f"at {volts(case.operating_point[0])}, "
            f"{volts(case.operating_point[1])} instead."
        ),
    )
