"""Tubes of a lot file as candidates for matching, without fitting again.

The constants are those on file where they were taken at the common point. Elsewhere, and
along the curve, the stored grid of the fitted family is read between its nodes by a cubic
spline in the two-thirds power of the current, in which a family is nearly a plane (the
three-halves law). What is known of its uncertainty is that at the tube's own operating point:
it is taken as the same fraction at every larger current, and below as the same current.

A tube whose screen has a voltage of its own is kept at that of its operating point; to one near
by it is brought by the same law.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from curvelab.bench_check.correction import AcceptedCorrection
from curvelab.catalog.curves import CurveGrid
from curvelab.catalog.lot_file import LotFile
from curvelab.catalog.records import StoredResult, StoredTube
from curvelab.catalog.results import curve_grids, documents, settings_used
from curvelab.catalog.tubes import named_with_lot
from curvelab.errors import UnknownTypeError
from curvelab.fitting.records import Constant, Constants, Outcome
from curvelab.health.records import Verdict
from curvelab.matching.records import Candidate, Section
from curvelab.reference.records import TubeType
from curvelab.sheets.results_reader import findings_of_document
from curvelab.sweep.bench import UNSTATED_BENCH, Bench
from curvelab.sweep.records import BoolArray, FloatArray, SweepKind
from curvelab.workbench.comparison import (
    UNKNOWN_TYPE,
    Common,
    Swept,
    barring_findings,
    bench_along,
    bench_part,
    class_of,
    common_places,
    common_screens,
    same_screen,
    section_of,
    untyped,
    working_curve,
)
from curvelab.workbench.match_lot import LotCandidates
from curvelab.workbench.stored_settings import request_of_settings
from curvelab.workbench.type_library import current_types

__all__ = ["stored_candidates", "tube_names"]

_STRAIGHT = 2.0 / 3.0
_SAME_PLATE, _SAME_GRID = 0.05, 0.005  # [V]: two points this near are one


def tube_names(tubes: Iterable[StoredTube]) -> dict[int, str]:
    """Return what each tube is called, by its key: its serial, and its lot where that tells."""
    held = tuple(tubes)
    counted = Counter(tube.identity.serial for tube in held)
    return {
        tube.key: tube.identity.serial
        if counted[tube.identity.serial] == 1
        else named_with_lot(tube.identity.serial, tube.identity.lot)
        for tube in held
    }


def stored_candidates(
    opened: LotFile,
    tubes: Sequence[StoredTube],
    names: Mapping[int, str],
    *,
    with_held: bool = False,
    at: tuple[float, ...] | None = None,
) -> LotCandidates:
    """Return tubes of a lot file with all that speaks against each.

    Parameters
    ----------
    names : mapping of int to str
        What each tube is called, by its key.
    with_held : bool
        Whether tubes on hold take part; rejects never do. A verdict that a person set
        stands in place of the measured one.
    at : tuple of float, optional
        (Vp, Vg) or (Vp, Vg, Vs) [V] at which all are compared.

    Raises
    ------
    CatalogError
        If the file cannot be read.
    DocumentError
        If what was filed is of another program's making.
    """
    keys = [result.key for tube in tubes for result in tube.results]
    grids, kept = curve_grids(opened, keys), documents(opened, keys)
    filed = settings_used(opened, keys)
    swept = [r for tube in tubes for r in tube.results if r.kind is SweepKind.CURVES]
    screens = common_screens(
        ((_class(r), r.figures.verdict, r.figures.operating_point) for r in swept),
        at[2] if at is not None and len(at) > 2 else None,
    )
    sides: dict[int, _Side] = {
        result.key: _side(result, grids.get(result.key), filed[result.key], screens[_class(result)])
        for result in swept
    }
    point = None if at is None else (at[0], at[1])
    common = common_places((side.swept for side in sides.values()), point)
    candidates = []
    for tube in tubes:
        own = [sides[result.key] for result in tube.results if result.key in sides]
        reasons = (*_ambiguous(own), *_against(tube, kept, with_held))
        candidates.append(
            Candidate(
                key=names[tube.key],
                type_class=own[0].swept.type_class if own else _type_of(tube),
                sections=tuple(side.section(common[side.swept.type_class]) for side in own),
                bench=own[0].bench_title if own else None,
                lot=tube.identity.lot,
                excluded=tuple(dict.fromkeys(reasons)),
            )
        )
    return LotCandidates(tuple(candidates), {name: one.words for name, one in common.items()})


def _type_of(tube: StoredTube) -> str:
    named = (result.figures.type_name for result in tube.results)
    return next((name for name in named if name), tube.identity.type_label or UNKNOWN_TYPE)


def _ambiguous(own: Sequence[_Side]) -> Iterator[str]:
    if len({side.swept.type_class for side in own}) > 1:
        yield "its sweeps are of different types or connections"
    yield from untyped(side.swept.type_class for side in own)


def _against(tube: StoredTube, kept: Mapping[int, str], with_held: bool) -> Iterator[str]:
    """Yield what bars a tube: what a person decided, else what its tests found."""
    overrule = tube.overrule
    if overrule is not None:
        if overrule.verdict is Verdict.REJECT or (
            overrule.verdict is Verdict.HOLD and not with_held
        ):
            yield f"{overrule.verdict.value}, set by {overrule.person}: {overrule.reason}"
        return
    for result in tube.results:
        found = findings_of_document(kept[result.key])
        yield from barring_findings(result.figures.verdict, found, with_held)
    for test in tube.hand_tests:
        yield from barring_findings(test.verdict, findings_of_document(test.document), with_held)


# --- one section ----------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, eq=False)
class _Side:
    """The newest sweep of one section, as far as matching needs it."""

    result: StoredResult
    swept: Swept
    family: _GridFamily | None
    bench: Bench
    bench_title: str

    def section(self, common: Common) -> Section:
        """Return it as a section of a candidate."""
        at = common.at
        if at is None:
            nothing = self.result.figures.constants
            return section_of(self.result.section, None, (nothing, nothing), "")
        total = self._constants(at)
        of_bench = bench_part(total, at, self.bench)
        curve = working_curve(self.swept, common, self._along)
        return section_of(self.result.section, at, (_without(total, of_bench), of_bench), curve)

    def _constants(self, at: tuple[float, float]) -> Constants:
        """Return the constants at a point with all of their uncertainty."""
        figures, point = self.result.figures, self.result.figures.operating_point
        screen = self.swept.screen_voltage
        if point is not None and (
            abs(point.plate_voltage - at[0]) < _SAME_PLATE
            and abs(point.grid_voltage - at[1]) < _SAME_GRID
            and abs((point.screen_voltage or 0.0) - (screen or 0.0)) < _SAME_PLATE
        ):
            return figures.constants
        if point is not None and not same_screen(point.screen_voltage, screen):
            reason = f"its curves are kept at {point.screen_voltage:g} V on the screen"
            return Constants.missing(Outcome.NOT_COVERED, f"{reason}, not at {screen:g} V")
        if self.family is None:
            return Constants.missing(Outcome.NOT_COVERED, "it has no fitted family")
        plate, grid = np.array([at[0]]), np.array([at[1]])
        current = float(self.family.backed(plate, grid)[0])
        if not math.isfinite(current) or current <= 0:
            reason = f"the readings do not surround {at[0]:g} V, {at[1]:g} V"
            return Constants.missing(Outcome.NOT_COVERED, reason)
        _, by_plate, by_grid = (float(item[0]) for item in self.family.values(plate, grid))
        if by_grid <= 0 or (by_plate <= 0 and screen is None):
            return Constants.missing(Outcome.UNPHYSICAL, "the stored curves do not rise there")

        def known(name: str, value: float) -> Constant:
            share = self._share(name, np.array([current]))
            return Constant(value, None if share is None else float(share[0]) * value)

        return Constants(
            known("plate_current", current),
            known("transconductance", by_grid),
            *self._against_the_plate(known, by_plate, by_grid),
        )

    def _against_the_plate(
        self, known: Callable[[str, float], Constant], by_plate: float, by_grid: float
    ) -> tuple[Constant, Constant]:
        """Return plate resistance and amplification factor, which match nothing by themselves."""
        if by_plate <= 0:
            nothing = Constant.missing(Outcome.UNPHYSICAL, "its current falls there")
            return nothing, nothing
        resistance = known("plate_resistance", 1.0 / by_plate)
        if self.swept.screen_voltage is not None:
            reason = "the factor of grid and screen is not kept there"
            return resistance, Constant.missing(Outcome.NOT_COVERED, reason)
        return resistance, known("amplification_factor", by_grid / by_plate)

    def _share(self, name: str, current: FloatArray) -> FloatArray | None:
        """Return the relative uncertainty of a constant at other currents."""
        constants = self.result.figures.constants
        constant: Constant = getattr(constants, name)
        own = constants.plate_current.value
        if not constant.value or constant.u95 is None or not own:
            return None
        return constant.u95 / constant.value * np.maximum(1.0, own / current)

    def _along(
        self, plate: FloatArray, grid: FloatArray
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        assert self.family is not None
        current, by_plate, by_grid = self.family.values(plate, grid)
        of_bench = bench_along((plate, grid), (current, by_plate, by_grid), self.bench)
        share = self._share("plate_current", current)
        if share is None:
            return current, np.full(current.size, np.nan), of_bench
        point = self.result.figures.operating_point
        assert point is not None
        at = point.plate_voltage, point.grid_voltage
        constants = self.result.figures.constants
        own = _without(constants, bench_part(constants, at, self.bench)).plate_current
        whole = constants.plate_current
        assert own.u95 is not None
        assert whole.u95 is not None
        return current, share * (own.u95 / whole.u95 if whole.u95 else 0.0), of_bench


def _class(result: StoredResult) -> str:
    return class_of(result.figures.type_name, result.figures.operating_point)


def _side(
    result: StoredResult, grid: CurveGrid | None, filed: str, screen_voltage: float | None
) -> _Side:
    type_name, point = result.figures.type_name or UNKNOWN_TYPE, result.figures.operating_point
    own_screen = None if point is None else point.screen_voltage
    family = None
    if grid is not None and same_screen(own_screen, screen_voltage):
        times = 1.0 if own_screen is None or screen_voltage is None else own_screen / screen_voltage
        family = _GridFamily(grid, times)
    request = request_of_settings(filed)
    meters = request.meters or UNSTATED_BENCH
    # A file that states its own bench was judged by that; what its meters share with other
    # tubes of it is not known here, and stays in each tube's own uncertainty.
    bench = meters if meters.name == result.bench else UNSTATED_BENCH
    swept = Swept(
        type_class=_class(result),
        tube_type=_tube_type(type_name),
        verdict=result.figures.verdict,
        point=point,
        screen_voltage=screen_voltage,
        covers=None if family is None else family.covers,
        current=None if family is None else family.backed,
    )
    return _Side(result, swept, family, bench, _title(result.bench, request.corrections))


def _title(bench: str, corrections: Sequence[AcceptedCorrection]) -> str:
    """Name the bench with the corrections of its meters: their errors are others then."""
    return " ".join((bench, *sorted(item.correction.identity for item in corrections)))


def _tube_type(name: str) -> TubeType | None:
    try:
        return current_types().types.find(name)[0]
    except UnknownTypeError:
        return None


def _without(total: Constants, of_bench: Constants) -> Constants:
    """Return constants without the share of the bench in their uncertainty."""

    def own(name: str) -> Constant:
        constant: Constant = getattr(total, name)
        shared = getattr(of_bench, name).u95
        if constant.u95 is None or not shared:
            return constant
        return replace(constant, u95=math.sqrt(max(constant.u95**2 - shared**2, 0.0)))

    return Constants(
        own("plate_current"),
        own("transconductance"),
        own("plate_resistance"),
        own("amplification_factor"),
    )


class _GridFamily:
    """A stored grid of currents, smooth between its nodes.

    Parameters
    ----------
    times : float
        The screen voltage it is kept at over that it is seen at. All voltages times as high
        make the 3/2 power of it in current.
    """

    def __init__(self, grid: CurveGrid, times: float) -> None:
        from scipy.interpolate import RectBivariateSpline  # noqa: PLC0415 (slow to import)

        self._grid, self._times = grid, times
        self._spline = RectBivariateSpline(
            grid.grid_voltage,
            grid.plate_voltage,
            np.maximum(grid.plate_current, 0.0) ** _STRAIGHT,
            kx=min(3, grid.grid_voltage.size - 1),
            ky=min(3, grid.plate_voltage.size - 1),
        )

    def values(
        self, plate: FloatArray, grid: FloatArray
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return current [A] and its slopes by plate and grid voltage [S]."""
        times = self._times
        plate, grid = plate * times, grid * times
        straight = np.maximum(self._spline.ev(grid, plate), 0.0)
        slope = 1.5 * np.sqrt(straight / times)
        return (
            (straight / times) ** 1.5,
            slope * self._spline.ev(grid, plate, dy=1),
            slope * self._spline.ev(grid, plate, dx=1),
        )

    def backed(self, plate: FloatArray, grid: FloatArray) -> FloatArray:
        """Return the current [A] where readings back it, NaN elsewhere."""
        nodes = self._grid.current_at(plate * self._times, grid * self._times)
        return np.where(np.isfinite(nodes), self.values(plate, grid)[0], np.nan)

    def covers(self, plate: FloatArray, grid: FloatArray) -> BoolArray:
        """Tell which points readings surround."""
        return np.isfinite(self.backed(plate, grid))
