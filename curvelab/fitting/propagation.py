"""What is left open in a fitted family, at many points at once.

The same propagation as `FittedFamily.log_covariance`, which does it for one point (JCGM 100:2008,
clause 5.2): the noise of the readings through the law's parameters, and the law's own discrepancy
through the correction, in quadrature.
"""

from __future__ import annotations

import numpy as np

from curvelab.fitting.correction import Correction
from curvelab.fitting.family import FittedFamily
from curvelab.sweep.records import FloatArray

__all__ = ["log_deviations"]

_STEP = 1e-4  # of an internal parameter


def log_deviations(
    family: FittedFamily, plate_voltage: FloatArray, grid_voltage: FloatArray
) -> FloatArray:
    """Return the standard deviations of ln(Ip), ln(gm), ln(rp) and ln(mu).

    Parameters
    ----------
    plate_voltage, grid_voltage : ndarray, shape (n,)
        [V].

    Returns
    -------
    ndarray, shape (4, n)
    """
    by_law = _law_sensitivity(family, plate_voltage, grid_voltage)
    variance = np.einsum("cnp,pq,cnq->cn", by_law, family.law_covariance, by_law)
    if family.correction is not None:
        rows = _correction_sensitivity(family, family.correction, plate_voltage, grid_voltage)
        variance = variance + np.einsum("cnm,cnm->cn", rows @ family.correction.covariance, rows)
    return np.asarray(np.sqrt(variance))


def _law_sensitivity(family: FittedFamily, plate: FloatArray, grid: FloatArray) -> FloatArray:
    """Return the derivatives by the law's parameters; shape (4, n, p)."""
    size = family.internal.size
    shifts = np.concatenate([np.eye(size), -np.eye(size)]) * _STEP
    shape = (2 * size, plate.size)
    with np.errstate(all="ignore"):  # far below cut-off there is nothing to take a logarithm of
        current, by_plate, by_grid = family.law.slopes(
            np.broadcast_to(plate, shape), np.broadcast_to(grid, shape), family.internal + shifts
        )
        logs = np.log(np.stack([current, by_grid, 1.0 / by_plate, by_grid / by_plate]))
        steps = (logs[:, :size] - logs[:, size:]) / (2 * _STEP)
    return np.asarray(np.nan_to_num(steps).transpose(0, 2, 1))


def _correction_sensitivity(
    family: FittedFamily, correction: Correction, plate: FloatArray, grid: FloatArray
) -> FloatArray:
    """Return the derivatives by the correction's coefficients; shape (4, n, m)."""
    found = family.law.slopes(plate[None], grid[None], family.internal[None])
    current, by_plate, _ = (item[0] for item in found)
    basis, by_log, by_volt = correction.basis(current, plate)
    coefficients = correction.coefficients
    with np.errstate(all="ignore"):
        along = (1.0 + by_log @ coefficients)[:, None]
        log_by_plate = (by_plate / current)[:, None]
        plate_slope = log_by_plate * along + (by_volt @ coefficients)[:, None]
        for_gm = by_log / along
        for_rp = -(log_by_plate * by_log + by_volt) / plate_slope
    return np.stack([basis, basis + for_gm, for_rp - basis, for_gm + for_rp])
