"""The fitted family of one tube: a law, its smooth correction and where readings back it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from curvelab.fitting.correction import Correction
from curvelab.fitting.hull import Hull
from curvelab.fitting.laws import Koren, Softplus, ThreeHalves
from curvelab.sweep.records import BoolArray, FloatArray

__all__ = ["FittedFamily"]

_STEP = 1e-4  # of an internal parameter, for the sensitivity of the constants to the law


@dataclass(frozen=True, slots=True, eq=False)
class FittedFamily:
    """Law times exp(correction).

    Attributes
    ----------
    internal : ndarray, shape (p,)
        Parameters of the law in its internal coordinates.
    law_covariance : ndarray, shape (p, p)
        What the noise of the readings leaves open in them.
    freedom : float
        Effective degrees of freedom of the residual.
    """

    law: ThreeHalves | Koren | Softplus
    internal: FloatArray
    law_covariance: FloatArray
    correction: Correction | None
    hull: Hull
    freedom: float

    def current(self, plate_voltage: FloatArray, grid_voltage: FloatArray) -> FloatArray:
        """Return the plate current [A]."""
        plate, grid = _alike(plate_voltage, grid_voltage)
        current, _, _ = self._law(plate, grid)
        if self.correction is None:
            return current
        return np.asarray(current * np.exp(self.correction.log_ratio(current, plate)))

    def slopes(
        self, plate_voltage: FloatArray, grid_voltage: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Return (dIp/dVp, dIp/dVg) [S]."""
        return self.evaluate(plate_voltage, grid_voltage)[1:]

    def evaluate(
        self, plate_voltage: FloatArray, grid_voltage: FloatArray
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return (Ip [A], dIp/dVp [S], dIp/dVg [S]); arguments [V] broadcast together."""
        plate, grid = _alike(plate_voltage, grid_voltage)
        current, by_plate, by_grid = self._law(plate, grid)
        if self.correction is None:
            return current, by_plate, by_grid
        log_factor, by_log, by_volt = self.correction.log_factor(current, plate)
        factor, along = np.exp(log_factor), 1.0 + by_log
        return (
            np.asarray(current * factor),
            np.asarray(factor * (by_plate * along + current * by_volt)),
            np.asarray(factor * by_grid * along),
        )

    def amplification_factor(
        self, plate_voltage: FloatArray, grid_voltage: FloatArray
    ) -> FloatArray:
        """Return mu = -dVp/dVg at constant plate current, which is gm rp."""
        _, by_plate, by_grid = self.evaluate(plate_voltage, grid_voltage)
        return by_grid / by_plate

    def covers(self, plate_voltage: FloatArray, grid_voltage: FloatArray) -> BoolArray:
        """Tell which points lie inside the convex hull of the readings."""
        return self.hull.contains(plate_voltage, grid_voltage)

    def log_deviations(self, plate_voltage: FloatArray, grid_voltage: FloatArray) -> FloatArray:
        """Return the standard deviations of ln(Ip), ln(gm), ln(rp) and ln(mu).

        Noise of the readings through the law's parameters and through the correction, whose
        prior is the law's own discrepancy, in quadrature (JCGM 100:2008, clause 5.2).

        Parameters
        ----------
        plate_voltage, grid_voltage : ndarray, shape (n,)
            [V].

        Returns
        -------
        ndarray, shape (4, n)
        """
        by_law = self._law_sensitivity(plate_voltage, grid_voltage)
        variance = np.einsum("cnp,pq,cnq->cn", by_law, self.law_covariance, by_law)
        if self.correction is not None:
            rows = self._correction_sensitivity(self.correction, plate_voltage, grid_voltage)
            variance = variance + np.einsum("cnm,cnm->cn", rows @ self.correction.covariance, rows)
        return np.asarray(np.sqrt(variance))

    def _law(
        self, plate: FloatArray, grid: FloatArray
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        with np.errstate(under="ignore", over="ignore"):
            found = self.law.slopes(plate.reshape(1, -1), grid.reshape(1, -1), self.internal[None])
        current, by_plate, by_grid = (item.reshape(plate.shape) for item in found)
        return current, by_plate, by_grid

    def _law_sensitivity(self, plate: FloatArray, grid: FloatArray) -> FloatArray:
        """Return the derivatives by the law's parameters; shape (4, n, p)."""
        size = self.internal.size
        shifts = np.concatenate([np.eye(size), -np.eye(size)]) * _STEP
        shape = (2 * size, plate.size)
        with np.errstate(all="ignore"):  # far below cut-off there is nothing to take a logarithm of
            current, by_plate, by_grid = self.law.slopes(
                np.broadcast_to(plate, shape), np.broadcast_to(grid, shape), self.internal + shifts
            )
            logs = np.log(np.stack([current, by_grid, 1.0 / by_plate, by_grid / by_plate]))
            steps = (logs[:, :size] - logs[:, size:]) / (2 * _STEP)
        return np.asarray(np.nan_to_num(steps).transpose(0, 2, 1))

    def _correction_sensitivity(
        self, correction: Correction, plate: FloatArray, grid: FloatArray
    ) -> FloatArray:
        """Return the derivatives by the correction's coefficients; shape (4, n, m)."""
        current, by_plate, _ = self._law(plate, grid)
        basis, by_log, by_volt = correction.basis(current, plate)
        coefficients = correction.coefficients
        with np.errstate(all="ignore"):
            along = (1.0 + by_log @ coefficients)[:, None]
            log_by_plate = (by_plate / current)[:, None]
            plate_slope = log_by_plate * along + (by_volt @ coefficients)[:, None]
            for_gm = by_log / along
            for_rp = -(log_by_plate * by_log + by_volt) / plate_slope
        return np.stack([basis, basis + for_gm, for_rp - basis, for_gm + for_rp])


def _alike(plate_voltage: FloatArray, grid_voltage: FloatArray) -> tuple[FloatArray, FloatArray]:
    plate, grid = np.broadcast_arrays(
        np.asarray(plate_voltage, dtype=float), np.asarray(grid_voltage, dtype=float)
    )
    return plate, grid
