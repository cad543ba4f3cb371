"""Starting values for the laws, from the readings alone."""

from __future__ import annotations

import numpy as np

from curvelab.fitting.laws import KOREN, SOFTPLUS, THREE_HALVES, Koren, Softplus, ThreeHalves
from curvelab.sweep.records import FloatArray

__all__ = ["starting_values"]

# Readings below this share of the largest current are left out of the straight line:
# near cut-off no tube follows a three-halves law.
_FOOT = 0.08


def starting_values(
    law: ThreeHalves | Koren | Softplus,
    plate_voltage: FloatArray,
    grid_voltage: FloatArray,
    plate_current: FloatArray,
    counted: FloatArray,
) -> FloatArray:
    """Return starting values for a law in its internal coordinates.

    By the three-halves law the two-thirds power of the current is a plane over (Vp, Vg);
    a least-squares plane through it gives mu, perveance and offset (Child 1911). The
    other laws start from the tube that plane describes.

    Parameters
    ----------
    plate_voltage, grid_voltage, plate_current, counted : ndarray, shape (t, n)
        [V], [V], [A], and 1.0 for readings that count, 0.0 for others.

    Returns
    -------
    ndarray, shape (t, p)
    """
    perveance, mu, offset = _plane(plate_voltage, grid_voltage, plate_current, counted)
    top = (np.maximum(grid_voltage + plate_voltage / mu[:, None], 0.0) * counted).max(axis=1)
    drive = np.maximum(0.4 * top, 1e-2)
    if law is THREE_HALVES:
        columns = [np.log(perveance), np.log(mu), offset]
    elif law is KOREN:
        exponent = 1.4
        widest = (plate_voltage * counted).max(axis=1)
        columns = [
            np.log(mu),
            np.full(mu.size, np.log(exponent)),
            np.log(2.0 / (perveance * drive ** (1.5 - exponent))),
            np.log(6.0 * mu),
            np.log((0.06 * widest) ** 2 + 1.0),
            np.clip(offset, -1.0, 1.0),
        ]
    else:
        assert law is SOFTPLUS
        gamma = 1.4
        columns = [
            np.log(perveance * drive ** (1.5 - gamma)),
            np.log(mu),
            np.full(mu.size, np.log(gamma)),
            np.log(4.0 / drive),
        ]
    return np.stack(columns, axis=1)


def _plane(
    plate_voltage: FloatArray,
    grid_voltage: FloatArray,
    plate_current: FloatArray,
    counted: FloatArray,
) -> tuple[FloatArray, FloatArray, FloatArray]:
    largest = (plate_current * counted).max(axis=1)
    flowing = counted * (plate_current > _FOOT * largest[:, None])
    height = np.cbrt(np.maximum(plate_current, 0.0) ** 2)
    columns = np.stack([np.ones_like(plate_voltage), plate_voltage, grid_voltage], axis=-1)
    weighted = columns * flowing[..., None]
    normal = weighted.transpose(0, 2, 1) @ columns
    ridge = 1e-9 * np.einsum("tii->ti", normal).clip(1e-12)
    normal = normal + ridge[:, :, None] * np.eye(3)
    plane = np.linalg.solve(normal, weighted.transpose(0, 2, 1) @ height[..., None])[..., 0]
    # Senseless planes (a dead or mis-wired tube) start from an ordinary triode instead.
    by_grid = np.where(plane[:, 2] > 0, plane[:, 2], 1e-3)
    by_plate = np.where(plane[:, 1] > 0, plane[:, 1], by_grid / 20.0)
    mu = np.clip(by_grid / by_plate, 1.5, 250.0)
    offset = plane[:, 0] / by_grid
    return by_grid**1.5, mu, np.clip(offset, -50.0, 50.0)
