"""All that a rule may look at when it judges one tube."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from curvelab.fitting.records import Constants, FitResult
from curvelab.health.limits import HouseLimits
from curvelab.reference.family import ReferenceFamily
from curvelab.reference.identity import Identity
from curvelab.reference.records import Comparison, TubeType
from curvelab.sweep.curves import Curves
from curvelab.sweep.records import FloatArray, IntArray, Readings, Sweep

__all__ = ["Case", "Probe", "SetUp"]


class SetUp(StrEnum):
    """What was changed on purpose for a second look at the same tube."""

    GRID_RESISTOR = "grid resistor"
    LOW_HEATER = "low heater"


@dataclass(frozen=True, slots=True, eq=False)
class Probe:
    """Readings of the same tube under a changed set-up.

    Attributes
    ----------
    setting : ndarray, shape (n,)
        Resistor in the grid lead [ohm], or heater voltage [V], at each reading.
    usual : float
        The setting of the usual readings: no resistor, or the full heater voltage.
    base : Case or None
        The usual readings, where they are another file's; None where they are the case's.
    positions : ndarray of int, shape (n,)
        Places among the readings of the case judged; empty where they are another file's.
    """

    set_up: SetUp
    readings: Readings
    setting: FloatArray
    usual: float
    base: Case | None
    positions: IntArray


@dataclass(frozen=True, slots=True, eq=False)
class Case:
    """One sweep with everything known about it.

    Attributes
    ----------
    operating_point : tuple of float or None
        (Vp, Vg) at which ``constants`` and ``local`` were taken [V].
    tube_type : TubeType or None
        The type on the label (its printed limits and ratings); None where unknown.
    family : ReferenceFamily or None
        The family it was compared with, which may be a stand-in's.
    identity : Identity or None
        How well each family of the library fits; None where nothing could be ranked.
    low_identity : Identity or None
        The same by the lower currents alone, which a worn cathode leaves as they were; None
        too where the label's own class is the likeliest by all of them.
    sibling : Case or None
        The other section of a dual tube, where the batch holds it.
    probes : tuple of Probe
        Readings of the tube under a changed set-up, from this file or another.
    with_screen_grid : bool
        Whether the screen stood at a voltage of its own.
    """

    sweep: Sweep
    curves: Curves
    fit: FitResult
    operating_point: tuple[float, float] | None
    constants: Constants
    local: Constants
    tube_type: TubeType | None
    family: ReferenceFamily | None
    comparison: Comparison | None
    identity: Identity | None
    limits: HouseLimits
    low_identity: Identity | None = None
    sibling: Case | None = None
    probes: tuple[Probe, ...] = ()
    with_screen_grid: bool = False
