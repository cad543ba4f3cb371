"""Linear least squares with uncertainty: the straight lines of a bench check."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from curvelab.bench_check.records import Estimate
from curvelab.fitting.coverage import coverage_factor
from curvelab.sweep.records import FloatArray

__all__ = ["LinearFit", "fit_linear"]


@dataclass(frozen=True, slots=True)
class LinearFit:
    """Coefficients with their uncertainty, in the order of the columns.

    Attributes
    ----------
    standard : tuple of float
        Standard uncertainty of each coefficient.
    residual : float
        Standard deviation of a single reading about the fit.
    freedom : int
        Readings less coefficients.
    """

    coefficients: tuple[float, ...]
    standard: tuple[float, ...]
    residual: float
    freedom: int

    def estimate(self, which: int) -> Estimate:
        """Return a coefficient with its expanded uncertainty."""
        factor = coverage_factor(self.freedom)
        return Estimate(self.coefficients[which], factor * self.standard[which])


def fit_linear(
    columns: Sequence[FloatArray], values: FloatArray, resolution: float = 0.0
) -> LinearFit | None:
    """Fit ``values`` by a sum of columns, each times a coefficient.

    Ordinary least squares by QR; the covariance is s^2 (X'X)^-1 with s^2 from the
    residuals (JCGM 100:2008, annex H.3, has the straight line).

    Parameters
    ----------
    columns : sequence of ndarray, shape (n,)
    values : ndarray, shape (n,)
    resolution : float
        Last digit of the meter: residuals cannot scatter less than a rectangle of that
        width, 0.29 of it (JCGM 100:2008, F.2.2.1).

    Returns
    -------
    LinearFit or None
        None where the readings are too few or do not tell the columns apart.
    """
    matrix = np.column_stack(columns)
    count, unknowns = matrix.shape
    if count <= unknowns:
        return None
    scale = np.linalg.norm(matrix, axis=0)
    if not (scale > 0).all():
        return None
    q, r = np.linalg.qr(matrix / scale)
    size = np.abs(np.diagonal(r))
    if size.min() < 1e-10 * size.max():
        return None
    inverse = np.linalg.inv(r)
    coefficients = inverse @ (q.T @ values) / scale
    rest = values - matrix @ coefficients
    freedom = count - unknowns
    residual = max(float(np.sqrt(rest @ rest / freedom)), resolution / 12**0.5)
    standard = residual * np.sqrt((inverse**2).sum(axis=1)) / scale
    return LinearFit(
        coefficients=tuple(map(float, coefficients)),
        standard=tuple(map(float, standard)),
        residual=residual,
        freedom=freedom,
    )
