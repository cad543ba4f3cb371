"""The coverage factor of an expanded uncertainty."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

__all__ = ["coverage_factor"]


def coverage_factor(freedom: float) -> float:
    """Return the factor that makes a standard uncertainty a 95 % one.

    Student's t for the effective degrees of freedom, truncated to the next lower tenth
    (JCGM 100:2008, annex G.3 and table G.2; G.4.1 on truncation).

    Parameters
    ----------
    freedom : float
        Effective degrees of freedom, at least 1.

    Raises
    ------
    ValueError
        If ``freedom`` is not positive.
    """
    if not freedom > 0:
        raise ValueError("an uncertainty needs at least some degrees of freedom")
    return _factor(float(min(np.floor(freedom * 10) / 10, 1000.0)) or 0.1)


@lru_cache(maxsize=4096)
def _factor(freedom: float) -> float:
    from scipy.special import stdtrit  # noqa: PLC0415 (scipy is not needed to start)

    return float(stdtrit(freedom, 0.975))
