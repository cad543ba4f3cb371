"""From the supply's volts to the electrodes' where resistors stand in the leads."""

from __future__ import annotations

from collections.abc import Collection

import numpy as np

from curvelab.errors import AmbiguousFileError
from curvelab.ingest.bundles import Bundle
from curvelab.ingest.headings import Column
from curvelab.sweep.records import Remark, RemarkCode

__all__ = ["AT_ELECTRODES", "AT_SUPPLY", "correct_supply_volts"]

AT_SUPPLY = "voltages are the supply's"
AT_ELECTRODES = "voltages are the electrodes'"


def correct_supply_volts(
    path: str,
    bundle: Bundle,
    answers: Collection[str],
) -> list[Remark]:
    """Take the drops in plate and cathode leads off the voltages, in place.

    With Ik the cathode current (plate and, where measured, screen current), by
    Kirchhoff's voltage law:
    Vp = Vbb - Ip Rp - Ik Rk, Vg = Vgg - Ik Rk, Vs = Vss - Ik Rk. The drop in a grid
    resistor is left: it is what shows a reverse grid current.

    Raises
    ------
    AmbiguousFileError
        If a plate voltage would come out negative, so that the voltages may have been
        measured at the electrodes after all.
    """
    plate = bundle.conditions.plate_resistor or 0.0
    cathode = bundle.conditions.cathode_resistor or 0.0
    if (plate == 0.0 and cathode == 0.0) or AT_ELECTRODES in answers:
        return []
    values = bundle.values
    current = values[Column.PLATE_CURRENT]
    screen = bundle.get(Column.SCREEN_CURRENT)
    through_cathode = current if screen is None else current + np.nan_to_num(screen)
    drop = through_cathode * cathode
    corrected = values[Column.PLATE_VOLTAGE] - current * plate - drop
    lowest = -0.02 * float(np.abs(values[Column.PLATE_VOLTAGE]).max())
    if corrected.min() < lowest and AT_SUPPLY not in answers:
        reason = "the drop in the stated plate and cathode resistors exceeds the plate voltage"
        raise AmbiguousFileError(path, reason, (AT_SUPPLY, AT_ELECTRODES))
    values[Column.PLATE_VOLTAGE] = corrected
    values[Column.GRID_VOLTAGE] = values[Column.GRID_VOLTAGE] - drop
    if bundle.get(Column.SCREEN_VOLTAGE) is not None:
        values[Column.SCREEN_VOLTAGE] = values[Column.SCREEN_VOLTAGE] - drop
    leads = [
        f"{ohms:g} ohm in the {lead} lead"
        for lead, ohms in (("plate", plate), ("cathode", cathode))
        if ohms
    ]
    text = f"supply volts are corrected to electrode volts for {' and '.join(leads)}"
    return [Remark(RemarkCode.SUPPLY, text)]
