"""Curves that somebody read off a sheet, from a file in any shape that a sweep may have."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from curvelab.assessment.connection import (
    SCREEN_NOT_STATED,
    has_screen_grid,
    screen_known,
    with_screen_voltage,
)
from curvelab.errors import ReferenceDataError, SweepFileError
from curvelab.ingest.reader import read_file
from curvelab.sweep.records import Readings

__all__ = ["DrawnCurves", "read_curves"]


@dataclass(frozen=True, slots=True, eq=False)
class DrawnCurves:
    """The readings of one drawing.

    Attributes
    ----------
    readings : Readings
        With a screen voltage at each where the screen stood at a voltage of its own.
    title : str
        What they are, with the file they came from.
    type_name : str
        As the file names the type, or else the tube.
    """

    readings: Readings
    title: str
    type_name: str


def read_curves(path: Path, type_name: str | None = None) -> DrawnCurves:
    """Return the curves in a file.

    Raises
    ------
    ReferenceDataError
        If it cannot be read, holds several tubes, or does not say the screen's voltage.
    """
    try:
        found = read_file(path, type_name=type_name)
    except SweepFileError as error:
        raise ReferenceDataError(f"reference curves {error}") from error
    if len(found.sweeps) != 1:
        raise ReferenceDataError(
            f"reference curves {path}: wanted the curves of one tube, got {len(found.sweeps)}"
        )
    sweep = with_screen_voltage(found.sweeps[0])
    readings = sweep.readings
    if not has_screen_grid(sweep):
        readings = replace(readings, screen_voltage=None, screen_current=None)
    elif not screen_known(sweep):
        raise ReferenceDataError(f"reference curves {path}: {SCREEN_NOT_STATED}")
    elif readings.screen_voltage is not None:
        readings = readings.take(np.isfinite(readings.screen_voltage))
    return DrawnCurves(
        readings=readings,
        title=f"own readings of curves, {sweep.source.name}, SHA-256 {sweep.source.sha256[:12]}",
        type_name=sweep.type_label or sweep.tube,
    )
