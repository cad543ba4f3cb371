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
        return self.evaluate(plate_voltage, grid_voltage)[0]

    def slopes(
        self, plate_voltage: FloatArray, grid_voltage: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Return (dIp/dVp, dIp/dVg) [S]."""
        return self.evaluate(plate_voltage, grid_voltage)[1:]

    def evaluate(
        self, plate_voltage: FloatArray, grid_voltage: FloatArray
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return (Ip [A], dIp/dVp [S], dIp/dVg [S]); arguments [V] broadcast together."""
        plate, grid = np.broadcast_arrays(
            np.asarray(plate_voltage, dtype=float), np.asarray(grid_voltage, dtype=float)
        )
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

    def covers(self, plate_voltage: FloatArray, grid_voltage: FloatArray) -> BoolArray:
        """Tell which points lie inside the convex hull of the readings."""
        return self.hull.contains(plate_voltage, grid_voltage)

    def log_covariance(self, plate_voltage: float, grid_voltage: float) -> FloatArray:
        """Return the covariance of ln(Ip), ln(gm), ln(rp), ln(mu) at a point; shape (4, 4).

        Noise of the readings through the law's parameters and through the correction,
        whose prior is the law's own discrepancy, in quadrature.
        """
        sensitivity = self._law_sensitivity(plate_voltage, grid_voltage)
        covariance = sensitivity @ self.law_covariance @ sensitivity.T
        if self.correction is not None:
            rows = self._correction_sensitivity(plate_voltage, grid_voltage)
            covariance = covariance + rows @ self.correction.covariance @ rows.T
        return np.asarray(covariance)

    def _law(
        self, plate: FloatArray, grid: FloatArray
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        with np.errstate(under="ignore", over="ignore"):
            found = self.law.slopes(plate.reshape(1, -1), grid.reshape(1, -1), self.internal[None])
        current, by_plate, by_grid = (item.reshape(plate.shape) for item in found)
        return current, by_plate, by_grid

    def _law_sensitivity(self, plate_voltage: float, grid_voltage: float) -> FloatArray:
        size = self.internal.size
        shifts = np.concatenate([np.eye(size), -np.eye(size)]) * _STEP
        count = 2 * size
        current, by_plate, by_grid = self.law.slopes(
            np.full((count, 1), plate_voltage),
            np.full((count, 1), grid_voltage),
            self.internal + shifts,
        )
        with np.errstate(divide="ignore", invalid="ignore"):
            logs = np.log(
                np.concatenate([current, by_grid, 1.0 / by_plate, by_grid / by_plate], axis=1)
            )
        return np.asarray(np.nan_to_num((logs[:size] - logs[size:]).T / (2 * _STEP)))

    def _correction_sensitivity(self, plate_voltage: float, grid_voltage: float) -> FloatArray:
        assert self.correction is not None
        plate, grid = np.array([plate_voltage]), np.array([grid_voltage])
        current, by_plate, _ = self._law(plate, grid)
        basis, by_log, by_volt = (item[0] for item in self.correction.basis(current, plate))
        coefficients = self.correction.coefficients
        along = 1.0 + by_log @ coefficients
        log_by_plate = float(by_plate[0] / current[0])
        plate_slope = log_by_plate * along + by_volt @ coefficients
        for_gm = by_log / along
        for_rp = -(log_by_plate * by_log + by_volt) / plate_slope
        return np.stack([basis, basis + for_gm, for_rp - basis, for_gm + for_rp])
