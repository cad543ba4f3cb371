"""How accurate a bench's meters are."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["UNSTATED_BENCH", "Bench", "MeterAccuracy"]


@dataclass(frozen=True, slots=True)
class MeterAccuracy:
    """Limits of error of one meter, as its maker or a calibration states them.

    Attributes
    ----------
    gain : float
        As a fraction of the reading [1].
    offset, resolution : float
        In the meter's own quantity, SI.
    """

    gain: float = 0.0
    offset: float = 0.0
    resolution: float = 0.0

    def standard_uncertainty(self, value: float) -> tuple[float, float]:
        """Return the standard uncertainties (relative part, absolute part) at ``value``.

        Limits without a stated distribution count as rectangular: half-width over the
        root of three (JCGM 100:2008, clause 4.3.7); a resolution spans two half-widths.
        """
        root3 = 3.0**0.5
        absolute = ((self.offset / root3) ** 2 + (self.resolution / (2 * root3)) ** 2) ** 0.5
        return self.gain / root3, absolute


@dataclass(frozen=True, slots=True)
class Bench:
    """A named bench.

    ``assumed`` is true where no accuracy was stated: the uncertainty then holds
    against this bench's own meters only, and sheet and results say so.
    """

    name: str
    assumed: bool
    plate_voltage: MeterAccuracy = MeterAccuracy()
    grid_voltage: MeterAccuracy = MeterAccuracy()
    plate_current: MeterAccuracy = MeterAccuracy()
    grid_current: MeterAccuracy = MeterAccuracy()


UNSTATED_BENCH = Bench(name="not named", assumed=True)
