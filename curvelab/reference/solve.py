"""From a handbook's points to a family: every printed figure is one constraint.

A point gives plate current (tight), gm, rp and mu (loose: handbooks round them), a cut-off one
more current (to within a decade). Weak priors on the exponent, the contact offset and the foot
make a type with a single point well-posed. All types are solved in one pass of the engine.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from curvelab.errors import ReferenceDataError
from curvelab.fitting.engine import solve
from curvelab.fitting.laws import KOREN, LAWS, SOFTPLUS, Koren, Softplus, ThreeHalves
from curvelab.reference.family import BackedRegion, ReferenceFamily
from curvelab.reference.records import Figure, HandbookPoint, TubeType
from curvelab.sweep.records import FloatArray, IntArray

__all__ = ["solve_families"]

# Standard deviations of the logarithms of printed figures: a current is printed to two or
# three figures, gm, rp and mu are rounded and agree among themselves to a few percent; a
# cut-off is a corner of a curve read off the sheet.
_TRUST = {"plate_current": 0.01, "transconductance": 0.04, "plate_resistance": 0.04}
_TRUST_MU = 0.03
_TRUST_CUTOFF = 0.7
_FOOT = 0.02  # of the largest published current: below it a point lies near cut-off
_STEP = 1e-5
# Koren's law follows the published curves of 12AX7, 12AU7, 6SL7GT and 6SN7GT better than the
# others when all three are solved from the printed points alone (see the tests).
_HANDICAP = 6.0

_FIGURES = ("plate_current", "transconductance", "plate_resistance", "amplification_factor")
_SHORT = {
    "plate_current": "Ip",
    "transconductance": "gm",
    "plate_resistance": "rp",
    "amplification_factor": "mu",
}
AnyLaw = ThreeHalves | Koren | Softplus


@dataclass(frozen=True, slots=True, eq=False)
class _Constraints:
    """Published figures of several types, padded; shape (t, q) and (t, q, 4)."""

    plate_voltage: FloatArray
    grid_voltage: FloatArray
    log_figure: FloatArray  # NaN where nothing is printed
    deviation: FloatArray


def solve_families(types: Sequence[TubeType]) -> tuple[ReferenceFamily, ...]:
    """Solve the families of several types at once.

    Raises
    ------
    ReferenceDataError
        If a type prints no point with a plate current.
    """
    for tube_type in types:
        if not any(point.plate_current for point in tube_type.points):
            raise ReferenceDataError(f"{tube_type.name}: no point with a plate current")
    constraints = _constraints(types)
    solved = [_solve_law(law, types, constraints) for law in LAWS]
    # The deviations are known, so the sum of squares is a chi-square. A foot near cut-off is
    # the rule in published curves, so the laws without a free one must do clearly better.
    handicap = np.array([0.0 if law is KOREN else _HANDICAP for law in LAWS])
    criteria = np.stack([cost for _, cost in solved], axis=1) + handicap
    best = np.argmin(criteria, axis=1)
    return tuple(
        _family(tube_type, LAWS[order], solved[order][0][row])
        for row, (tube_type, order) in enumerate(zip(types, best, strict=True))
    )


def _rows(tube_type: TubeType) -> list[tuple[float, float, dict[str, Figure], bool]]:
    points = [
        (point.plate_voltage, point.grid_voltage, _figures(point), False)
        for point in tube_type.points
    ]
    cutoffs = [
        (item.plate_voltage, item.grid_voltage, {"plate_current": item.plate_current}, True)
        for item in tube_type.cutoffs
    ]
    return points + cutoffs


def _figures(point: HandbookPoint) -> dict[str, Figure]:
    found = {name: getattr(point, name) for name in _FIGURES}
    return {name: figure for name, figure in found.items() if figure is not None}


def _constraints(types: Sequence[TubeType]) -> _Constraints:
    rows = [_rows(tube_type) for tube_type in types]
    shape = (len(types), max(len(row) for row in rows))
    plate, grid = np.full(shape, 100.0), np.full(shape, -1.0)
    figure, deviation = np.full((*shape, 4), np.nan), np.ones((*shape, 4))
    for t, row in enumerate(rows):
        for q, (plate_voltage, grid_voltage, figures, cutoff) in enumerate(row):
            plate[t, q], grid[t, q] = plate_voltage, grid_voltage
            for k, name in enumerate(_FIGURES):
                if name in figures:
                    figure[t, q, k] = np.log(figures[name].value)
                    deviation[t, q, k] = _TRUST_CUTOFF if cutoff else _TRUST.get(name, _TRUST_MU)
    return _Constraints(plate, grid, figure, deviation)


def _solve_law(
    law: AnyLaw, types: Sequence[TubeType], constraints: _Constraints
) -> tuple[FloatArray, FloatArray]:
    start, centre, width = _priors(law, types)
    printed = np.isfinite(constraints.log_figure)
    target = np.where(printed, constraints.log_figure, 0.0) / constraints.deviation
    observed = np.concatenate([target.reshape(len(types), -1), centre / width], axis=1)
    weight = np.concatenate(
        [printed.reshape(len(types), -1).astype(float), np.ones_like(centre)], axis=1
    )

    def predict(internal: FloatArray, index: IntArray) -> FloatArray:
        logs = _log_figures(
            law, constraints.plate_voltage[index], constraints.grid_voltage[index], internal
        )
        scaled = (logs / constraints.deviation[index]).reshape(index.size, -1)
        return np.concatenate([scaled, internal / width[index]], axis=1)

    def model(internal: FloatArray, index: IntArray) -> tuple[FloatArray, FloatArray]:
        columns = []
        for parameter in range(internal.shape[1]):
            shift = np.zeros(internal.shape[1])
            shift[parameter] = _STEP
            difference = predict(internal + shift, index) - predict(internal - shift, index)
            columns.append(difference / (2 * _STEP))
        return predict(internal, index), np.stack(columns, axis=-1)

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
    point = tube_type.bogey or tube_type.points[0]
    assert point.plate_current is not None
    mu = _rough_mu(tube_type, point)
    offset, offset_width = 0.4, 0.4
    if tube_type.directly_heated and tube_type.heaters:
        # The return of the filament shifts the whole family by up to half its volts.
        offset_width = max(offset_width, tube_type.heaters[0].voltage.value / 2.0)
    drive = max(point.grid_voltage + point.plate_voltage / mu + offset, 0.1)
    exponent, exponent_width = np.log(1.42), 0.05
    open_end = 1e3  # as good as no prior
    scale = np.log(point.plate_current.value) - 1.42 * np.log(drive)
    if law is KOREN:
        centre = [
            np.log(mu),
            exponent,
            np.log(2.0) - scale,
            np.log(6.0 * mu),
            2.0 * np.log(0.06 * point.plate_voltage + 1.0),
            offset,
        ]
        return centre, centre, [open_end, exponent_width, open_end, 0.7, 1.5, offset_width]
    if law is SOFTPLUS:
        centre = [scale, np.log(mu), exponent, np.log(4.0 / drive)]
        return centre, centre, [open_end, open_end, exponent_width, 1.0]
    centre = [np.log(point.plate_current.value) - 1.5 * np.log(drive), np.log(mu), offset]
    return centre, centre, [open_end, open_end, offset_width]


def _rough_mu(tube_type: TubeType, point: HandbookPoint) -> float:
    if point.amplification_factor is not None:
        return point.amplification_factor.value
    if point.transconductance is not None and point.plate_resistance is not None:
        return point.transconductance.value * point.plate_resistance.value
    # Currents alone: the tube that is just cut off past its most negative bias.
    return max(
        1.15 * item.plate_voltage / max(-item.grid_voltage, 1.0) for item in tube_type.points
    )


def _family(tube_type: TubeType, law: AnyLaw, internal: FloatArray) -> ReferenceFamily:
    backing = [point for point in tube_type.points if point.plate_current is not None]
    volts = [point.plate_voltage for point in backing]
    amperes = [point.plate_current.value for point in backing if point.plate_current]
    residual: dict[str, float] = {}
    near_cutoff = set()
    for plate_voltage, grid_voltage, figures, _ in _rows(tube_type):
        found = np.exp(
            _log_figures(
                law, np.array([[plate_voltage]]), np.array([[grid_voltage]]), internal[None]
            )
        )[0, 0]
        for k, name in enumerate(_FIGURES):
            if name in figures:
                label = f"{plate_voltage:.4g} V, {grid_voltage:.4g} V: {_SHORT[name]}"
                residual[label] = float(found[k] / figures[name].value - 1.0)
                if name == "plate_current" and figures[name].value < _FOOT * max(amperes):
                    near_cutoff.add(label)
    statuses = _status_counts(tube_type)
    return ReferenceFamily(
        type_name=tube_type.name,
        law=law.name,
        parameters=law.physical(internal),
        residual=residual,
        origin=_origin(tube_type, statuses),
        from_memory=statuses["from memory"] > 0,
        region=BackedRegion(min(volts), max(volts), min(amperes), max(amperes)),
        near_cutoff=frozenset(near_cutoff),
    )


def _status_counts(tube_type: TubeType) -> Mapping[str, int]:
    figures = [figure for _, _, found, _ in _rows(tube_type) for figure in found.values()]
    verified = sum(figure.verified for figure in figures)
    return {"verified": verified, "from memory": len(figures) - verified}


def _origin(tube_type: TubeType, statuses: Mapping[str, int]) -> str:
    points, cutoffs = len(tube_type.points), len(tube_type.cutoffs)
    parts = [f"{points} handbook point{'s' if points != 1 else ''}"]
    if cutoffs:
        parts.append(f"{cutoffs} cut-off{'s' if cutoffs != 1 else ''}")
    known = ", ".join(f"{count} {name}" for name, count in statuses.items() if count)
    return f"solved from {' and '.join(parts)} ({known} figures)"
