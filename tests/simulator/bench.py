"""A simulated bench: which points it takes of a tube, and how wrong it reads them."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from .law import FloatArray
from .tubes import SimulatedTube

__all__ = ["Bench", "SimulatedSweep", "SweepPlan", "hand_plan", "run_sweep", "usual_plan"]


@dataclass(frozen=True, slots=True)
class Bench:
    """How a bench errs. SI units; fractions of the reading where not said otherwise.

    Attributes
    ----------
    noise, floor : float
        Scatter of a plate-current reading: of the reading, and of the largest current.
    gain, offset : float
        Systematic error of the plate-current meter [1], [A].
    plate_gain : float
        Systematic error of the plate voltmeter.
    resolution : float
        Last digit of the plate-current meter [A]; 0 for an endless one.
    grid_wander : float
        Standard deviation of the true grid volts about the set-point that is logged [V].
    grid_noise, grid_floor : float
        Scatter of a grid-current reading: of the reading, and always [A].
    """

    noise: float = 0.003
    floor: float = 2e-4
    gain: float = 0.0
    offset: float = 0.0
    plate_gain: float = 0.0
    resolution: float = 0.0
    grid_wander: float = 0.0
    grid_noise: float = 0.005
    grid_floor: float = 5e-9


@dataclass(frozen=True, slots=True)
class SweepPlan:
    """Set-points of a sweep.

    Attributes
    ----------
    plate_voltage, grid_voltage : tuple of float
        Steps [V]; the grid steps as the bench runs through them.
    overload : float
        Points above this many times the rated dissipation are not taken.
    both_ways : bool
        Whether each curve is read up and then down again.
    grid_current, reading_time : bool
        Whether those columns are logged.
    seconds_per_reading : float
    """

    plate_voltage: tuple[float, ...]
    grid_voltage: tuple[float, ...]
    overload: float = 1.2
    both_ways: bool = False
    grid_current: bool = False
    reading_time: bool = False
    seconds_per_reading: float = 2.0


@dataclass(frozen=True, slots=True, eq=False)
class SimulatedSweep:
    """Readings as the bench logs them, with the truth behind them.

    Attributes
    ----------
    tube : SimulatedTube
        With exact constants at every point.
    plate_voltage, grid_voltage, plate_current : ndarray, shape (n,)
        As logged [V], [V], [A].
    grid_current, heater_voltage, time : ndarray or None
        As logged [A], [V], [s].
    direction : ndarray of int or None
        +1 up, -1 down.
    true_current : ndarray, shape (n,)
        What flowed at the logged set-point in the absence of every fault [A].
    faults : frozenset of str
        Finding codes the sweep deserves.
    touched : ndarray of int
        Positions of the readings that a bench fault spoiled.
    type_label : str
        What the tube's label says.
    """

    tube: SimulatedTube
    plate_voltage: FloatArray
    grid_voltage: FloatArray
    plate_current: FloatArray
    true_current: FloatArray
    type_label: str
    grid_current: FloatArray | None = None
    heater_voltage: FloatArray | None = None
    time: FloatArray | None = None
    direction: np.ndarray | None = None
    faults: frozenset[str] = frozenset()
    touched: np.ndarray = field(default_factory=lambda: np.empty(0, dtype=int))
    metadata: tuple[tuple[str, str], ...] = ()

    def __len__(self) -> int:
        return self.plate_voltage.size

    def with_faults(self, *codes: str) -> SimulatedSweep:
        """Return the sweep with more finding codes deserved."""
        return replace(self, faults=self.faults | set(codes))


def _round_step(step: float) -> float:
    """Return the nearest of 1, 1.5, 2, 2.5, 3, 5 times a power of ten."""
    power = 10.0 ** np.floor(np.log10(step))
    return float(
        min((1, 1.5, 2, 2.5, 3, 5, 10), key=lambda nice: abs(np.log(nice * power / step))) * power
    )


def usual_plan(
    tube: SimulatedTube, *, plates: int = 31, grids: int = 9, overload: float = 1.2
) -> SweepPlan:
    """Return the plan of an automatic bench for a type: about 0 V to well below cut-off.

    The bogey point's grid volts are one of the steps.
    """
    figures = tube.figures
    highest = min(figures.highest_plate_voltage, 1.5 * figures.plate_voltage)
    lowest_grid = -1.05 * highest / figures.amplification_factor
    step = _round_step(-lowest_grid / (grids - 1))
    first = figures.grid_voltage + step * np.floor(-figures.grid_voltage / step + 1e-9)
    plate = np.linspace(highest / plates, highest, plates).round(1)
    return SweepPlan(
        plate_voltage=tuple(map(float, plate)),
        grid_voltage=tuple(float(round(first - step * k, 4)) for k in range(grids)),
        overload=overload,
    )


def hand_plan(tube: SimulatedTube) -> SweepPlan:
    """Return what a patient person takes by hand: 3 grid steps of 6 plate voltages."""
    figures = tube.figures
    middle = figures.grid_voltage
    step = _round_step(0.25 * abs(middle) + 0.05)
    top = min(1.3 * figures.plate_voltage, figures.highest_plate_voltage)
    plate = np.linspace(0.45 * top, top, 6)
    nice = 5.0 if top > 150 else 1.0
    return SweepPlan(
        plate_voltage=tuple(float(v) for v in np.round(plate / nice) * nice),
        grid_voltage=tuple(float(round(middle + step * k, 3)) for k in (1, 0, -1)),
    )


def _set_points(tube: SimulatedTube, plan: SweepPlan) -> tuple[FloatArray, FloatArray, np.ndarray]:
    plates, grids, ways = [], [], []
    for grid in plan.grid_voltage:
        plate = np.array(plan.plate_voltage)
        power = plate * tube.current(plate, grid)
        plate = plate[power <= plan.overload * tube.figures.dissipation]
        way = np.ones(plate.size, dtype=int)
        if plan.both_ways:
            plate, way = np.concatenate((plate, plate[::-1])), np.concatenate((way, -way))
        plates.append(plate)
        grids.append(np.full(plate.size, grid))
        ways.append(way)
    return np.concatenate(plates), np.concatenate(grids), np.concatenate(ways)


def run_sweep(
    tube: SimulatedTube,
    plan: SweepPlan,
    bench: Bench,
    rng: np.random.Generator,
    *,
    heating: float = 0.0,
    grid_resistor: float = 0.0,
) -> SimulatedSweep:
    """Sweep a tube.

    Parameters
    ----------
    heating : float
        Fraction of the drive by which the grid's hold has slipped at the end of a pass at
        full dissipation: the current of a down pass is higher than that of the up pass.
    grid_resistor : float
        In the grid lead [ohm]: the set-points are logged, the grid stands where its own
        current puts it.
    """
    plate, grid, way = _set_points(tube, plan)
    true_plate = plate / (1.0 + bench.plate_gain)
    true_grid = grid + rng.normal(0.0, bench.grid_wander, grid.size)
    slipped = _heating_shift(tube, plate, grid, heating) if heating else 0.0
    if grid_resistor:
        true_grid = _behind_resistor(tube, true_plate, true_grid, grid_resistor)
    flowing = tube.current(true_plate, true_grid + slipped)
    read = flowing * (1.0 + bench.gain) + bench.offset
    read = read * (1.0 + rng.normal(0.0, bench.noise, read.size))
    read = read + rng.normal(0.0, bench.floor * flowing.max(), read.size)
    grid_current = None
    if plan.grid_current:
        grid_current = tube.grid_current(true_plate, true_grid + slipped)
        grid_current = grid_current * (1.0 + rng.normal(0.0, bench.grid_noise, read.size))
        grid_current = grid_current + rng.normal(0.0, bench.grid_floor, read.size)
    return SimulatedSweep(
        tube=tube,
        plate_voltage=plate,
        grid_voltage=grid,
        plate_current=_to_resolution(read, bench.resolution),
        true_current=tube.current(plate, grid),
        type_label=tube.figures.name,
        grid_current=grid_current,
        direction=way if plan.both_ways else None,
        time=np.arange(plate.size) * plan.seconds_per_reading if plan.reading_time else None,
    )


def _behind_resistor(
    tube: SimulatedTube, plate: FloatArray, set_to: FloatArray, resistor: float
) -> FloatArray:
    """Return the grid volts at which Vg = set - Ig Rg, by bisection (Kirchhoff)."""
    low, high = set_to - 20.0, set_to + 20.0
    for _ in range(60):
        middle = 0.5 * (low + high)
        above = middle + resistor * tube.grid_current(plate, middle) > set_to
        low, high = np.where(above, low, middle), np.where(above, middle, high)
    return 0.5 * (low + high)


def _to_resolution(value: FloatArray, resolution: float) -> FloatArray:
    return np.round(value / resolution) * resolution if resolution else value


def _heating_shift(
    tube: SimulatedTube, plate: FloatArray, grid: FloatArray, heating: float
) -> FloatArray:
    """Return the grid shift [V] of a tube that warms under load, reading by reading."""
    load = plate * tube.current(plate, grid) / tube.figures.dissipation
    drive = 1.5 * tube.figures.plate_current / tube.figures.transconductance
    warmth, shift = 0.0, np.empty(plate.size)
    for k, share in enumerate(load):
        warmth += 0.15 * (share - warmth)
        shift[k] = heating * drive * warmth
    return shift
