"""The fitted family of a tube with a screen grid, seen at one screen voltage at a time."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from curvelab.fitting.conversion import CARRIED_OPEN, DEGREE, DEGREE_OPEN
from curvelab.fitting.correction import Correction
from curvelab.fitting.hull import Hull
from curvelab.fitting.pentode_law import PENTODE, PentodeSlopes
from curvelab.sweep.records import BoolArray, FloatArray

__all__ = ["PentodeFamily"]

_STEP = 1e-4  # of an internal parameter, for the sensitivity of the constants to the law
_SAME_SCREEN = 0.02  # share by which a screen voltage may miss those that were read
# Readings at several screen voltages, brought together, leave the slight slope of the plateau
# open by this much more (standard deviation of ln rp, found on simulated tubes).
_RP_OPEN = 0.06
_OFFSET_PLACE = PENTODE.symbols.index("Vc")


@dataclass(frozen=True, slots=True, eq=False)
class PentodeFamily:
    """Law times exp(correction); the correction belongs to readings converted to one screen.

    Attributes
    ----------
    internal : ndarray, shape (p,)
        Parameters of the law in its internal coordinates.
    law_covariance : ndarray, shape (p, p)
        What the noise of the readings and the priors leave open in them.
    hull : Hull or None
        What the readings cover, converted to ``screen_voltage``; None where it rests on none.
    freedom : float
        Effective degrees of freedom of the residual.
    reference_screen : float
        Screen voltage to which the readings were converted [V].
    least_screen, most_screen : float
        Between which the screen was read [V].
    screen_voltage : float
        At which the family is evaluated now [V].
    """

    internal: FloatArray
    law_covariance: FloatArray
    correction: Correction | None
    hull: Hull | None
    freedom: float
    reference_screen: float
    least_screen: float
    most_screen: float
    screen_voltage: float

    def at_screen(self, screen_voltage: float) -> PentodeFamily:
        """Return the same tube's family at another screen voltage [V]."""
        times = screen_voltage / self.screen_voltage
        hull = self.hull
        if hull is not None:
            shift = np.array([0.0, (times - 1.0) * self.contact_offset])
            hull = replace(hull, origin=hull.origin * times + shift, span=hull.span * times)
        return replace(self, screen_voltage=float(screen_voltage), hull=hull)

    @property
    def contact_offset(self) -> float:
        """Vc of the law [V]."""
        return float(self.internal[_OFFSET_PLACE])

    def current(self, plate_voltage: FloatArray, grid_voltage: FloatArray) -> FloatArray:
        """Return the plate current [A]."""
        return self.evaluate(plate_voltage, grid_voltage)[0]

    def screen_current(self, plate_voltage: FloatArray, grid_voltage: FloatArray) -> FloatArray:
        """Return the screen current by the law [A]; a guess where the screen was not metered."""
        law = self._law(*_pair(plate_voltage, grid_voltage), self.internal)
        return law.cathode - law.plate

    def plate_share(self, plate_voltage: FloatArray, grid_voltage: FloatArray) -> FloatArray:
        """Return the share of the cathode's current that the law sends to the plate [1]."""
        law = self._law(*_pair(plate_voltage, grid_voltage), self.internal)
        return law.plate / law.cathode

    def slopes(
        self, plate_voltage: FloatArray, grid_voltage: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Return (dIp/dVp, dIp/dVg) [S]."""
        return self.evaluate(plate_voltage, grid_voltage)[1:]

    def evaluate(
        self, plate_voltage: FloatArray, grid_voltage: FloatArray
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return (Ip [A], dIp/dVp [S], dIp/dVg [S]); arguments [V] broadcast together."""
        plate, grid = _pair(plate_voltage, grid_voltage)
        law = self._law(plate, grid, self.internal)
        log_factor, by_plate, by_grid = self._corrected(law, plate)
        current = law.plate * np.exp(log_factor)
        return current, current * by_plate, current * by_grid

    def amplification_factor(
        self, plate_voltage: FloatArray, grid_voltage: FloatArray
    ) -> FloatArray:
        """Return mu of the control grid against the screen, -dVs/dVg at constant plate current.

        Every family of this kind is homogeneous of degree 3/2, so that by Euler's theorem the
        slope against the screen follows from the others.
        """
        plate, grid = _pair(plate_voltage, grid_voltage)
        _, by_plate, by_grid = self._corrected(self._law(plate, grid, self.internal), plate)
        return by_grid * self.screen_voltage / self._euler_rest(plate, grid, by_plate, by_grid)

    def covers(self, plate_voltage: FloatArray, grid_voltage: FloatArray) -> BoolArray:
        """Tell which points readings back: in volts, and at a screen voltage that was read."""
        plate, grid = _pair(plate_voltage, grid_voltage)
        if self.hull is None or not self.screen_was_read:
            return np.zeros(plate.shape, dtype=bool)
        return self.hull.contains(plate, grid)

    @property
    def screen_was_read(self) -> bool:
        """Whether the screen voltage lies among those that were read."""
        least, most = self.least_screen * (1 - _SAME_SCREEN), self.most_screen * (1 + _SAME_SCREEN)
        return least <= self.screen_voltage <= most

    @property
    def _carried(self) -> float:
        """The logarithm of how far the screen voltage lies beyond those that were read."""
        nearest = np.clip(self.screen_voltage, self.least_screen, self.most_screen)
        return float(np.log(self.screen_voltage / nearest))

    def log_deviations(self, plate_voltage: FloatArray, grid_voltage: FloatArray) -> FloatArray:
        """Return the standard deviations of ln(Ip), ln(gm), ln(rp) and ln(mu).

        Noise of the readings and priors through the law's parameters, the law's discrepancy
        through the correction, how closely a tube keeps to the three-halves power, and, at a
        screen voltage that was not read, what carrying it there leaves open, in quadrature
        (JCGM 100:2008, clause 5.2).

        Parameters
        ----------
        plate_voltage, grid_voltage : ndarray, shape (n,)
            [V].

        Returns
        -------
        ndarray, shape (4, n)
        """
        plate, grid = _pair(plate_voltage, grid_voltage)
        law = self._law(plate, grid, self.internal)
        _, by_plate, by_grid = self._corrected(law, plate)
        rest = self._euler_rest(plate, grid, by_plate, by_grid)
        to_constants = np.zeros((plate.size, 4, 3))  # from d ln(Ip) and the two slopes of it
        to_constants[:, :3, 0] = 1.0, 1.0, -1.0
        to_constants[:, 1, 2] = 1.0 / by_grid
        to_constants[:, 2, 1] = -1.0 / by_plate
        to_constants[:, 3, 1] = plate / rest
        to_constants[:, 3, 2] = 1.0 / by_grid + (grid + self.contact_offset) / rest
        rows = to_constants @ self._law_sensitivity(plate, grid)
        rows[:, 3, _OFFSET_PLACE] += by_grid / rest
        variance = np.einsum("ncp,pq,ncq->cn", rows, self.law_covariance, rows)
        variance[:3] += (CARRIED_OPEN * self._carried) ** 2
        variance[3] += (DEGREE_OPEN / rest) ** 2
        if self.most_screen > self.least_screen * (1 + _SAME_SCREEN):
            variance[2] += _RP_OPEN**2
        if self.correction is not None:
            rows = to_constants @ self._correction_sensitivity(self.correction, law, plate)
            variance += np.einsum("ncm,ncm->cn", rows @ self.correction.covariance, rows)
        return np.asarray(np.sqrt(variance))

    def _euler_rest(
        self, plate: FloatArray, grid: FloatArray, by_plate: FloatArray, by_grid: FloatArray
    ) -> FloatArray:
        """Return Vs dln(Ip)/dVs."""
        return np.asarray(DEGREE - plate * by_plate - (grid + self.contact_offset) * by_grid)

    def _law(self, plate: FloatArray, grid: FloatArray, internal: FloatArray) -> PentodeSlopes:
        shape = plate.shape
        rows = np.atleast_2d(internal)
        with np.errstate(under="ignore", over="ignore"):
            found = PENTODE.slopes(
                np.broadcast_to(plate.reshape(1, -1), (rows.shape[0], plate.size)),
                np.broadcast_to(grid.reshape(1, -1), (rows.shape[0], plate.size)),
                np.full((rows.shape[0], plate.size), self.screen_voltage),
                rows,
            )
        return found if internal.ndim > 1 else found.reshaped(shape)

    def _corrected(
        self, law: PentodeSlopes, plate: FloatArray
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return the log factor, and the derivatives of ln(Ip) by Vp and Vg with it."""
        if self.correction is None:
            return np.zeros_like(law.plate), law.plate_by_plate, law.plate_by_grid
        times = self._times
        log_factor, by_log, by_volt = self.correction.log_factor(
            law.cathode * times**DEGREE, plate * times
        )
        return (
            log_factor,
            law.plate_by_plate + law.cathode_by_plate * by_log + by_volt * times,
            law.plate_by_grid + law.cathode_by_grid * by_log,
        )

    @property
    def _times(self) -> float:
        return self.reference_screen / self.screen_voltage

    def _law_sensitivity(self, plate: FloatArray, grid: FloatArray) -> FloatArray:
        """Return derivatives of ln(Ip) and its slopes by the parameters; shape (n, 3, p)."""
        size = self.internal.size
        shifts = np.concatenate([np.eye(size), -np.eye(size)]) * _STEP
        law = self._law(plate, grid, self.internal + shifts)
        with np.errstate(divide="ignore"):  # far below cut-off there is no logarithm to take
            found = np.stack([np.log(law.plate), law.plate_by_plate, law.plate_by_grid])
        steps = np.nan_to_num((found[:, :size] - found[:, size:]) / (2 * _STEP))
        return np.asarray(steps.transpose(2, 0, 1))

    def _correction_sensitivity(
        self, correction: Correction, law: PentodeSlopes, plate: FloatArray
    ) -> FloatArray:
        """Return the same by the correction's coefficients; shape (n, 3, m)."""
        times = self._times
        basis, by_log, by_volt = correction.basis(law.cathode * times**DEGREE, plate * times)
        by_plate, by_grid = law.cathode_by_plate[:, None], law.cathode_by_grid[:, None]
        return np.stack([basis, by_plate * by_log + by_volt * times, by_grid * by_log], axis=1)


def _pair(plate_voltage: FloatArray, grid_voltage: FloatArray) -> tuple[FloatArray, FloatArray]:
    plate, grid = np.broadcast_arrays(
        np.asarray(plate_voltage, dtype=float), np.asarray(grid_voltage, dtype=float)
    )
    return plate, grid
