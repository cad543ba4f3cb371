"""The fitted family at a point that somebody asks for, and how far that can be trusted."""

from __future__ import annotations

import math

import numpy as np

from curvelab.assessment.records import Prediction
from curvelab.fitting.constants import with_bench
from curvelab.fitting.coverage import coverage_factor
from curvelab.fitting.family import FittedFamily
from curvelab.fitting.pentode_family import PentodeFamily
from curvelab.fitting.records import Constant, Constants, FitResult
from curvelab.sweep.bench import Bench

__all__ = ["predict"]


def predict(fit: FitResult, point: tuple[float, ...], bench: Bench) -> Prediction:
    """Return the plate current of a fitted family at (Vp, Vg) or (Vp, Vg, Vs) [V].

    Its uncertainty at 95 % is given where plate and grid lie among the readings; at a screen
    voltage that was not read it holds what carrying them there leaves open. Elsewhere a law is
    drawn on past all readings, and how far it is off there nobody knows.
    """
    family, screen = fit.family, point[2] if len(point) > 2 else None
    if isinstance(family, PentodeFamily):
        screen = family.reference_screen if screen is None else screen
        family = family.at_screen(screen)
    if not isinstance(family, FittedFamily | PentodeFamily):
        return Prediction(point[0], point[1], screen, None, extrapolated=True)
    plate, grid = np.array([point[0]]), np.array([point[1]])
    current = float(family.current(plate, grid)[0])
    among = family.hull is not None and bool(family.hull.contains(plate, grid)[0])
    return Prediction(
        plate_voltage=point[0],
        grid_voltage=point[1],
        screen_voltage=screen,
        plate_current=current,
        extrapolated=not bool(family.covers(plate, grid)[0]),
        u95=_u95(fit, family, point, bench) if among else None,
    )


def _u95(
    fit: FitResult, family: FittedFamily | PentodeFamily, point: tuple[float, ...], bench: Bench
) -> float:
    plate, grid = np.array([point[0]]), np.array([point[1]])
    current, by_plate, by_grid = (float(item[0]) for item in family.evaluate(plate, grid))
    share = float(family.log_deviations(plate, grid)[0, 0])
    floor = float(np.nanmin(fit.noise)) / 2
    u95 = coverage_factor(family.freedom) * math.hypot(share * current, floor)
    found = Constants(
        Constant(current, u95),
        Constant(by_grid, 0.0),
        Constant(1.0 / by_plate if by_plate else math.inf, 0.0),
        Constant(1.0, 0.0),  # mu has no part in it
    )
    return float(with_bench(found, (point[0], point[1]), bench).plate_current.u95 or 0.0)
