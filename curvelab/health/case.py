"""All that a rule may look at when it judges one tube."""

from __future__ import annotations

from dataclasses import dataclass

from curvelab.fitting.records import Constants, FitResult
from curvelab.health.limits import HouseLimits
from curvelab.reference.family import ReferenceFamily
from curvelab.reference.identity import Identity
from curvelab.reference.records import Comparison, TubeType
from curvelab.sweep.curves import Curves
from curvelab.sweep.records import Sweep

__all__ = ["Case"]


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
    sibling : Case or None
        The other section of a dual tube, where the batch holds it.
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
    sibling: Case | None = None
