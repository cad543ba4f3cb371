"""Disagreement: the local estimate and the law's differ beyond their uncertainties."""

from __future__ import annotations

from collections.abc import Iterator

from curvelab.fitting.records import Constant
from curvelab.health.case import Case
from curvelab.health.records import Finding, FindingCode, Severity

__all__ = ["find"]

_NAMES = {
    "plate_current": "plate current",
    "transconductance": "transconductance",
    "plate_resistance": "plate resistance",
    "amplification_factor": "amplification factor",
}
# Four constants are compared at 95 %, so a difference must be well outside; the figure itself
# is in doubt when it is outside twice over in both respects.
_BEYOND = 1.5
_DOUBTFUL = 2.0


def find(case: Case) -> Iterator[Finding]:
    """Report the constant on which the two estimates differ most."""
    limit = case.limits.disagreement
    worst: tuple[float, str, float, float] | None = None
    for name, words in _NAMES.items():
        compared = _compare(getattr(case.constants, name), getattr(case.local, name))
        if compared is None:
            continue
        difference, u95 = compared
        beyond = abs(difference) / max(u95, 1e-12)
        if abs(difference) > limit.value and beyond > _BEYOND and (not worst or beyond > worst[0]):
            worst = (beyond, words, difference, u95)
    if worst is None:
        return
    beyond, words, difference, u95 = worst
    doubtful = beyond > _DOUBTFUL and abs(difference) > _DOUBTFUL * limit.value
    yield Finding(
        code=FindingCode.DISAGREEMENT,
        severity=Severity.CAUTION if doubtful else Severity.NOTE,
        evidence=(
            f"The local estimate of {words} lies {100 * difference:+.0f} % from that of the "
            f"fitted curves, beyond their joint uncertainty of {100 * u95:.0f} %: the readings "
            "near the operating point do not bear out the figure."
        ),
        value=100 * difference,
        u95=100 * u95,
        unit="%",
        limit=limit.printed,
        limit_source=limit.source,
    )


def _compare(fitted: Constant, local: Constant) -> tuple[float, float] | None:
    """Return the relative difference and its joint u95; None where either is missing."""
    values = (fitted.value, fitted.u95, local.value, local.u95)
    if any(value is None for value in values) or not fitted.value:
        return None
    joint = float((fitted.u95**2 + local.u95**2) ** 0.5)  # type: ignore[operator]
    return (local.value - fitted.value) / fitted.value, joint / abs(fitted.value)  # type: ignore[operator]
