"""A measured family against a reference family."""

from __future__ import annotations

import numpy as np

from curvelab.fitting.family import FittedFamily
from curvelab.fitting.pentode_family import PentodeFamily
from curvelab.fitting.records import Constant, Constants, Outcome
from curvelab.reference.family import ReferenceFamily
from curvelab.reference.points import printed_at
from curvelab.reference.records import Comparison, Figure, TubeType
from curvelab.sweep.records import FloatArray

__all__ = ["compare", "reference_constants"]

_PLATE_POINTS, _GRID_POINTS = 20, 16
# Below this share of the family's largest current a relative deviation says nothing.
_FLOWING = 0.02
_CONSTANTS = (
    "plate_current",
    "transconductance",
    "plate_resistance",
    "amplification_factor",
)


def reference_constants(
    family: ReferenceFamily, tube_type: TubeType, at: tuple[float, float]
) -> Constants:
    """Return the reference's constants at a point.

    At a handbook point of the type they are the printed figures themselves, elsewhere and
    where none is printed the family's own; a family has no uncertainty to quote.
    """
    plate, grid = np.array([at[0]]), np.array([at[1]])
    current, by_plate, by_grid = (float(item[0]) for item in family.evaluate(plate, grid))
    if min(by_plate, by_grid, current) <= 0:
        return Constants.missing(Outcome.NOT_COVERED, "the family has no current there")
    mu = float(family.amplification_factor(plate, grid)[0])
    own = (current, by_grid, 1.0 / by_plate, mu)
    point = printed_at(tube_type, at[0], at[1] + family.grid_shift, family.screen_voltage)
    printed: list[Figure | None] = [
        None if point is None else getattr(point, name) for name in _CONSTANTS
    ]
    return Constants(
        *(
            Constant(value if figure is None else figure.value, None)
            for value, figure in zip(own, printed, strict=True)
        )
    )


def compare(  # noqa: PLR0913 (a tube and a family, each with its constants)
    family: ReferenceFamily,
    why: str,
    measured: FittedFamily | PentodeFamily | None,
    constants: Constants,
    reference: Constants,
    *,
    at: tuple[float, float],
    open_by: float = 0.0,
) -> Comparison:
    """Compare a tube with a family at its operating point and over the covered plane.

    Parameters
    ----------
    why : str
        ``same``, ``alias`` or ``stand-in``.
    open_by : float
        How far the family's grid volts may still differ from the tube's [V].
    measured : FittedFamily, PentodeFamily or None
        None where the readings make no family: only the constants are compared then.
    """
    of_bogey = {}
    for name in _CONSTANTS:
        value, bogey = getattr(constants, name).value, getattr(reference, name).value
        if value is not None and bogey:
            of_bogey[name] = value / bogey
    plate, grid, deviation = _over_the_plane(family, measured)
    return Comparison(
        type_name=family.type_name,
        why=why,
        family_deviation=float(np.sqrt(np.mean(deviation**2))) if deviation.size else None,
        of_bogey=of_bogey,
        family_residual=family.residual,
        plate_voltage=plate,
        grid_voltage=grid,
        deviation=deviation,
        open_by=_left_open(family, at, open_by),
    )


def _left_open(family: ReferenceFamily, at: tuple[float, float], volts: float) -> float:
    """Return by what share of its current the family may differ for ``volts`` of grid voltage."""
    if volts <= 0:
        return 0.0
    around = at[1] + volts * np.array([-1.0, 0.0, 1.0])
    current = family.current(np.full(3, at[0]), around)
    return float(np.abs(current / max(float(current[1]), 1e-15) - 1.0).max())


def _over_the_plane(
    family: ReferenceFamily, measured: FittedFamily | PentodeFamily | None
) -> tuple[FloatArray, FloatArray, FloatArray]:
    nothing = np.empty(0)
    if measured is None or measured.hull is None or not measured.hull.is_plane:
        return nothing, nothing, nothing
    low, span = measured.hull.origin, measured.hull.span
    plate, grid = (
        axis.ravel()
        for axis in np.meshgrid(
            low[0] + span[0] * np.linspace(0, 1, _PLATE_POINTS),
            low[1] + span[1] * np.linspace(0, 1, _GRID_POINTS),
        )
    )
    inside = measured.hull.contains(plate, grid)
    plate, grid = plate[inside], grid[inside]
    reference = family.current(plate, grid)
    flowing = reference > _FLOWING * reference.max(initial=0.0)
    plate, grid, reference = plate[flowing], grid[flowing], reference[flowing]
    if not plate.size:
        return nothing, nothing, nothing
    deviation = measured.current(plate, grid) / reference - 1.0
    for array in (plate, grid, deviation):
        array.setflags(write=False)
    return plate, grid, deviation
