"""Matched sets, and mates for one tube, from sweep files that are in no catalogue.

Tubes of one type are compared at one operating point, of those chosen for them the one that
serves most, and over one working region (`curvelab.matching.region`). Tubes whose screens have
a voltage of their own are compared at one of those, apart from the same type as a triode.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np

from curvelab.assessment.records import Assessment
from curvelab.fitting.constants import constants_at, local_constants_at, with_local
from curvelab.fitting.family import FittedFamily
from curvelab.fitting.family_values import family_values
from curvelab.fitting.pentode_family import PentodeFamily
from curvelab.fitting.pentode_fit import at_screen
from curvelab.fitting.records import Constants, FitResult, Outcome, PlateFamily
from curvelab.matching.match import Progress, ShouldStop, match_tubes
from curvelab.matching.records import Candidate, MatchRequest, MatchResult, Measured, Section
from curvelab.sweep.bench import UNSTATED_BENCH, Bench
from curvelab.sweep.records import BoolArray, FloatArray, SweepKind
from curvelab.workbench.bench_file import load_description
from curvelab.workbench.characterize import Batch, Request, characterize
from curvelab.workbench.comparison import (
    Common,
    Swept,
    barring_findings,
    bench_along,
    bench_part,
    class_of,
    common_places,
    common_screens,
    section_of,
    untyped,
    working_curve,
)

__all__ = ["LotCandidates", "LotMatch", "lot_candidates", "match_files", "tube_by_figures"]


@dataclass(frozen=True, slots=True, eq=False)
class LotCandidates:
    """Tubes ready to be matched.

    Attributes
    ----------
    regions : mapping of str to str
        By class of tubes, over which working region their curves are compared, or why over none.
    """

    candidates: tuple[Candidate, ...]
    regions: Mapping[str, str]


@dataclass(frozen=True, slots=True, eq=False)
class LotMatch:
    """Files read, their tubes as candidates, and the sets."""

    batch: Batch
    lot: LotCandidates
    result: MatchResult


def match_files(
    request: Request,
    matching: MatchRequest,
    *,
    with_held: bool = False,
    progress: Progress | None = None,
    should_stop: ShouldStop | None = None,
) -> LotMatch:
    """Read, fit and judge files, and match their tubes.

    Raises
    ------
    UnknownTypeError, BenchDescriptionError
        As `curvelab.workbench.characterize`.
    MatchingInputError
        As `curvelab.matching.match_tubes`.
    """
    batch = characterize(request, progress, should_stop)
    bench = load_description(request.bench).bench
    lot = lot_candidates(batch.assessments, bench, with_held=with_held)
    return LotMatch(batch, lot, match_tubes(lot.candidates, matching, progress, should_stop))


def lot_candidates(
    assessments: Sequence[Assessment],
    bench: Bench = UNSTATED_BENCH,
    *,
    with_held: bool = False,
    at: tuple[float, ...] | None = None,
) -> LotCandidates:
    """Return the tubes of a batch, sections joined, with all that speaks against each.

    Parameters
    ----------
    bench : Bench
        The bench that the batch was assessed with.
    with_held : bool
        Whether tubes on hold take part; rejects never do.
    at : tuple of float, optional
        (Vp, Vg) or (Vp, Vg, Vs) [V] at which all are compared, as when a sheet prints another
        tube's figures.
    """
    tubes: dict[str, list[Assessment]] = {}
    for assessment in assessments:
        tubes.setdefault(assessment.sweep.tube, []).append(assessment)
    curves = [one for one in assessments if one.sweep.kind is SweepKind.CURVES]
    screens = common_screens(
        ((_class(one), one.verdict, one.operating_point) for one in curves),
        at[2] if at is not None and len(at) > 2 else None,
    )
    fits = {id(one): at_screen(one.fit, screens[_class(one)]) for one in curves}
    swept = {id(one): _swept(one, fits[id(one)], screens[_class(one)]) for one in curves}
    common = common_places(swept.values(), None if at is None else (at[0], at[1]))
    sides = _Sides(swept, fits, common, bench)
    candidates = [_candidate(key, parts, sides, with_held) for key, parts in tubes.items()]
    return LotCandidates(
        candidates=tuple(candidates), regions={name: one.words for name, one in common.items()}
    )


def tube_by_figures(
    key: str,
    type_class: str,
    at: tuple[float, float],
    plate_current: Measured | None,
    transconductance: Measured | None,
) -> Candidate:
    """Return a tube that is known by figures only, from a sheet or a customer's letter.

    Parameters
    ----------
    at : tuple of float
        (Vp, Vg) [V]; the stock must be compared there too.
    plate_current, transconductance : Measured or None
        [A], [S]; without an uncertainty nobody can say whether the bench tells the tube
        from a mate, and nothing will.
    """
    section = Section(None, at, plate_current, transconductance)
    return Candidate(key, type_class, (section,))


def _class(assessment: Assessment) -> str:
    return class_of(assessment.type_name, assessment.operating_point)


def _swept(assessment: Assessment, fit: FitResult, screen_voltage: float | None) -> Swept:
    hull, family = fit.hull, fit.family
    covers: Callable[[FloatArray, FloatArray], BoolArray] | None = None
    if isinstance(family, PentodeFamily):
        covers = family.covers
    elif hull is not None:
        covers = hull.contains
    fitted = isinstance(family, FittedFamily | PentodeFamily)
    return Swept(
        type_class=_class(assessment),
        tube_type=assessment.tube_type,
        verdict=assessment.verdict,
        point=assessment.operating_point,
        screen_voltage=screen_voltage,
        covers=covers,
        current=partial(_backed, family) if fitted and family is not None else None,
    )


def _backed(family: PlateFamily, plate_voltage: FloatArray, grid_voltage: FloatArray) -> FloatArray:
    """Return a family's current where its readings back it, NaN elsewhere."""
    backed = family.covers(plate_voltage, grid_voltage)
    return np.where(backed, family.current(plate_voltage, grid_voltage), np.nan)


@dataclass(frozen=True, slots=True, eq=False)
class _Sides:
    """What the sections of all candidates are made with.

    ``swept`` and ``fits``, seen at the screen voltage of their class, by the assessment's id.
    """

    swept: Mapping[int, Swept]
    fits: Mapping[int, FitResult]
    common: Mapping[str, Common]
    bench: Bench

    def section(self, part: Assessment) -> Section:
        """Return one assessment as a section."""
        common, fit = self.common[_class(part)], self.fits[id(part)]
        bench = _bench_used(part, self.bench)
        if common.at is None:
            return section_of(part.sweep.section, None, (part.constants, part.constants), "")
        own = _own_constants(part, fit, common)
        curve = working_curve(self.swept[id(part)], common, partial(_along, fit, bench))
        return section_of(
            part.sweep.section, common.at, (own, bench_part(own, common.at, bench)), curve
        )


def _along(
    fit: FitResult, bench: Bench, plate_voltage: FloatArray, grid_voltage: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return current and relative uncertainties of a fitted family, for `working_curve`."""
    family = fit.family
    assert isinstance(family, FittedFamily | PentodeFamily)
    values = family_values(fit, family, plate_voltage, grid_voltage)
    known = (
        family.current(plate_voltage, grid_voltage), *family.slopes(plate_voltage, grid_voltage),
    )  # fmt: skip
    current = values.value[0]
    of_bench = bench_along((plate_voltage, grid_voltage), known, bench)
    return current, values.u95[0] / current, of_bench


def _candidate(key: str, parts: Sequence[Assessment], sides: _Sides, with_held: bool) -> Candidate:
    usual = (part for part in parts if part.set_up is None)
    curves = [part for part in usual if part.sweep.kind is SweepKind.CURVES]
    ordered = sorted(curves, key=lambda part: part.sweep.section or "")
    findings = (
        reason
        for part in parts
        for reason in barring_findings(part.verdict, part.findings, with_held)
    )
    return Candidate(
        key=key,
        type_class=_class((ordered or list(parts))[0]),
        sections=tuple(sides.section(part) for part in ordered),
        bench=parts[0].bench.name,
        excluded=tuple(dict.fromkeys((*_ambiguous(ordered), *findings))),
    )


def _ambiguous(curves: Sequence[Assessment]) -> Iterable[str]:
    """Say why it is not clear which sweep is the tube's."""
    if len({_class(part) for part in curves}) > 1:
        yield "its sweeps are of different types or connections"
    yield from untyped(map(_class, curves))
    if len({part.sweep.section for part in curves}) < len(curves):
        files = ", ".join(sorted({part.sweep.source.name for part in curves}))
        yield f"several sweeps bear its name ({files})"


def _own_constants(part: Assessment, fit: FitResult, common: Common) -> Constants:
    """Return the constants where all are compared, with the uncertainty of noise and fit alone."""
    at, screen, readings = common.at, common.screen_voltage, part.sweep.readings
    if at is None or part.constants.plate_current.outcome is Outcome.NOT_MEASURED:
        return part.constants
    local = local_constants_at(fit, readings, at, screen)
    return with_local(fit, readings, constants_at(fit, readings, at, screen), local)


def _bench_used(part: Assessment, bench: Bench) -> Bench:
    """Return the bench that a tube was assessed with: the file's own where it is that."""
    own = part.sweep.bench
    return own if own is not None and own.name == part.bench.name else bench
