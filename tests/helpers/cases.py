"""Cases for the tests of rules: a simulated sweep, screened, with the truth as its fit.

The fit is stood in for by the simulator's own law, which is exact: so a test of a rule tests
the rule, not the fit. The tests of the whole chain stand in tests/health/test_found_rates.py.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from curvelab.fitting.hull import convex_hull
from curvelab.fitting.records import Constant, Constants, FitResult, Outcome
from curvelab.fitting.screen import screen
from curvelab.health.case import Case
from curvelab.health.limits import HouseLimits
from curvelab.reference.records import Figure, HandbookPoint, Rating, Status, TubeType
from curvelab.sweep.curves import split_curves
from curvelab.sweep.records import Conditions, Sweep
from simulator.bench import Bench, SimulatedSweep, run_sweep, usual_plan
from simulator.records import as_sweep
from simulator.tubes import SimulatedTube, bogey_tube

SHEET = "Invented sheet, first edition"


@dataclass(frozen=True)
class TruthFamily:
    """A simulated tube seen as a family of plate curves, or as its type's family."""

    tube: SimulatedTube
    scale: float = 1.0
    type_name: str = "6SN7GTB"
    grid_shift: float = 0.0

    def current(self, plate_voltage, grid_voltage):
        """Return the plate current [A]."""
        return self.scale * self.tube.current(plate_voltage, grid_voltage)

    def slopes(self, plate_voltage, grid_voltage):
        """Return (dIp/dVp, dIp/dVg) [S]."""
        by_plate, by_grid = self.tube.law.slopes(plate_voltage, grid_voltage)
        return self.scale * by_plate, self.scale * by_grid

    def evaluate(self, plate_voltage, grid_voltage):
        """Return (Ip [A], dIp/dVp [S], dIp/dVg [S])."""
        current = self.current(plate_voltage, grid_voltage)
        return current, *self.slopes(plate_voltage, grid_voltage)

    def covers(self, plate_voltage, grid_voltage):
        """Return True everywhere."""
        return np.ones(np.broadcast(plate_voltage, grid_voltage).shape, dtype=bool)


def figure(value: float, status: Status = Status.VERIFIED) -> Figure:
    """Return a number of the invented sheet."""
    return Figure(value, SHEET, status)


def tube_type(
    tube: SimulatedTube, *, status: Status = Status.VERIFIED, **fields: object
) -> TubeType:
    """Return a type of the library with the simulated type's figures."""
    figures = tube.figures
    point = HandbookPoint(
        plate_voltage=figures.plate_voltage,
        grid_voltage=figures.grid_voltage,
        plate_current=figure(figures.plate_current),
        transconductance=figure(figures.transconductance),
        plate_resistance=figure(figures.plate_resistance),
        amplification_factor=figure(figures.amplification_factor),
        bogey=True,
        source=SHEET,
        status=Status.VERIFIED,
    )
    rating = Rating(
        "design centre",
        {
            "plate_dissipation": figure(figures.dissipation, status),
            "plate_voltage": figure(figures.highest_plate_voltage, status),
            "grid_circuit_resistance_fixed_bias": figure(0.5e6, status),
        },
    )
    given: dict = {
        "name": figures.name,
        "aliases": (),
        "kind": "triode",
        "cathode": "indirect",
        "base": None,
        "points": (point,),
        "cutoffs": (),
        "ratings": (rating,),
        "printed_limits": (),
        "heaters": (),
        "notes": (),
        "near": (),
    }
    return TubeType(**(given | fields))


def constants_of(tube: SimulatedTube, at: tuple[float, float], share: float = 0.01) -> Constants:
    """Return the true constants at a point with ``share`` of each as uncertainty."""
    values = (tube.current(*at), tube.gm(*at), tube.rp(*at), tube.mu(*at))
    return Constants(*(Constant(float(value), share * float(value)) for value in values))


def fit_by_truth(sweep: Sweep, tube: SimulatedTube) -> FitResult:
    """Return what a perfect fit of the readings that are not left out would say."""
    readings, family = sweep.readings, TruthFamily(tube)
    left_out = screen(readings, split_curves(readings))
    used = np.ones(len(readings), dtype=bool)
    for item in left_out:
        used[item.readings] = False
    residual = readings.plate_current - family.current(
        readings.plate_voltage, readings.grid_voltage
    )
    share = np.abs(residual[used]) / readings.plate_current[used].max()
    noise = np.full(len(readings), 1.4826 * np.median(share) * readings.plate_current[used].max())
    return FitResult(
        used=used,
        left_out=left_out,
        law=None,
        laws=(),
        corrected=False,
        family=family,
        residual=residual,
        noise=noise,
        hull=convex_hull(readings.plate_voltage[used], readings.grid_voltage[used]),
        rms=float(np.sqrt((residual[used] ** 2).mean())),
        outcome=Outcome.GOOD,
    )


def case_of(
    swept: SimulatedSweep,
    *,
    conditions: Conditions | None = None,
    sweep: Sweep | None = None,
    reference: SimulatedTube | None = None,
    **fields: object,
) -> Case:
    """Return a simulated sweep as a case, its constants the true ones at the bogey point."""
    tube = swept.tube
    record = sweep or as_sweep(swept, conditions=conditions)
    at = (tube.figures.plate_voltage, tube.figures.grid_voltage)
    given: dict = {
        "sweep": record,
        "curves": split_curves(record.readings),
        "fit": fit_by_truth(record, tube),
        "operating_point": at,
        "constants": constants_of(tube, at),
        "local": constants_of(tube, at, 0.03),
        "tube_type": tube_type(tube),
        "family": TruthFamily(reference or bogey_tube(tube.figures.name)),
        "comparison": None,
        "identity": None,
        "limits": HouseLimits(),
    }
    return Case(**(given | fields))


def sweep_of(tube: SimulatedTube, seed: int = 1, *, bench: Bench | None = None, **plan: object):
    """Return the usual sweep of a tube."""
    usual = replace(usual_plan(tube), **plan)
    return run_sweep(tube, usual, bench or Bench(), np.random.default_rng(seed))
