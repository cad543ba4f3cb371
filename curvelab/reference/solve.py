"""From what a handbook prints to a family: every printed figure is one constraint.

A point gives plate current (tight), gm, rp and mu (loose: handbooks round them), a cut-off one
more current (to within a decade). Weak priors on the exponent, the contact offset and the foot
make a type with a single point well-posed. Where published curves were read off, each reading
is one more current; a smooth correction then follows them where they lie, and the points
become the check: beyond the curves the law goes on as points and priors have it. (A law fitted
to curves alone meets them with exponents that no physics supports, and runs off beyond them.)
All types are solved in one pass of the engine, those with curves in a second one.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from curvelab.errors import ReferenceDataError
from curvelab.fitting.engine import solve
from curvelab.fitting.family import FittedFamily
from curvelab.fitting.laws import KOREN, LAWS, SOFTPLUS, Koren, Softplus, ThreeHalves
from curvelab.reference.curve_family import follow_curves
from curvelab.reference.family import BackedRegion, ReferenceFamily
from curvelab.reference.records import Figure, HandbookPoint, PublishedCurves, Status, TubeType
from curvelab.reference.solved import Solved, solve_what_is_new
from curvelab.sweep.records import FloatArray, IntArray

__all__ = ["is_solvable", "solve_families"]

# Standard deviations of the logarithms of printed figures: a current is printed to two or
# three figures, gm, rp and mu are rounded and agree among themselves to a few percent; a
# cut-off is a corner of a curve read off the sheet.
_TRUST = {
    "plate_current": 0.01,
    "transconductance": 0.04,
    "plate_resistance": 0.04,
    "amplification_factor": 0.03,
}
_TRUST_CUTOFF = 0.7
_FOOT = 0.02  # of the largest published current: below it a point lies near cut-off
_TRUST_CURVE = 0.05
_CURVES_COUNT_AS = 12
_MOST_CURVE_READINGS = 48
_STEP = 1e-5
_CURRENTS_ALONE = 3
# Koren's law follows the published curves of 12AX7, 12AU7, 6SL7GT and 6SN7GT better than the
# others when all three are solved from the printed points alone (see the tests).
_HANDICAP = 6.0

AnyLaw = ThreeHalves | Koren | Softplus

_FIGURES = ("plate_current", "transconductance", "plate_resistance", "amplification_factor")
_SHORT = {
    "plate_current": "Ip",
    "transconductance": "gm",
    "plate_resistance": "rp",
    "amplification_factor": "mu",
}


@dataclass(frozen=True, slots=True, eq=False)
class _Constraints:
    """Published figures of several types, padded; shape (t, q) and (t, q, 4)."""

    plate_voltage: FloatArray
    grid_voltage: FloatArray
    log_figure: FloatArray  # NaN where nothing is printed
    deviation: FloatArray

    @property
    def arrays(self) -> tuple[FloatArray, ...]:
        return self.plate_voltage, self.grid_voltage, self.log_figure, self.deviation

    def of(self, row: int) -> list[FloatArray]:
        """Return what one type prints, without the padding."""
        printed = np.isfinite(self.log_figure[row]).any(axis=-1)
        return [item[row][printed] for item in self.arrays]

    def take(self, rows: IntArray) -> _Constraints:
        return _Constraints(*(item[rows] for item in self.arrays))


def solve_families(
    types: Sequence[TubeType], solved: Solved | None = None
) -> tuple[ReferenceFamily, ...]:
    """Solve the families of several types at once.

    Parameters
    ----------
    solved : mutable mapping
        What was solved before, where that is at hand; see `solve_what_is_new`.

    Raises
    ------
    ReferenceDataError
        If the points of a type do not make a family.
    """
    for tube_type in types:
        if not is_solvable(tube_type):
            raise ReferenceDataError(f"{tube_type.name}: its points do not make a family")
    found: dict[str, ReferenceFamily] = {}
    before = {} if solved is None else solved
    for with_curves in (False, True):  # apart, so that short rows are not padded to long ones
        some = [item for item in types if (item.triode_curves is not None) is with_curves]
        found |= {family.type_name: family for family in _solve_some(some, before)}
    return tuple(found[tube_type.name] for tube_type in types)


def _solve_some(types: Sequence[TubeType], before: Solved) -> Iterator[ReferenceFamily]:
    if not types:
        return
    constraints = _constraints(types)
    solved = [_solve_law(law, types, constraints, before) for law in LAWS]
    # The deviations are known, so the sum of squares is a chi-square. A foot near cut-off is
    # the rule in published curves, so the laws without a free one must do clearly better.
    handicap = np.array([0.0 if law is KOREN else _HANDICAP for law in LAWS])
    criteria = np.stack([cost for _, cost in solved], axis=1) + handicap
    best = np.argmin(criteria, axis=1)
    for order, law in enumerate(LAWS):
        chosen = np.flatnonzero(best == order).tolist()
        internal = solved[order][0]
        followed = _followed(law, internal, types, chosen)
        for row in chosen:
            yield _family(types[row], law, internal[row], followed.get(row))


def _followed(
    law: AnyLaw, internal: FloatArray, types: Sequence[TubeType], rows: Sequence[int]
) -> dict[int, FittedFamily]:
    """Return, for the rows with published curves, the families that follow these."""
    curves = {row: found for row in rows if (found := types[row].triode_curves) is not None}
    if not curves:
        return {}
    families = follow_curves(law, internal[list(curves)], list(curves.values()))
    return dict(zip(curves, families, strict=True))


def is_solvable(tube_type: TubeType) -> bool:
    """Tell whether what a type prints fixes a family.

    Published curves do; points do with a plate current and, at any point, mu or gm and rp;
    currents alone do where there are three of them or more, at more than one plate voltage.
    """
    if tube_type.triode_curves is not None:
        return True
    backing = [point for point in tube_type.points if point.plate_current is not None]
    if len(backing) >= _CURRENTS_ALONE and len({point.plate_voltage for point in backing}) > 1:
        return True
    return bool(backing) and any(
        point.amplification_factor is not None
        or (point.transconductance is not None and point.plate_resistance is not None)
        for point in tube_type.points
    )


@dataclass(frozen=True, slots=True)
class _Row:
    """Figures of one pair of voltages, and how closely the family is to meet its current."""

    plate_voltage: float
    grid_voltage: float
    figures: Mapping[str, float]
    current_trust: float = _TRUST["plate_current"]

    @property
    def volts(self) -> str:
        return f"{self.plate_voltage:.4g} V, {self.grid_voltage:.4g} V"


def _printed_rows(tube_type: TubeType) -> list[_Row]:
    points = [
        _Row(
            point.plate_voltage,
            point.grid_voltage,
            {name: figure.value for name, figure in _figures(point).items()},
        )
        for point in tube_type.points
    ]
    cutoffs = [
        _Row(
            item.plate_voltage,
            item.grid_voltage,
            {"plate_current": item.plate_current.value},
            _TRUST_CUTOFF,
        )
        for item in tube_type.cutoffs
    ]
    return points + cutoffs


def _curve_rows(curves: PublishedCurves | None) -> list[_Row]:
    if curves is None:
        return []
    chosen = slice(None, None, max(1, curves.plate_voltage.size // _MOST_CURVE_READINGS))
    columns = [curves.plate_voltage[chosen], curves.grid_voltage[chosen]]
    current = curves.plate_current[chosen]
    # Readings of one drawing share its errors: together they count as a few.
    trust = _TRUST_CURVE * float(np.sqrt(max(current.size / _CURVES_COUNT_AS, 1.0)))
    return [
        _Row(plate, grid, {"plate_current": ampere}, trust)
        for plate, grid, ampere in zip(*(c.tolist() for c in (*columns, current)), strict=True)
        if ampere > 0
    ]


def _figures(point: HandbookPoint) -> dict[str, Figure]:
    found = {name: getattr(point, name) for name in _FIGURES}
    return {name: figure for name, figure in found.items() if figure is not None}


def _constraints(types: Sequence[TubeType]) -> _Constraints:
    rows = [_printed_rows(item) + _curve_rows(item.triode_curves) for item in types]
    shape = (len(types), max(len(row) for row in rows))
    plate, grid = np.full(shape, 100.0), np.full(shape, -1.0)
    figure, deviation = np.full((*shape, 4), np.nan), np.ones((*shape, 4))
    for t, q, row in ((t, q, row) for t, found in enumerate(rows) for q, row in enumerate(found)):
        plate[t, q], grid[t, q] = row.plate_voltage, row.grid_voltage
        for k, name in enumerate(_FIGURES):
            if name in row.figures:
                figure[t, q, k] = np.log(row.figures[name])
                deviation[t, q, k] = _TRUST[name] if k else row.current_trust
    return _Constraints(plate, grid, figure, deviation)


def _solve_law(
    law: AnyLaw, types: Sequence[TubeType], constraints: _Constraints, before: Solved
) -> tuple[FloatArray, FloatArray]:
    start, centre, width = _priors(law, types)

    def solve_rows(rows: IntArray) -> tuple[FloatArray, FloatArray]:
        return _solve_rows(law, constraints.take(rows), start[rows], centre[rows], width[rows])

    inputs = [
        (*constraints.of(row), start[row], centre[row], width[row]) for row in range(len(types))
    ]
    return solve_what_is_new(before, law.name, inputs, solve_rows)


def _solve_rows(
    law: AnyLaw,
    constraints: _Constraints,
    start: FloatArray,
    centre: FloatArray,
    width: FloatArray,
) -> tuple[FloatArray, FloatArray]:
    types = len(start)
    printed = np.isfinite(constraints.log_figure)
    target = np.where(printed, constraints.log_figure, 0.0) / constraints.deviation
    observed = np.concatenate([target.reshape(types, -1), centre / width], axis=1)
    weight = np.concatenate(
        [printed.reshape(types, -1).astype(float), np.ones_like(centre)], axis=1
    )

    def model(internal: FloatArray, index: IntArray) -> tuple[FloatArray, FloatArray]:
        size = internal.shape[1]
        step = np.eye(size) * _STEP
        shifted = internal + np.concatenate([np.zeros((1, size)), step, -step])[:, None]
        volts = (constraints.plate_voltage[index], constraints.grid_voltage[index])
        plate, grid = (np.broadcast_to(item, (len(shifted), *item.shape)) for item in volts)
        logs = _log_figures(law, plate, grid, shifted) / constraints.deviation[index]
        found = np.concatenate(
            [logs.reshape(*shifted.shape[:2], -1), shifted / width[index]], axis=-1
        )
        rise = (found[1 : size + 1] - found[size + 1 :]) / (2 * _STEP)
        return found[0], np.moveaxis(rise, 0, -1)

    solution = solve(model, start, observed, weight, max_iterations=120, tolerance=1e-8)
    return solution.parameters, solution.cost


def _log_figures(
    law: AnyLaw, plate_voltage: FloatArray, grid_voltage: FloatArray, internal: FloatArray
) -> FloatArray:
    current, by_plate, by_grid = law.slopes(plate_voltage, grid_voltage, internal)
    least = 1e-12
    current, by_plate, by_grid = (np.maximum(v, least) for v in (current, by_plate, by_grid))
    return np.log(np.stack([current, by_grid, 1.0 / by_plate, by_grid / by_plate], axis=-1))


def _priors(law: AnyLaw, types: Sequence[TubeType]) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return starting values, prior centres and prior widths, each of shape (t, p)."""
    rows = [_prior_of(law, tube_type) for tube_type in types]
    start, centre, width = (np.array(item) for item in zip(*rows, strict=True))
    return start, centre, width


def _prior_of(law: AnyLaw, tube_type: TubeType) -> tuple[list[float], list[float], list[float]]:
    plate_voltage, grid_voltage, plate_current, mu = _anchor(tube_type)
    offset, offset_width = 0.4, 0.4
    if tube_type.directly_heated and tube_type.heaters:
        # The return of the filament shifts the whole family by up to half its volts.
        offset_width = max(offset_width, tube_type.heaters[0].voltage.value / 2.0)
    drive = max(grid_voltage + plate_voltage / mu + offset, 0.1)
    exponent, exponent_width = np.log(1.42), 0.05
    open_end = 1e3  # as good as no prior
    scale = np.log(plate_current) - 1.42 * np.log(drive)
    if law is KOREN:
        centre = [
            np.log(mu),
            exponent,
            np.log(2.0) - scale,
            np.log(6.0 * mu),
            2.0 * np.log(0.06 * plate_voltage + 1.0),
            offset,
        ]
        return centre, centre, [open_end, exponent_width, open_end, 0.7, 1.5, offset_width]
    if law is SOFTPLUS:
        centre = [scale, np.log(mu), exponent, np.log(4.0 / drive)]
        return centre, centre, [open_end, open_end, exponent_width, 1.0]
    centre = [np.log(plate_current) - 1.5 * np.log(drive), np.log(mu), offset]
    return centre, centre, [open_end, open_end, offset_width]


def _anchor(tube_type: TubeType) -> tuple[float, float, float, float]:
    """Return volts and current [A] of a point in the midst of a type's figures, and a rough mu."""
    point = tube_type.bogey
    if point is not None and point.plate_current is not None:
        mu = _rough_mu(tube_type, point)
        return point.plate_voltage, point.grid_voltage, point.plate_current.value, mu
    curves = tube_type.triode_curves
    if curves is None:
        point = next(item for item in tube_type.points if item.plate_current is not None)
        assert point.plate_current is not None
        mu = _rough_mu(tube_type, point)
        return point.plate_voltage, point.grid_voltage, point.plate_current.value, mu
    middle = int(np.argsort(curves.plate_current)[curves.plate_current.size // 2])
    return (
        float(curves.plate_voltage[middle]),
        float(curves.grid_voltage[middle]),
        float(curves.plate_current[middle]),
        _mu_of_curves(curves),
    )


def _rough_mu(tube_type: TubeType, point: HandbookPoint) -> float:
    if point.amplification_factor is not None:
        return point.amplification_factor.value
    if point.transconductance is not None and point.plate_resistance is not None:
        return point.transconductance.value * point.plate_resistance.value
    if tube_type.triode_curves is not None:
        return _mu_of_curves(tube_type.triode_curves)
    # Currents alone: the tube that is just cut off past its most negative bias.
    return max(
        1.15 * item.plate_voltage / max(-item.grid_voltage, 1.0) for item in tube_type.points
    )


def _mu_of_curves(curves: PublishedCurves) -> float:
    """Return the steps of plate volts over those of grid volts where curves begin to flow."""
    steps = np.unique(curves.grid_voltage)
    feet = [float(curves.plate_voltage[curves.grid_voltage == step].min()) for step in steps]
    span = float(steps[-1] - steps[0])
    return max((feet[0] - feet[-1]) / span, 2.0) if span > 0 else 10.0


def _family(
    tube_type: TubeType, law: AnyLaw, internal: FloatArray, followed: FittedFamily | None
) -> ReferenceFamily:
    backing = [point for point in tube_type.points if point.plate_current is not None]
    volts = [point.plate_voltage for point in backing]
    amperes = [point.plate_current.value for point in backing if point.plate_current]
    curves = tube_type.triode_curves
    if curves is not None:
        volts += curves.plate_voltage.tolist()
        amperes += curves.plate_current.tolist()
    statuses = _status_counts(tube_type)
    family = ReferenceFamily(
        type_name=tube_type.name,
        law=law.name,
        parameters=law.physical(internal),
        residual={},
        origin=_origin(tube_type, statuses),
        from_memory=statuses["from memory"] > 0,
        region=BackedRegion(min(volts), max(volts), min(amperes), max(amperes)),
        followed=followed,
    )
    foot = {
        f"{row.volts}: {_SHORT['plate_current']}"
        for row in _printed_rows(tube_type)
        if row.figures.get("plate_current", np.inf) < _FOOT * max(amperes)
    }
    return replace(family, residual=_residual(family, tube_type), near_cutoff=frozenset(foot))


def _residual(family: ReferenceFamily, tube_type: TubeType) -> dict[str, float]:
    residual: dict[str, float] = {}
    for row in _printed_rows(tube_type):
        plate, grid = np.array([row.plate_voltage]), np.array([row.grid_voltage])
        current = float(family.current(plate, grid)[0])
        by_plate, by_grid = (max(float(item[0]), 1e-12) for item in family.slopes(plate, grid))
        found = dict(
            zip(_FIGURES, (current, by_grid, 1.0 / by_plate, by_grid / by_plate), strict=True)
        )
        for name, printed in row.figures.items():
            residual[f"{row.volts}: {_SHORT[name]}"] = found[name] / printed - 1.0
    curves = tube_type.triode_curves
    if curves is not None:
        flowing = curves.plate_current > 0
        followed = family.current(curves.plate_voltage[flowing], curves.grid_voltage[flowing])
        ratio = followed / curves.plate_current[flowing] - 1.0
        label = f"{ratio.size} readings of published curves, RMS: Ip"
        residual[label] = float(np.sqrt(np.mean(ratio**2)))
    return residual


def _status_counts(tube_type: TubeType) -> Mapping[str, int]:
    known = [
        figure.verified for point in tube_type.points for figure in _figures(point).values()
    ] + [item.plate_current.verified for item in tube_type.cutoffs]
    verified = sum(known)
    return {"verified": verified, "from memory": len(known) - verified}


def _origin(tube_type: TubeType, statuses: Mapping[str, int]) -> str:
    points, cutoffs = len(tube_type.points), len(tube_type.cutoffs)
    parts = [f"{points} handbook point{'s' if points != 1 else ''}"] if points else []
    if cutoffs:
        parts.append(f"{cutoffs} cut-off{'s' if cutoffs != 1 else ''}")
    known = ", ".join(f"{count} {name}" for name, count in statuses.items() if count)
    figures = f" ({known} figures)" if known else ""
    curves = tube_type.triode_curves
    if curves is None:
        return f"solved from {' and '.join(parts)}{figures}"
    read = f"follows {curves.plate_voltage.size} readings of the curves in {curves.source}"
    read += "" if curves.status is Status.VERIFIED else " (from memory)"
    return f"{read}; checked by {' and '.join(parts)}{figures}" if parts else read
