"""Whether a sweep is that of a screen grid at a voltage of its own, and at which."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from curvelab.fitting.fit import fit_sweeps
from curvelab.fitting.pentode_fit import fit_pentodes
from curvelab.fitting.records import FitResult
from curvelab.sweep.records import Readings, Remark, RemarkCode, Sweep

__all__ = [
    "OTHERWISE_CONNECTED",
    "SCREEN_NOT_STATED",
    "TIED_TO_PLATE",
    "fit_as_connected",
    "has_screen_grid",
    "screen_known",
    "with_screen_voltage",
]

# A screen this near the plate's voltage at every reading is tied to it (share of it; volts).
_TIED, _TIED_VOLTS = 0.02, 1.0

SCREEN_NOT_STATED = "connected as a pentode, but the file does not say at what screen voltage"
OTHERWISE_CONNECTED = (
    "The reference curves that were given belong to another connection of the screen, so the "
    "library's family was taken."
)
_WHICH_MU = Remark(
    RemarkCode.OTHER,
    "connected as a pentode: mu is that of the control grid against the screen, not gm times rp",
)

TIED_TO_PLATE = Remark(
    RemarkCode.OTHER,
    "the file says that the screen had a voltage of its own, but at every reading it is the "
    "plate's: as a pentode such readings give next to nothing; if screen and plate were tied, "
    "write 'connection: triode-connected', with the current of both as the plate's",
)


def has_screen_grid(sweep: Sweep) -> bool:
    """Tell whether the screen stood at a voltage of its own.

    As the file says; where it says nothing of its connection, a screen voltage that is not the
    plate's own makes it a pentode.
    """
    connection, screen = sweep.conditions.connection, sweep.readings.screen_voltage
    if connection is not None:
        return connection == "pentode"
    if screen is None:
        return sweep.conditions.screen_voltage is not None
    return _stands_apart(sweep.readings)


def _stands_apart(readings: Readings) -> bool:
    """Tell whether the screen's volts are not the plate's; an empty cell is no screen."""
    screen, plate = readings.screen_voltage, readings.plate_voltage
    if screen is None:
        return False
    return bool((np.abs(screen - plate) > np.maximum(_TIED_VOLTS, _TIED * np.abs(plate))).any())


def screen_known(sweep: Sweep) -> bool:
    """Tell whether any reading says at what screen voltage it was taken."""
    screen = sweep.readings.screen_voltage
    return screen is not None and bool(np.isfinite(screen).any())


def with_screen_voltage(sweep: Sweep) -> Sweep:
    """Return the sweep of a pentode with the screen voltage at every reading.

    Where a reading has none it is the one stated for the file. The sweep then says which mu its
    constants hold.
    """
    if not has_screen_grid(sweep):
        return sweep
    screen, stated = sweep.readings.screen_voltage, sweep.conditions.screen_voltage
    if stated is not None:
        if screen is None:
            screen = np.full(len(sweep.readings), np.nan)
        screen = np.where(np.isfinite(screen), screen, stated)
    readings = replace(sweep.readings, screen_voltage=screen)
    said = (_WHICH_MU,)
    if screen is not None and np.isfinite(screen).any() and not _stands_apart(readings):
        said = (TIED_TO_PLATE,)
    return replace(sweep, readings=readings, remarks=(*sweep.remarks, *said))


def fit_as_connected(
    sweeps: Sequence[Sweep], readings: Sequence[Readings]
) -> tuple[FitResult, ...]:
    """Fit readings of every sweep with the laws of its connection.

    A pentode at a screen voltage that nobody states is fitted as the plane of curves that it is;
    its constants are not given.
    """
    as_pentode = [has_screen_grid(sweep) and screen_known(sweep) for sweep in sweeps]
    of_pentodes = iter(
        fit_pentodes([part for part, own in zip(readings, as_pentode, strict=True) if own])
    )
    of_triodes = iter(
        fit_sweeps([part for part, own in zip(readings, as_pentode, strict=True) if not own])
    )
    return tuple(next(of_pentodes) if own else next(of_triodes) for own in as_pentode)
