"""A fitted family with a screen grid as formulas that a program without curvelab can evaluate.

The law stands as in `pentode_law`. Its correction, made for readings converted to one screen
voltage V0, is a sine series (see `closed_form`) in the cathode's current and the plate's volts
as they would be there:

    Ip = law(Vp, Vg, Vs) * exp(series(Ik (V0/Vs)^(3/2), Vp V0/Vs)),  Is = Ik - law(Vp, Vg, Vs)
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from curvelab.fitting.closed_form import (
    SineSeries,
    covered_plane,
    largest_departure,
    sine_series,
)
from curvelab.fitting.conversion import DEGREE
from curvelab.fitting.pentode_family import PentodeFamily
from curvelab.fitting.pentode_law import PENTODE
from curvelab.sweep.records import FloatArray

__all__ = ["PentodeForm", "pentode_closed_form"]


@dataclass(frozen=True, slots=True, eq=False)
class PentodeForm:
    """The law with its parameters, and the series that corrects it.

    Attributes
    ----------
    parameters : mapping of str to float
        In the symbols of `pentode_law.PENTODE`, SI units.
    series : SineSeries or None
        None where the law stands alone.
    reference_screen : float
        Screen voltage V0 that the series belongs to [V].
    departure : float
        Largest relative difference from the family it was taken from, over the covered plane
        where current flows.
    """

    parameters: Mapping[str, float]
    series: SineSeries | None
    reference_screen: float
    departure: float = 0.0

    def currents(
        self, plate_voltage: FloatArray, grid_voltage: FloatArray, screen_voltage: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Return plate and screen current [A]; arguments [V] broadcast together."""
        plate, grid, screen = np.broadcast_arrays(
            *(np.asarray(item, float) for item in (plate_voltage, grid_voltage, screen_voltage))
        )
        of_plate, of_grid, of_screen = (item.reshape(1, -1) for item in (plate, grid, screen))
        internal = PENTODE.internal(self.parameters)[None]
        with np.errstate(under="ignore", over="ignore"):
            law = PENTODE.slopes(of_plate, of_grid, of_screen, internal).reshaped(plate.shape)
        drawn = law.cathode - law.plate
        if self.series is None:
            return law.plate, drawn
        times = self.reference_screen / screen
        amount = self.series.value(law.cathode * times**DEGREE, plate * times)
        return np.asarray(law.plate * np.exp(amount)), drawn


def pentode_closed_form(family: PentodeFamily) -> PentodeForm:
    """Return a fitted family as formulas, with how far they depart from the family."""
    series = None if family.correction is None else sine_series(family.correction)
    parameters = PENTODE.physical(family.internal)
    found = PentodeForm(parameters, series, family.reference_screen)
    there = family.at_screen(family.reference_screen)
    if there.hull is None:
        return found
    plate, grid = covered_plane(there.hull)
    other, _ = found.currents(plate, grid, np.full(plate.size, family.reference_screen))
    return replace(found, departure=largest_departure(there.current(plate, grid), other))
