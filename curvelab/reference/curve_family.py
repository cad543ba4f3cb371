"""A law brought to published curves by the smooth correction that a measured tube gets."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from curvelab.fitting.correction import fit_corrections
from curvelab.fitting.family import FittedFamily
from curvelab.fitting.hull import convex_hull
from curvelab.fitting.laws import Koren, Softplus, ThreeHalves
from curvelab.fitting.stack import Stack
from curvelab.reference.records import PublishedCurves
from curvelab.sweep.records import FloatArray

__all__ = ["follow_curves"]


def follow_curves(
    law: ThreeHalves | Koren | Softplus, internal: FloatArray, curves: Sequence[PublishedCurves]
) -> tuple[FittedFamily, ...]:
    """Return the families that follow published curves, each covering what was read of them.

    Parameters
    ----------
    internal : ndarray, shape (t, p)
        Parameters of the law, one row for each set of curves.
    """
    size = max(item.plate_voltage.size for item in curves)
    stack = Stack(*(np.zeros((len(curves), size)) for _ in range(4)))
    for row, item in enumerate(curves):
        count = item.plate_voltage.size
        stack.plate_voltage[row, :count] = item.plate_voltage
        stack.grid_voltage[row, :count] = item.grid_voltage
        stack.plate_current[row, :count] = item.plate_current
        stack.counted[row, :count] = 1.0
    found = fit_corrections(law, internal, stack)
    open_end = np.zeros((internal.shape[1], internal.shape[1]))  # an average, not a measurement
    return tuple(
        FittedFamily(
            law=law,
            internal=parameters,
            law_covariance=open_end,
            correction=correction,
            hull=convex_hull(item.plate_voltage, item.grid_voltage),
            freedom=float(freedom),
        )
        for parameters, correction, item, freedom in zip(
            internal, found.corrections, curves, found.freedom, strict=True
        )
    )
