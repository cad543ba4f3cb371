"""Noisy: the readings scatter more than a sound bench's."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from curvelab.health.case import Case
from curvelab.health.records import Finding, FindingCode, Severity

__all__ = ["find"]

_STRONG_SHARE = 0.2
_LEAST_READINGS = 12
_MAD_TO_SIGMA = 1.4826


def find(case: Case) -> Iterator[Finding]:
    """Judge the scatter of the stronger readings about the fitted family."""
    current, used = case.sweep.readings.plate_current, case.fit.used
    if case.fit.family is None or not used.any():
        return
    strong = used & (current > _STRONG_SHARE * current[used].max())
    strong &= np.isfinite(case.fit.residual)
    count = int(np.count_nonzero(strong))
    if count < _LEAST_READINGS:
        return
    scatter = _MAD_TO_SIGMA * float(np.median(np.abs(case.fit.residual[strong] / current[strong])))
    limits = case.limits
    if scatter <= limits.noise.value:
        return
    bad = scatter > limits.noise_caution.value
    limit = limits.noise_caution if bad else limits.noise
    yield Finding(
        code=FindingCode.NOISY,
        severity=Severity.CAUTION if bad else Severity.NOTE,
        evidence=(
            f"The {count} stronger readings scatter by {100 * scatter:.1f} % about the fitted "
            "curves: look to leads, contacts and the settling time before each reading."
        ),
        value=100 * scatter,
        unit="%",
        limit=limit.printed,
        limit_source=limit.source,
    )
