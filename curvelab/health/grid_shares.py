"""Which share of the grid current is gas, leakage or grid emission: a regression.

Each cause varies in its own way with voltages and plate current, so non-negative least
squares on those patterns tells them apart:

- *gas*: ions go with the plate current, once the plate voltage ionises;
- *leakage to the cathode*: ohmic in the grid voltage;
- *leakage to the plate*: ohmic in the voltage between plate and grid;
- *grid emission*: there at cut-off too, and growing with the grid's temperature, for which
  the plate dissipation stands (Richardson-Dushman, linearised in the exponent);
- *electrons*: forward, exponential in the grid voltage near zero.

The patterns are those of Terman, Radio Engineers' Handbook, 1943, on grid current.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from curvelab.sweep.records import FloatArray, IntArray, Readings

__all__ = ["GridCurrentParts", "GridShares", "split_grid_current"]

_GAS, _TO_CATHODE, _TO_PLATE, _EMISSION, _ELECTRONS = range(5)
_CAUSES = 5
# Power of e by which grid emission may grow up to the highest dissipation of the sweep: tried
# coarsely, then finely about the best.
_COARSE = np.array([0.0, 1.0, 1.5, 2.0, 2.5, 3.0, 4.0])
_FINE = np.array([-0.4, -0.3, -0.2, -0.1, 0.0, 0.1, 0.2, 0.3, 0.4])
# Electrons' energy of arrival, including the unevenness of a real cathode [V].
_ELECTRON_VOLTAGE = 0.2
# Ionisation sets in over this many volts about its threshold.
_IONISATION_WIDTH = 10.0
_LEAST_READINGS = 8
_RELATIVE_NOISE = 0.01
_T95 = 2.0  # the coverage factor at 95 % once some twenty readings are left over
_MAD_TO_SIGMA = 1.4826
_SUBSETS = (np.arange(2**_CAUSES)[:, None] >> np.arange(_CAUSES)) & 1 == 1


@dataclass(frozen=True, slots=True, eq=False)
class GridCurrentParts:
    """What each cause adds to the grid current at n points [A], negative where it is reverse."""

    gas: FloatArray
    leakage: FloatArray
    emission: FloatArray
    electrons: FloatArray

    @property
    def together(self) -> FloatArray:
        """The grid current that all causes explain [A]."""
        return self.gas + self.leakage + self.emission + self.electrons


@dataclass(frozen=True, slots=True, eq=False)
class GridShares:
    """The reverse currents told apart.

    Attributes
    ----------
    index : ndarray of int, shape (m,)
        Readings that served.
    gas_ratio, gas_ratio_u95 : float
        Ion current over plate current [1].
    noise : float
        Standard deviation of a grid-current reading [A].
    """

    index: IntArray
    gas_ratio: float
    gas_ratio_u95: float
    noise: float
    _coefficients: FloatArray
    _covariance: FloatArray
    _growth: float
    _largest_dissipation: float
    _ionisation_voltage: float

    def gas(self, point: tuple[float, float, float]) -> tuple[float, float]:
        """Return the ion current and its u95 [A] at (Vp, Vg, Ip)."""
        return self._share(point, (_GAS,))

    def leakage(self, point: tuple[float, float, float]) -> tuple[float, float]:
        """Return the leakage current by both paths and its u95 [A]."""
        return self._share(point, (_TO_CATHODE, _TO_PLATE))

    def leakage_resistance(self) -> tuple[float, float]:
        """Return the resistance of the paths to cathode and to plate [ohm]; inf for none."""
        conductance = self._coefficients[[_TO_CATHODE, _TO_PLATE]]
        to_cathode, to_plate = (1.0 / g if g > 0 else np.inf for g in conductance.tolist())
        return to_cathode, to_plate

    def emission(self, point: tuple[float, float, float]) -> tuple[float, float]:
        """Return the current that the grid emits and its u95 [A]."""
        return self._share(point, (_EMISSION,))

    def parts_at(
        self, plate_voltage: FloatArray, grid_voltage: FloatArray, plate_current: FloatArray
    ) -> GridCurrentParts:
        """Return every cause's current at points [V], [V], [A], shape (n,)."""
        rows = _patterns(
            plate_voltage,
            grid_voltage,
            plate_current,
            self._largest_dissipation,
            self._ionisation_voltage,
        )
        each = _grown(rows, self._growth) * self._coefficients
        return GridCurrentParts(
            gas=each[:, _GAS],
            leakage=each[:, _TO_CATHODE] + each[:, _TO_PLATE],
            emission=each[:, _EMISSION],
            electrons=each[:, _ELECTRONS],
        )

    def reverse(self, point: tuple[float, float, float]) -> tuple[float, float]:
        """Return the whole reverse current and its u95 [A], whatever its causes."""
        return self._share(point, (_GAS, _TO_CATHODE, _TO_PLATE, _EMISSION))

    def _share(
        self, point: tuple[float, float, float], causes: tuple[int, ...]
    ) -> tuple[float, float]:
        plate, grid, current = (np.array([value]) for value in point)
        pattern = np.zeros(_CAUSES)
        rows = _patterns(plate, grid, current, self._largest_dissipation, self._ionisation_voltage)
        pattern[list(causes)] = -_grown(rows, self._growth)[0, list(causes)]
        variance = float(pattern @ self._covariance @ pattern)
        return float(pattern @ self._coefficients), _T95 * float(np.sqrt(max(variance, 0.0)))


def split_grid_current(
    readings: Readings,
    usable: NDArray[np.bool_],
    *,
    ionisation_voltage: float,
    electron_grid_voltage: float,
) -> GridShares | None:
    """Split the grid current of a sweep into its causes.

    Parameters
    ----------
    readings : Readings
        With a grid-current column.
    usable : ndarray of bool, shape (n,)
        Readings that no bench fault spoilt.
    ionisation_voltage : float
        Plate voltage at which gas begins to ionise [V].
    electron_grid_voltage : float
        Readings above this grid voltage are left out where enough remain [V].

    Returns
    -------
    GridShares or None
        None where too few readings carry a grid current.
    """
    if readings.grid_current is None:
        return None
    known = usable & np.isfinite(readings.grid_current)
    index = np.flatnonzero(known & (readings.grid_voltage <= electron_grid_voltage))
    if index.size < _LEAST_READINGS:
        index = np.flatnonzero(known & (readings.grid_voltage <= 0.0))
    if index.size < _LEAST_READINGS:
        return None
    plate, grid = readings.plate_voltage[index], readings.grid_voltage[index]
    current, observed = readings.plate_current[index], readings.grid_current[index]
    largest = max(float((plate * current).max()), 1e-12)
    patterns = _patterns(plate, grid, current, largest, ionisation_voltage)
    scale = max(float(np.abs(observed).max()), 1e-15)
    weight, growths = np.ones(index.size), _COARSE
    for _ in range(2):  # weights rest on the noise, which rests on the residuals
        growth, coefficients, active = _best(patterns, observed, weight, growths)
        growths = np.maximum(growth + _FINE, 0.0)
        design = _grown(patterns, growth)
        residual = observed - design @ coefficients
        floor = _MAD_TO_SIGMA * float(np.median(np.abs(residual)))
        floor = max(floor, 1e-4 * scale)
        spread = np.hypot(floor, _RELATIVE_NOISE * observed)
        weight = 1.0 / np.maximum(spread, np.abs(residual) / 3.0) ** 2
    covariance = _covariance(design, weight, residual, active)
    return GridShares(
        index=index,
        gas_ratio=float(coefficients[_GAS]),
        gas_ratio_u95=_T95 * float(np.sqrt(max(covariance[_GAS, _GAS], 0.0))),
        noise=floor,
        _coefficients=coefficients,
        _covariance=covariance,
        _growth=growth,
        _largest_dissipation=largest,
        _ionisation_voltage=ionisation_voltage,
    )


def _patterns(
    plate: FloatArray,
    grid: FloatArray,
    current: FloatArray,
    largest_dissipation: float,
    ionisation_voltage: float,
) -> FloatArray:
    """Return the pattern of each cause; for emission, the load that its growth acts on."""
    ionised = np.clip((plate - ionisation_voltage) / _IONISATION_WIDTH + 0.5, 0.0, 1.0)
    return np.column_stack(
        (
            -ionised * np.maximum(current, 0.0),
            np.minimum(grid, 0.0),
            np.minimum(grid - plate, 0.0),
            plate * current / largest_dissipation,
            np.exp(np.minimum(grid, 1.0) / _ELECTRON_VOLTAGE),
        )
    )


def _grown(patterns: FloatArray, growth: float) -> FloatArray:
    design = patterns.copy()
    design[:, _EMISSION] = -np.exp(growth * patterns[:, _EMISSION])
    return design


def _best(
    patterns: FloatArray, observed: FloatArray, weight: FloatArray, growths: FloatArray
) -> tuple[float, FloatArray, NDArray[np.bool_]]:
    """Return growth, coefficients and active causes of the least squares that stays positive.

    With five causes every subset can be solved outright: the best non-negative solution is
    the subset of least cost whose unconstrained coefficients are all positive (Lawson and
    Hanson, Solving Least Squares Problems, 1974, chapter 23).
    """
    designs = np.repeat(patterns[None], growths.size, axis=0)
    designs[:, :, _EMISSION] = -np.exp(growths[:, None] * patterns[:, _EMISSION])
    size = np.sqrt((designs**2 * weight[:, None]).sum(axis=1))
    designs = designs / np.maximum(size, 1e-300)[:, None, :]
    weighted = designs * weight[:, None]
    normal = np.swapaxes(weighted, 1, 2) @ designs
    moment = np.swapaxes(weighted, 1, 2) @ observed
    both = _SUBSETS[:, :, None] & _SUBSETS[:, None, :]
    systems = (
        np.where(both[None], normal[:, None], 0.0)
        + np.eye(_CAUSES) * np.where(_SUBSETS, 1e-10, 1.0)[None, :, None, :]
    )
    targets = np.where(_SUBSETS, moment[:, None], 0.0)
    solved = np.linalg.solve(systems, targets[..., None])[..., 0]
    gained = (solved * targets).sum(axis=-1)
    gained[(solved < 0).any(axis=-1)] = -np.inf
    growth, subset = np.unravel_index(int(np.argmax(gained)), gained.shape)
    return (
        float(growths[growth]),
        solved[growth, subset] / np.maximum(size[growth], 1e-300),
        _SUBSETS[subset] & (size[growth] > 0),
    )


def _covariance(
    design: FloatArray, weight: FloatArray, residual: FloatArray, active: NDArray[np.bool_]
) -> FloatArray:
    """Return the covariance of the coefficients; that of an inactive cause is its bound's.

    An inactive cause sits at zero because the readings want it no larger, so it carries no
    variance of its own.
    """
    result = np.zeros((_CAUSES, _CAUSES))
    count = int(active.sum())
    if count == 0:
        return result
    chosen = design[:, active]
    size = np.sqrt((chosen**2 * weight[:, None]).sum(axis=0))
    scaled = chosen / size
    normal = (scaled * weight[:, None]).T @ scaled
    left = max(residual.size - count, 1)
    variance = max(1.0, float((weight * residual**2).sum()) / left)
    inverse = np.linalg.pinv(normal, rcond=1e-10) / np.outer(size, size)
    result[np.ix_(active, active)] = variance * inverse
    return result
