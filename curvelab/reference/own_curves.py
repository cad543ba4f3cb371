"""A reference family from curves that somebody read off a sheet of their own."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from curvelab.errors import ReferenceDataError
from curvelab.fitting.screen_steps import screen_steps
from curvelab.reference.family import ReferenceFamily
from curvelab.reference.pentode_solve import solve_pentode_families
from curvelab.reference.records import PublishedCurves, Status, TubeType
from curvelab.reference.solve import solve_families
from curvelab.sweep.records import Readings

__all__ = ["OwnCurves", "curves_by_screen", "family_of_curves"]

_FEWEST_READINGS, _FEWEST_CURVES = 6, 2


@dataclass(frozen=True, slots=True, eq=False)
class OwnCurves:
    """The family of such curves, and the type they stand for."""

    tube_type: TubeType
    family: ReferenceFamily


def family_of_curves(
    readings: Readings, title: str, tube_type: TubeType | None, name: str
) -> OwnCurves:
    """Return the family that follows readings of published curves.

    Parameters
    ----------
    readings : Readings
        With a screen voltage at each where the screen stood at a voltage of its own, without one
        where there is no screen or it was tied to the plate.
    title : str
        What the readings are, with the file they came from.
    tube_type : TubeType or None
        The type they are of: its points become the family's check. None where the library
        does not hold it.
    name : str
        Its name where the library does not hold it.

    Raises
    ------
    ReferenceDataError
        If the readings do not make a family.
    """
    flowing = readings.take(readings.plate_current > 0)
    steps = np.unique(np.round(flowing.grid_voltage, 3)).size
    if len(flowing) < _FEWEST_READINGS or steps < _FEWEST_CURVES:
        raise ReferenceDataError(
            f"{title}: {len(flowing)} readings with current at {steps} grid voltages make no "
            f"reference family; wanted {_FEWEST_READINGS} or more, at two or more"
        )
    screened = flowing.screen_voltage is not None
    base = tube_type if tube_type is not None else _unknown_type(name, screened=screened)
    followed = replace(base, curves=tuple(curves_by_screen(flowing, title)))
    solved = solve_pentode_families if screened else solve_families
    (family,) = solved([followed])
    return OwnCurves(followed, family)


def curves_by_screen(readings: Readings, title: str) -> Iterator[PublishedCurves]:
    """Yield readings with current as published curves, those at each screen voltage apart."""
    screen = readings.screen_voltage
    step = np.zeros(len(readings), dtype=np.int64) if screen is None else screen_steps(screen)
    for each in np.unique(step):
        part = readings.take(step == each)
        of_screen = part.screen_voltage
        yield PublishedCurves(
            screen_voltage=None if of_screen is None else float(np.median(of_screen)),
            plate_voltage=part.plate_voltage,
            grid_voltage=part.grid_voltage,
            plate_current=part.plate_current,
            source=title,
            status=Status.VERIFIED,
            accuracy="not stated",
            screen_current=part.screen_current,
        )


def _unknown_type(name: str, *, screened: bool) -> TubeType:
    return TubeType(
        name=name,
        aliases=(),
        kind="pentode" if screened else "triode",
        cathode="indirect",
        base=None,
        points=(),
        cutoffs=(),
        ratings=(),
        printed_limits=(),
        heaters=(),
        notes=(),
        near=(),
    )
