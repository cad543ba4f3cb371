"""Which type is this? The library's types ranked by how well they explain a sweep."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from curvelab.assessment.connection import SCREEN_NOT_STATED, has_screen_grid
from curvelab.assessment.records import Assessment
from curvelab.fitting.pentode_family import PentodeFamily
from curvelab.reference.families import FamilyLibrary
from curvelab.reference.identity import Candidate, deviation_from, flowing, rank_types
from curvelab.sweep.records import SweepKind

__all__ = ["Identified", "Ranked", "identify"]

# A best candidate whose curves have another shape than the readings by more than this is no
# answer (house rule): tubes of one type differ by about 0.1.
_SHAPE_OF_ONE_TYPE = 0.25
_SAME_SCREEN = 0.02  # share by which a supply may wander around the screen voltage
_WORLDS_APART = 2.5  # of the logarithm: the ranking itself looks no farther than three


@dataclass(frozen=True, slots=True)
class Ranked:
    """One candidate: a type, or types that no bench could tell apart.

    Attributes
    ----------
    odds : float
        Probability among the library's types, all taken to be as likely beforehand.
    current : float or None
        The tube's current over the family's, as a geometric mean; None where they are worlds
        apart.
    shape : float or None
        What remains of the deviation once that factor is taken out.
    """

    type_names: tuple[str, ...]
    odds: float
    deviation: float
    current: float | None
    shape: float | None


@dataclass(frozen=True, slots=True, eq=False)
class Identified:
    """The ranking of one tube, likeliest first; empty with the reason where there is none."""

    tube: str
    section: str | None
    file: str
    type_label: str | None
    ranked: tuple[Ranked, ...]
    remark: str | None


def identify(assessments: Sequence[Assessment], library: FamilyLibrary) -> tuple[Identified, ...]:
    """Rank the library for every tube, whatever its label says."""
    return tuple(_identified(assessment, library) for assessment in assessments)


def _identified(assessment: Assessment, library: FamilyLibrary) -> Identified:
    ranked, remark = _ranked(assessment, library)
    sweep = assessment.sweep
    return Identified(
        tube=sweep.tube,
        section=sweep.section,
        file=sweep.source.name,
        type_label=sweep.type_label,
        ranked=ranked,
        remark=remark,
    )


def _ranked(
    assessment: Assessment, library: FamilyLibrary
) -> tuple[tuple[Ranked, ...], str | None]:
    sweep, used = assessment.sweep, assessment.fit.used
    if sweep.kind is SweepKind.DRIFT_LOG:
        return (), "a drift log stands at one point: it takes curves to tell types apart"
    families, classes, family = library.families, library.classes, assessment.fit.family
    if isinstance(family, PentodeFamily) and sweep.readings.screen_voltage is not None:
        screen = family.screen_voltage
        used = used & (np.abs(sweep.readings.screen_voltage - screen) <= _SAME_SCREEN * screen)
        families, classes = library.pentodes_at(screen), library.pentode_classes
    elif has_screen_grid(sweep):
        return (), assessment.fit.reason or SCREEN_NOT_STATED
    if not used.any():
        return (), "there is no usable reading"
    readings = sweep.readings.take(used)
    plate, grid, current = readings.plate_voltage, readings.grid_voltage, readings.plate_current
    identity = rank_types(families, classes, plate, grid, current)
    if identity is None:
        return (), "too few readings show enough current to tell types apart"
    seen = flowing(current)
    names = list(families)
    scale, shape = deviation_from(list(families.values()), plate[seen], grid[seen], current[seen])
    figures = dict(zip(names, zip(scale.tolist(), shape.tolist(), strict=True), strict=True))
    ranked = tuple(_figures(candidate, figures) for candidate in identity.candidates)
    if ranked[0].shape is None or ranked[0].shape > _SHAPE_OF_ONE_TYPE:
        return ranked, "no type of the library has curves of this shape: the first is the nearest"
    return ranked, None


def _figures(candidate: Candidate, figures: Mapping[str, tuple[float, float]]) -> Ranked:
    best = min(candidate.type_names, key=lambda name: figures[name][0] ** 2 + figures[name][1] ** 2)
    scale, shape = figures[best]
    near = abs(scale) < _WORLDS_APART
    return Ranked(
        candidate.type_names,
        candidate.odds,
        candidate.deviation,
        float(np.exp(scale)) if near else None,
        shape if near else None,
    )
