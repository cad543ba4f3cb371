"""The fitted curves of several tubes laid over one another and over the reference family."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

import numpy as np

from curvelab.catalog.curves import CurveGrid
from curvelab.fitting.records import PlateFamily
from curvelab.quantities import MILLIAMPERE, PLATE_CURRENT, PLATE_VOLTAGE
from curvelab.sheets.plot_parts import LINE_POINTS, family_milliamperes
from curvelab.sheets.plot_records import CurvePicture, Role, Series
from curvelab.sheets.text import plain, volts
from curvelab.sheets.ticks import round_axis
from curvelab.sweep.records import FloatArray

__all__ = ["overlay_picture"]

_MOST_STEPS = 7  # of grid voltage: more curves of several tubes are not told apart
_SAME = 1e-6  # [V]
_STRAIGHT = 2.0 / 3.0  # power of the current that is nearly a line (Child 1911, Langmuir 1913)
_FAMILY_REACH = 1.25  # the axis grows this far to keep the reference family in sight


def overlay_picture(
    title: str,
    members: Mapping[str, CurveGrid],
    family: PlateFamily | None = None,
    family_name: str | None = None,
) -> CurvePicture | None:
    """Return the curves of every tube at the grid steps that all of them cover.

    Parameters
    ----------
    members : mapping of str to CurveGrid
        By the name that the key gives them.
    family, family_name : PlateFamily, str, optional
        The reference family and its type.

    Returns
    -------
    CurvePicture or None
        None where the tubes share no grid step.
    """
    grids = tuple(members.values())
    steps = _shared_steps(grids)
    if not steps.size:
        return None
    highest = max(float(grid.plate_voltage[-1]) for grid in grids)
    lines = tuple(
        line for member, grid in enumerate(grids) for line in _member_lines(member, grid, steps)
    )
    if not lines:
        return None
    reference = tuple(_family_lines(family, steps, highest))
    top = max(float(line.y.max()) for line in lines)
    above = max((float(line.y.max()) for line in reference), default=0.0)
    return CurvePicture(
        title=plain(title),
        x=round_axis(PLATE_VOLTAGE.axis_label, 0.0, highest),
        y=round_axis(PLATE_CURRENT.axis_label, 0.0, max(top, min(above, _FAMILY_REACH * top))),
        series=(*reference, *lines),
        marks=(),
        step_count=0,
        reference_label=family_name if family is not None else None,
        members=tuple(plain(name) for name in members),
    )


def _shared_steps(grids: Sequence[CurveGrid]) -> FloatArray:
    """Return grid voltages [V] that every tube covers somewhere, ascending."""
    if not grids:
        return np.zeros(0)
    shared = [
        step
        for step in grids[0].grid_voltage.tolist()
        if all(_covers_step(grid, step) for grid in grids)
    ]
    steps = np.array(shared, dtype=float)
    every = -(-steps.size // _MOST_STEPS) if steps.size else 1
    return steps[::-1][::every][::-1]  # evenly, from the least negative down


def _covers_step(grid: CurveGrid, step: float) -> bool:
    near = np.abs(grid.grid_voltage - step) < _SAME
    if near.any():
        return bool(grid.covered[int(np.argmax(near))].sum() > 1)
    # Swept at other steps: between its own it can still be read.
    plate = grid.plate_voltage
    return bool(np.isfinite(grid.current_at(plate, np.full(plate.shape, step))).sum() > 1)


def _member_lines(member: int, grid: CurveGrid, steps: FloatArray) -> Iterator[Series]:
    # scipy is not needed to start; its cubic keeps the curve monotone between the nodes.
    from scipy.interpolate import PchipInterpolator  # noqa: PLC0415

    nodes = grid.plate_voltage
    for step in steps.tolist():
        current = grid.current_at(nodes, np.full(nodes.shape, step)) / MILLIAMPERE.si
        known = np.isfinite(current)
        if known.sum() < 2:
            continue
        plate = np.linspace(nodes[known][0], nodes[known][-1], 2 * LINE_POINTS)
        straight = PchipInterpolator(nodes[known], np.maximum(current[known], 0.0) ** _STRAIGHT)
        level = np.maximum(straight(plate), 0.0) ** (1 / _STRAIGHT)
        label = f"{volts(round(step, 2))} V"
        yield Series(Role.FITTED, label, plate, level, end_label=member == 0, member=member)


def _family_lines(
    family: PlateFamily | None, steps: FloatArray, highest: float
) -> Iterator[Series]:
    if family is None:
        return
    plate = np.linspace(highest / 200, highest, LINE_POINTS)
    for step in steps.tolist():
        current = family_milliamperes(family, plate, np.full(plate.shape, step))
        known = np.isfinite(current)
        if known.sum() > 1:
            yield Series(Role.REFERENCE, f"{volts(step)} V", plate[known], current[known])
