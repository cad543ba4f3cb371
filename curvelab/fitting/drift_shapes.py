"""The shapes a current at fixed bias takes in time."""

from __future__ import annotations

from enum import StrEnum

import numpy as np

from curvelab.sweep.records import FloatArray

__all__ = ["Shape", "shape_slope", "shape_value"]


class Shape(StrEnum):
    """Shapes over the log's time, which runs from 0 to 1; s is the scale."""

    CREEP = "creep"  # x
    DECAY = "decay"  # exp(-x / s)
    GROWTH = "growth"  # exp((x - 1) / s)
    BLOW_UP = "blow-up"  # s / (1 + s - x): faster than any exponential
    RAMP = "ramp"  # 1 before, 0 after a smooth change of level centred at s
    JUMP = "jump"  # the same, sudden


_WIDTH = {Shape.RAMP: 0.1, Shape.JUMP: 0.01}


def shape_value(shape: Shape, scale: float | FloatArray, x: FloatArray) -> FloatArray:
    """Return the shape at ``x`` [1]; ``scale`` and ``x`` broadcast; inf beyond a blow-up."""
    with np.errstate(over="ignore", divide="ignore"):
        if shape is Shape.CREEP:
            return np.asarray(x * np.ones_like(scale))
        if shape is Shape.DECAY:
            return np.asarray(np.exp(-x / scale))
        if shape is Shape.GROWTH:
            return np.asarray(np.exp((x - 1) / scale))
        if shape is Shape.BLOW_UP:
            return np.where(x < 1 + scale, scale / np.maximum(1 + scale - x, 0.0), np.inf)
        return np.asarray((1 - np.tanh((x - scale) / _WIDTH[shape])) / 2)


def shape_slope(shape: Shape, scale: float, x: FloatArray) -> FloatArray:
    """Return the derivative of the shape with respect to ``x``."""
    value = shape_value(shape, scale, x)
    if shape is Shape.CREEP:
        return np.ones_like(x)
    if shape is Shape.DECAY:
        return -value / scale
    if shape is Shape.GROWTH:
        return value / scale
    if shape is Shape.BLOW_UP:
        return value**2 / scale
    return -2 * value * (1 - value) / _WIDTH[shape]
