"""A type's family of plate curves, solved from what its handbook prints."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from numpy.typing import NDArray

from curvelab.sweep.records import FloatArray

__all__ = ["ReferenceFamily"]


@dataclass(frozen=True, slots=True, eq=False)
class ReferenceFamily:
    """The average family of a type.

    Attributes
    ----------
    type_name : str
        Type the family belongs to.
    law : str
        Plate-current law that met the published figures best.
    parameters : mapping of str to float
        In the law's own symbols, SI units.
    residual : mapping of str to float
        Family's figure over the published one, minus one, by a label such as
        ``250 V, -8 V: gm``.
    origin : str
        One sentence: which points, from which sources, how well known.
    from_memory : bool
        Whether any of the figures it rests on was not seen on a published page.
    """

    type_name: str
    law: str
    parameters: Mapping[str, float]
    residual: Mapping[str, float]
    origin: str
    from_memory: bool

    def current(self, plate_voltage: FloatArray, grid_voltage: FloatArray) -> FloatArray:
        """Return the plate current [A]; arguments [V] broadcast together."""
        raise NotImplementedError  # being written

    def slopes(
        self, plate_voltage: FloatArray, grid_voltage: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Return (dIp/dVp, dIp/dVg) [S]."""
        raise NotImplementedError  # being written

    def covers(self, plate_voltage: FloatArray, grid_voltage: FloatArray) -> NDArray:
        """Tell where the published figures back the family; elsewhere it extrapolates."""
        raise NotImplementedError  # being written
