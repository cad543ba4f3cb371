"""From sweeps to assessments: fit, compare, judge. Pure: no disk, no clock."""

from __future__ import annotations

from collections.abc import Container, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from curvelab.assessment.connection import (
    OTHERWISE_CONNECTED,
    SCREEN_NOT_STATED,
    has_screen_grid,
    screen_known,
    with_screen_voltage,
)
from curvelab.assessment.logs import assess_log
from curvelab.assessment.operating_point import (
    choose_operating_point,
    handbook_points,
    usual_screen,
)
from curvelab.assessment.parts import fit_parts
from curvelab.assessment.prediction import predict
from curvelab.assessment.records import (
    Assessment,
    BenchUsed,
    OperatingPoint,
    ScreenAtPoint,
)
from curvelab.assessment.screen_current import screen_at_point
from curvelab.assessment.set_ups import changed_rows, own_probes, partners, probe_of
from curvelab.errors import UnknownTypeError
from curvelab.fitting.constants import (
    constants_at,
    local_constants_at,
    with_bench,
    with_local,
)
from curvelab.fitting.family import FittedFamily
from curvelab.fitting.pentode_family import PentodeFamily
from curvelab.fitting.pentode_fit import at_screen
from curvelab.fitting.records import Constants, FitResult, Outcome
from curvelab.health.case import Case, SetUp
from curvelab.health.grid_current import grid_current_note
from curvelab.health.limits import HouseLimits
from curvelab.health.records import Finding, Verdict
from curvelab.health.rules import judge
from curvelab.reference.compare import compare, reference_constants
from curvelab.reference.families import FamilyLibrary, families_for
from curvelab.reference.family import ReferenceFamily
from curvelab.reference.filament import FilamentReference, filament_reference
from curvelab.reference.identity import Identity, rank_types
from curvelab.reference.own_curves import OwnCurves
from curvelab.reference.records import Comparison, TubeType
from curvelab.sweep.bench import UNSTATED_BENCH, Bench
from curvelab.sweep.curves import split_curves
from curvelab.sweep.records import Sweep, SweepKind

__all__ = ["Settings", "assess"]

_LOW_CURRENTS = 0.4  # of the largest
_SAME_SCREEN = 0.02  # share by which a supply may wander around the screen voltage judged at


@dataclass(frozen=True, slots=True)
class Settings:
    """How tubes are judged.

    Attributes
    ----------
    type_name : str or None
        Overrides the type that a file names.
    reference : str or None
        Type whose family stands in for the tube's own.
    at : tuple of float or None
        (Vp, Vg) or (Vp, Vg, Vs) [V], in the file's own reference.
    predict : tuple of tuple of float
        Points at which the fitted family is evaluated.
    own_curves : OwnCurves or None
        The user's own readings of published curves, whose family is compared with.
    """

    type_name: str | None = None
    reference: str | None = None
    at: tuple[float, ...] | None = None
    predict: tuple[tuple[float, ...], ...] = ()
    own_curves: OwnCurves | None = None
    bench: Bench = UNSTATED_BENCH
    limits: HouseLimits = field(default_factory=HouseLimits)


@dataclass(frozen=True, slots=True, eq=False)
class _Known:
    """What is known of a tube's type and of the family it is compared with."""

    tube_type: TubeType | None
    type_name: str | None
    reference_type: TubeType | None
    family: ReferenceFamily | None
    why: str | None
    filament: FilamentReference


@dataclass(frozen=True, slots=True, eq=False)
class _Draft:
    """An assessment before it is judged."""

    case: Case
    known: _Known
    point: OperatingPoint | None
    reference: Constants | None


def assess(
    sweeps: Sequence[Sweep],
    library: FamilyLibrary,
    settings: Settings = Settings(),
    beside: Sequence[tuple[Sweep, Settings]] = (),
) -> tuple[Assessment, ...]:
    """Fit, compare and judge every sweep; sections of one tube are judged together.

    Parameters
    ----------
    beside : sequence of (Sweep, Settings)
        Other sweeps of the same tubes, each with how it is judged: other sections, or other
        set-ups. What is asked for is compared with them, and they are not judged themselves.

    Raises
    ------
    UnknownTypeError
        If the settings name a type that the library does not hold. A type that only a
        file names may be unknown.
    """
    asked = [*((sweep, settings) for sweep in sweeps), *beside]
    ready = [with_screen_voltage(sweep) for sweep, _ in asked]
    drafts = [
        _draft(sweep, fit, _known(sweep, library, own), library, own)
        for sweep, fit, (_, own) in zip(ready, fit_parts(ready), asked, strict=True)
    ]
    pairs = partners(ready)
    changed = {other: set_up for _, other, set_up in pairs}
    drafts = _with_probes(drafts, ready, pairs)
    siblings = _siblings(ready, changed)
    judged = (
        _finish(draft, drafts[other].case if other is not None else None, settings)
        for draft, other in zip(drafts[: len(sweeps)], siblings, strict=False)
    )
    return tuple(
        replace(item, set_up=changed[place]) if place in changed else item
        for place, item in enumerate(judged)
    )


def _known(sweep: Sweep, library: FamilyLibrary, settings: Settings) -> _Known:
    name = settings.type_name or sweep.type_label
    tube_type, how = None, "same"
    if settings.type_name is not None:
        tube_type, how = library.find(settings.type_name)
    elif name is not None:
        try:
            tube_type, how = library.types.find_section(name, sweep.section)
        except UnknownTypeError:
            tube_type = None
    if tube_type is not None:
        tube_type = tube_type.as_connected(with_screen=has_screen_grid(sweep))
    reference_type, why = tube_type, how if tube_type is not None else None
    if settings.reference is not None:
        reference_type, found = library.find(settings.reference)
        if tube_type is None or reference_type.name != tube_type.name:
            why = "stand-in"
        else:
            why = found
    own = settings.own_curves
    if own is not None and (own.family.screen_voltage is not None) == has_screen_grid(sweep):
        type_name = tube_type.name if tube_type is not None else name
        return _Known(
            tube_type, type_name, own.tube_type, own.family, "own curves", FilamentReference()
        )
    families = library.pentodes if has_screen_grid(sweep) else library.families
    family = families.get(reference_type.name) if reference_type is not None else None
    filament = FilamentReference()
    if family is not None and reference_type is not None:
        filament = filament_reference(reference_type, sweep.conditions)
        family = replace(family, grid_shift=filament.shift) if filament.shift else family
    return _Known(
        tube_type=tube_type,
        type_name=tube_type.name if tube_type is not None else name,
        reference_type=reference_type if family is not None else None,
        family=family,
        why=why if family is not None else None,
        filament=filament,
    )


def _draft(
    sweep: Sweep, fit: FitResult, known: _Known, library: FamilyLibrary, settings: Settings
) -> _Draft:
    readings = sweep.readings
    own = known.tube_type
    point_type = own if own is not None and (own.points or own.pentode_points) else None
    screened, family = has_screen_grid(sweep), fit.family
    asked = readings if screened else replace(readings, screen_voltage=None)
    handbook = handbook_points(
        point_type or known.reference_type, usual_screen(asked), known.filament.shift
    )
    own_family = family if isinstance(family, PentodeFamily) else None
    point = choose_operating_point(asked, fit.hull, handbook, settings.at, own_family)
    at = None if point is None else (point.plate_voltage, point.grid_voltage)
    if screened and point is not None and point.screen_voltage is not None:
        fit, known = _at_screen(fit, known, point.screen_voltage)
    constants, local = _constants(sweep, fit, point, _bench(sweep, settings))
    reference = comparison = None
    if known.family is not None and known.reference_type is not None and at is not None:
        reference = reference_constants(known.family, known.reference_type, at)
        comparison = _comparison(sweep, fit, known, (constants, reference), at)
    identity = _identity(sweep, fit, library)
    case = Case(
        sweep=sweep,
        curves=split_curves(readings),
        fit=fit,
        operating_point=at,
        constants=constants,
        local=local,
        tube_type=known.tube_type,
        family=known.family,
        comparison=comparison,
        identity=identity,
        low_identity=_low_identity(sweep, fit, library, known, identity),
        limits=settings.limits,
        with_screen_grid=screened,
    )
    return _Draft(case, known, point, reference)


def _at_screen(fit: FitResult, known: _Known, screen: float) -> tuple[FitResult, _Known]:
    """Return the fit and the reference as seen at the screen voltage of the point."""
    if known.family is not None:
        known = replace(known, family=known.family.at_screen(screen))
    return at_screen(fit, screen), known


def _constants(
    sweep: Sweep, fit: FitResult, point: OperatingPoint | None, bench: Bench
) -> tuple[Constants, Constants]:
    if point is None:
        nothing = Constants.missing(
            Outcome.TOO_FEW if fit.outcome is Outcome.GOOD else fit.outcome,
            fit.reason or "there is no usable reading",
        )
        return nothing, nothing
    screened, readings = has_screen_grid(sweep), sweep.readings
    if screened and not screen_known(sweep):
        nothing = Constants.missing(Outcome.NOT_MEASURED, SCREEN_NOT_STATED)
        return nothing, nothing
    at, screen = (point.plate_voltage, point.grid_voltage), point.screen_voltage
    if not screened:
        screen = None
    local = local_constants_at(fit, readings, at, screen)
    constants = with_local(fit, readings, constants_at(fit, readings, at, screen), local)
    return with_bench(constants, at, bench), local


def _comparison(
    sweep: Sweep,
    fit: FitResult,
    known: _Known,
    both: tuple[Constants, Constants],
    at: tuple[float, float],
) -> Comparison | None:
    if known.family is None or known.why is None or sweep.kind is SweepKind.DRIFT_LOG:
        return None
    family = fit.family
    measured = family if isinstance(family, FittedFamily | PentodeFamily) else None
    return compare(known.family, known.why, measured, *both, at=at, open_by=known.filament.open_by)


def _identity(
    sweep: Sweep, fit: FitResult, library: FamilyLibrary, *, up_to: float = 1.0
) -> Identity | None:
    if fit.family is None or sweep.kind is SweepKind.DRIFT_LOG:
        return None
    current, used = sweep.readings.plate_current, fit.used
    screen = fit.family.screen_voltage if isinstance(fit.family, PentodeFamily) else None
    if has_screen_grid(sweep):
        volts = sweep.readings.screen_voltage
        if screen is None or volts is None:
            return None
        used = used & (np.abs(volts - screen) <= _SAME_SCREEN * screen)
    if not used.any():
        return None
    readings = sweep.readings.take(used & (current <= up_to * current[used].max()))
    measured = readings.plate_voltage, readings.grid_voltage, readings.plate_current
    if screen is not None:
        return rank_types(library.pentodes_at(screen), library.pentode_classes, *measured)
    families = families_for(library, sweep.conditions, *measured)
    return rank_types(families, library.classes, *measured)


def _low_identity(
    sweep: Sweep,
    fit: FitResult,
    library: FamilyLibrary,
    known: _Known,
    identity: Identity | None,
) -> Identity | None:
    """Rank by the lower currents, where all readings together speak against the label."""
    if identity is None or known.tube_type is None:
        return None
    if known.tube_type.name in identity.candidates[0].type_names:
        return None
    return _identity(sweep, fit, library, up_to=_LOW_CURRENTS)


def _siblings(sweeps: Sequence[Sweep], changed: Container[int]) -> list[int | None]:
    """Return, for each sweep, the place of the other section of the same tube.

    Sweeps under a ``changed`` set-up have none and are none.
    """
    places: dict[str, list[int]] = {}
    for place, sweep in enumerate(sweeps):
        if sweep.section is not None and sweep.kind is SweepKind.CURVES and place not in changed:
            places.setdefault(sweep.tube, []).append(place)
    found: list[int | None] = [None] * len(sweeps)
    for members in places.values():
        if len(members) == 2 and sweeps[members[0]].section != sweeps[members[1]].section:
            found[members[0]], found[members[1]] = members[1], members[0]
    return found


def _with_probes(
    drafts: Sequence[_Draft], sweeps: Sequence[Sweep], pairs: Sequence[tuple[int, int, SetUp]]
) -> list[_Draft]:
    """Give each case the readings of its tube under a changed set-up, of its file or another."""
    probes = [list(own_probes(sweep, changed_rows(sweep))) for sweep in sweeps]
    for usual, other, set_up in pairs:
        base = drafts[usual].case
        probes[usual].append(probe_of(base, sweeps[other], set_up, judged=False))
        probes[other].append(probe_of(base, sweeps[other], set_up, judged=True))
    return [
        replace(draft, case=replace(draft.case, probes=tuple(found))) if found else draft
        for draft, found in zip(drafts, probes, strict=True)
    ]


def _bench(sweep: Sweep, settings: Settings) -> Bench:
    """Return the bench asked for, else the file's own, else the one nothing is known of."""
    if settings.bench.assumed and sweep.bench is not None:
        return sweep.bench
    return settings.bench


def _notes(case: Case, known: _Known, settings: Settings) -> tuple[str, ...]:
    words = known.filament.words
    unused = settings.own_curves is not None and known.why != "own curves"
    told = (
        grid_current_note(case),
        None if words is None else words[0].upper() + words[1:] + ".",
        OTHERWISE_CONNECTED if unused else None,
    )
    return tuple(note for note in told if note is not None)


def _screen(case: Case, draft: _Draft) -> ScreenAtPoint | None:
    if not case.with_screen_grid or case.sweep.kind is not SweepKind.CURVES:
        return None
    known = draft.known
    readings = case.sweep.readings
    return screen_at_point(readings, case.fit, draft.point, known.tube_type, known.family)


def _finish(draft: _Draft, sibling: Case | None, settings: Settings) -> Assessment:
    case = replace(draft.case, sibling=sibling)
    sweep, fit, bench = case.sweep, case.fit, _bench(draft.case.sweep, settings)
    constants, drift = case.constants, None
    of_log: tuple[Finding, ...] = ()
    if sweep.kind is SweepKind.DRIFT_LOG:
        constants, drift, of_log = assess_log(case)
    findings = (*of_log, *judge(replace(case, constants=constants)))
    return Assessment(
        sweep=sweep,
        tube_type=draft.known.tube_type,
        type_name=draft.known.type_name,
        fit=fit,
        operating_point=draft.point,
        constants=constants,
        local=case.local,
        reference=draft.known.family,
        comparison=case.comparison,
        family_constants=draft.reference,
        findings=findings,
        verdict=Verdict.of(findings),
        drift=drift,
        predictions=tuple(predict(fit, point, bench) for point in settings.predict),
        bench=BenchUsed(
            bench.name,
            bench.assumed,
            "the file" if bench is sweep.bench else "the bench description",
        ),
        notes=_notes(case, draft.known, settings),
        screen=_screen(case, draft),
    )
