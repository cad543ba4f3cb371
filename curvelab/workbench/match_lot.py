"""Matched sets, and mates for one tube, from sweep files that are in no catalogue.

Tubes of one type are compared at one operating point, of those chosen for them the one that
serves most, and over one working region (`curvelab.matching.region`).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from curvelab.assessment.records import Assessment, OperatingPoint
from curvelab.fitting.constants import constants_at, local_constants_at, with_bench, with_local
from curvelab.fitting.family import FittedFamily
from curvelab.fitting.family_values import family_values
from curvelab.fitting.records import Constant, Constants, Outcome, PlateFamily
from curvelab.health.records import Severity, Verdict
from curvelab.matching.match import Progress, ShouldStop, match_tubes
from curvelab.matching.records import (
    Candidate,
    MatchRequest,
    MatchResult,
    Measure,
    Measured,
    Section,
    WorkingCurve,
)
from curvelab.matching.region import CurrentAt, WorkingRegion, choose_region
from curvelab.sweep.bench import UNSTATED_BENCH, Bench
from curvelab.sweep.records import FloatArray, SweepKind
from curvelab.workbench.bench_file import load_description
from curvelab.workbench.characterize import Batch, Request, characterize

__all__ = ["LotCandidates", "LotMatch", "lot_candidates", "match_files", "tube_by_figures"]

_UNKNOWN_TYPE = "type not known"
# A current that is open by more than this along the curve compares with nothing.
_USELESS = 0.3
_RATINGS = ("plate_voltage", "plate_dissipation")


@dataclass(frozen=True, slots=True, eq=False)
class LotCandidates:
    """Tubes ready to be matched.

    Attributes
    ----------
    regions : mapping of str to str
        By type, over which working region their curves are compared, or why over none.
    """

    candidates: tuple[Candidate, ...]
    regions: Mapping[str, str]


@dataclass(frozen=True, slots=True, eq=False)
class LotMatch:
    """Files read, their tubes as candidates, and the sets."""

    batch: Batch
    lot: LotCandidates
    result: MatchResult


@dataclass(frozen=True, slots=True, eq=False)
class _Common:
    """Where the tubes of one type are compared."""

    at: tuple[float, float] | None
    region: WorkingRegion | None
    covered: frozenset[int]  # identities of the assessments that the region holds for


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
    at: tuple[float, float] | None = None,
) -> LotCandidates:
    """Return the tubes of a batch, sections joined, with all that speaks against each.

    Parameters
    ----------
    bench : Bench
        The bench that the batch was assessed with.
    with_held : bool
        Whether tubes on hold take part; rejects never do.
    at : tuple of float, optional
        (Vp, Vg) [V] at which all are compared, as when a sheet prints another tube's figures.
    """
    tubes: dict[str, list[Assessment]] = {}
    for assessment in assessments:
        tubes.setdefault(assessment.sweep.tube, []).append(assessment)
    types: dict[str, list[Assessment]] = {}
    for assessment in assessments:
        if assessment.sweep.kind is SweepKind.CURVES:
            types.setdefault(_type(assessment), []).append(assessment)
    common = {name: _common(members, at) for name, members in types.items()}
    candidates = [_candidate(key, parts, common, bench, with_held) for key, parts in tubes.items()]
    return LotCandidates(
        candidates=tuple(candidates),
        regions={
            name: "no fitted family" if one.region is None else one.region.words
            for name, one in common.items()
        },
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


def _type(assessment: Assessment) -> str:
    return assessment.type_name or _UNKNOWN_TYPE


def _common(members: Sequence[Assessment], at: tuple[float, float] | None) -> _Common:
    """Choose where the tubes of one type are compared."""
    at = at or _common_point(members)
    fitted = [one for one in members if isinstance(one.fit.family, FittedFamily)]
    if at is None or not fitted:
        return _Common(at, None, frozenset())
    tube_type = fitted[0].tube_type
    ratings = {
        name: rating.value
        for name in _RATINGS
        if tube_type is not None and (rating := tube_type.rating(name)) is not None
    }
    region = choose_region([_swept(one.fit.family) for one in fitted], at, ratings)
    inside = (id(one) for one, covered in zip(fitted, region.covered, strict=True) if covered)
    return _Common(at, region, frozenset(inside))


def _swept(family: PlateFamily | None) -> CurrentAt:
    """Return a family's current where its readings back it, NaN elsewhere."""
    assert family is not None

    def current(plate_voltage: FloatArray, grid_voltage: FloatArray) -> FloatArray:
        backed = family.covers(plate_voltage, grid_voltage)
        return np.where(backed, family.current(plate_voltage, grid_voltage), np.nan)

    return current


def _common_point(members: Sequence[Assessment]) -> tuple[float, float] | None:
    """Return the operating point of those chosen for the tubes that serves most of them.

    A handbook's point that at least half of the sweeps cover goes first; else the one that
    most cover. Rejected tubes have no say while there are others.
    """
    sound = [one for one in members if one.verdict is not Verdict.REJECT] or members
    hulls = [one.fit.hull for one in sound if one.fit.hull is not None]
    chosen = [point for one in sound if (point := one.operating_point) is not None]

    def worth(point: OperatingPoint) -> tuple[bool, int, int]:
        at = np.array(point.plate_voltage), np.array(point.grid_voltage)
        covered = sum(bool(hull.contains(*at)) for hull in hulls)
        published = point.origin != "sweep" and 2 * covered >= len(sound)
        return published, covered, chosen.count(point)

    best = max(chosen, key=worth, default=None)
    return None if best is None else (best.plate_voltage, best.grid_voltage)


def _candidate(
    key: str,
    parts: Sequence[Assessment],
    common: Mapping[str, _Common],
    bench: Bench,
    with_held: bool,
) -> Candidate:
    curves = [part for part in parts if part.sweep.kind is SweepKind.CURVES]
    ordered = sorted(curves, key=lambda part: part.sweep.section or "")
    sections = tuple(_section(part, common[_type(part)], bench) for part in ordered)
    return Candidate(
        key=key,
        type_class=_type((ordered or list(parts))[0]),
        sections=sections,
        bench=parts[0].bench.name,
        excluded=tuple(dict.fromkeys((*_ambiguous(ordered), *_findings(parts, with_held)))),
    )


def _ambiguous(curves: Sequence[Assessment]) -> Iterable[str]:
    """Say why it is not clear which sweep is the tube's."""
    if len({_type(part) for part in curves}) > 1:
        yield "its sweeps name different types"
    if len({part.sweep.section for part in curves}) < len(curves):
        files = ", ".join(sorted({part.sweep.source.name for part in curves}))
        yield f"several sweeps bear its name ({files})"


def _findings(parts: Sequence[Assessment], with_held: bool) -> Iterable[str]:
    """Yield what excludes a tube."""
    for part in parts:
        barred = {Severity.REJECT}
        if part.verdict is Verdict.HOLD and not with_held:
            barred.add(Severity.CAUTION)
        word = "on hold" if part.verdict is Verdict.HOLD else part.verdict.value
        for finding in part.findings:
            if finding.severity in barred:
                yield f"{word}, {finding.code}: {finding.evidence}"


def _section(part: Assessment, common: _Common, bench: Bench) -> Section:
    if common.at is None:
        nothing = dict.fromkeys(Measure, "no operating point")
        return Section(part.sweep.section, missing=nothing)
    missing: dict[Measure, str] = {}
    constants = _own_constants(part, common.at)
    of_bench = _bench_part(constants, common.at, _bench_used(part, bench))
    figures = {}
    for measure, name in (
        (Measure.PLATE_CURRENT, "plate_current"),
        (Measure.TRANSCONDUCTANCE, "transconductance"),
    ):
        constant: Constant = getattr(constants, name)
        if constant.value is None:
            missing[measure] = constant.reason or constant.outcome.value
        else:
            shared = getattr(of_bench, name).u95 or 0.0
            figures[name] = Measured(constant.value, constant.u95, shared)
    curve = _curve(part, common, _bench_used(part, bench))
    if isinstance(curve, str):
        missing[Measure.CURVE] = curve
    return Section(
        part.sweep.section,
        common.at,
        curve=None if isinstance(curve, str) else curve,
        missing=missing,
        **figures,
    )


def _own_constants(part: Assessment, at: tuple[float, float]) -> Constants:
    """Return the constants at a point with the uncertainty of noise and fit alone."""
    if part.constants.plate_current.outcome is Outcome.NOT_MEASURED:
        return part.constants
    readings = part.sweep.readings
    local = local_constants_at(part.fit, readings, at)
    return with_local(part.fit, readings, constants_at(part.fit, readings, at), local)


def _bench_used(part: Assessment, bench: Bench) -> Bench:
    """Return the bench that a tube was assessed with: the file's own where it is that."""
    own = part.sweep.bench
    return own if own is not None and own.name == part.bench.name else bench


def _bench_part(constants: Constants, at: tuple[float, float], bench: Bench) -> Constants:
    """Return the constants with the uncertainty of the bench's meters alone."""

    def exact(constant: Constant) -> Constant:
        return constant if constant.value is None else replace(constant, u95=0.0)

    return with_bench(
        Constants(
            exact(constants.plate_current),
            exact(constants.transconductance),
            exact(constants.plate_resistance),
            exact(constants.amplification_factor),
        ),
        at,
        bench,
    )


def _curve(part: Assessment, common: _Common, bench: Bench) -> WorkingCurve | str:
    """Return a tube's curve over the working region, or why it has none."""
    family, region = part.fit.family, common.region
    if region is None or not region.plate_voltage.size:
        return "there is no common working region"
    if id(part) not in common.covered or not isinstance(family, FittedFamily):
        return "its sweep does not cover the common working region"
    plate, grid = region.plate_voltage, region.grid_voltage
    values = family_values(part.fit, family, plate, grid)
    current, relative = values.value[0], values.u95[0] / values.value[0]
    if not (relative < _USELESS).all():
        return f"the readings leave it open by more than {100 * _USELESS:.0f} %"
    return WorkingCurve(plate, grid, current, relative, _bench_along(family, region, bench))


def _bench_along(family: FittedFamily, region: WorkingRegion, bench: Bench) -> FloatArray:
    """Return the relative expanded uncertainty from the bench's meters at each point."""
    plate, grid = region.plate_voltage, region.grid_voltage
    if bench.assumed:
        return np.zeros(plate.size)
    current = family.current(plate, grid)
    by_plate, by_grid = family.slopes(plate, grid)
    shares = []
    for vp, vg, ip, to_plate, gm in np.column_stack(
        [plate, grid, current, by_plate, by_grid]
    ).tolist():
        exact = (ip, gm, 1.0 / to_plate, gm / to_plate)
        constants = Constants(*(Constant(value, 0.0) for value in exact))
        shares.append((with_bench(constants, (vp, vg), bench).plate_current.u95 or 0.0) / ip)
    return np.array(shares)
