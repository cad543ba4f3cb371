"""Simulated tubes: a type's published point, met exactly by a bogey tube and scattered about."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from .catalogue import PUBLISHED, TypeFigures
from .law import FloatArray, Foot, MixtureLaw

__all__ = ["GridPath", "SimulatedTube", "bogey_tube", "healthy_tube", "other_section"]

_IONISATION = 20.0  # plate volts around which gas begins to ionise
_IONISATION_WIDTH = 2.0
_FEET = tuple(Foot)
# The stretches' cut-offs lie apart by this share of the drive at the bogey point: it makes mu
# fall by 3 to 15 % toward small currents, as published pictures show (7 % on a 6SN7GT).
_LEAST_UNEVEN, _MOST_UNEVEN = 0.3, 0.6


@dataclass(frozen=True, slots=True)
class GridPath:
    """What flows in the grid lead. SI units.

    Attributes
    ----------
    gas_ratio : float
        Ion current over plate current, above ionisation [1].
    leak_to_cathode, leak_to_plate : float
        Conductances of dirt across the base or the mica [S].
    emission : float
        Current emitted by the cold grid [A].
    emission_growth : float
        Power of e by which it grows from no to rated dissipation.
    electrons : float
        Current collected at zero grid volts [A].
    """

    gas_ratio: float = 0.0
    leak_to_cathode: float = 0.0
    leak_to_plate: float = 0.0
    emission: float = 0.0
    emission_growth: float = 2.0
    electrons: float = 2e-5


@dataclass(frozen=True, slots=True)
class SimulatedTube:
    """One section of a tube with exact constants at every point."""

    figures: TypeFigures
    law: MixtureLaw
    grid_path: GridPath = GridPath()

    def current(self, plate_voltage: ArrayLike, grid_voltage: ArrayLike) -> FloatArray:
        """Return the plate current [A]."""
        return self.law.current(plate_voltage, grid_voltage)

    def gm(self, plate_voltage: ArrayLike, grid_voltage: ArrayLike) -> FloatArray:
        """Return the transconductance [S]."""
        return self.law.slopes(plate_voltage, grid_voltage)[1]

    def rp(self, plate_voltage: ArrayLike, grid_voltage: ArrayLike) -> FloatArray:
        """Return the plate resistance [ohm]."""
        return 1.0 / self.law.slopes(plate_voltage, grid_voltage)[0]

    def mu(self, plate_voltage: ArrayLike, grid_voltage: ArrayLike) -> FloatArray:
        """Return the amplification factor."""
        by_plate, by_grid = self.law.slopes(plate_voltage, grid_voltage)
        return by_grid / by_plate

    def grid_shares(
        self, plate_voltage: ArrayLike, grid_voltage: ArrayLike
    ) -> dict[str, FloatArray]:
        """Return each cause's part of the grid current [A]; reverse current is negative."""
        plate, grid = np.broadcast_arrays(
            np.asarray(plate_voltage, float), np.asarray(grid_voltage, float)
        )
        current, path = self.current(plate, grid), self.grid_path
        ionised = 1.0 / (1.0 + np.exp(-(plate - _IONISATION) / _IONISATION_WIDTH))
        load = plate * current / self.figures.dissipation
        # Electrons arrive exponentially below about -0.3 V, by a power law above.
        arriving = np.where(
            grid < 0, np.exp(np.minimum(grid, 0) / 0.2), (1 + np.maximum(grid, 0) / 0.3) ** 1.5
        )
        return {
            "electrons": path.electrons * arriving,
            "gas": -path.gas_ratio * ionised * current,
            "leakage": path.leak_to_cathode * grid + path.leak_to_plate * (grid - plate),
            "emission": -path.emission * np.exp(path.emission_growth * np.minimum(load, 3.0)),
        }

    def grid_current(self, plate_voltage: ArrayLike, grid_voltage: ArrayLike) -> FloatArray:
        """Return the grid current [A], electrons positive."""
        shares = self.grid_shares(plate_voltage, grid_voltage)
        return np.sum(list(shares.values()), axis=0)

    def with_heater(self, ratio: float) -> SimulatedTube:
        """Return the tube at ``ratio`` times its heater volts.

        Emission follows the sixth power or so of the heater volts (common practice, no
        source), the contact offset 0.3 V per unit.
        """
        law = replace(
            self.law,
            emission=self.law.emission * ratio**6,
            offsets=tuple(offset + 0.3 * (ratio - 1.0) for offset in self.law.offsets),
        )
        return replace(self, law=law)


def _stretches(
    figures: TypeFigures, spread: float, count: int, rng: np.random.Generator | None
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return the weights, relative mu and offsets of the stretches of one grid."""
    place = np.linspace(-1.0, 1.0, count)
    jitter = rng.normal(0.0, 0.15, count) if rng else np.zeros(count)
    weights = np.exp(-(place**2)) * np.exp(jitter)
    weights /= weights.sum()
    # Scaled so that ``spread`` is the standard deviation of ln mu over the stretches.
    scaled = place - weights @ place
    scaled /= np.sqrt(weights @ scaled**2)
    # A filament's ends differ by its volts from each other (centre tap: half of it each way).
    order = rng.permutation(count) if rng else np.argsort(np.cos(7.0 * np.arange(count)))
    along = figures.filament_volts * (np.argsort(order) / max(count - 1, 1) - 0.5)
    return weights, np.exp(spread * scaled), along


def _calibrate(
    figures: TypeFigures, shape: tuple[FloatArray, FloatArray, FloatArray], law: MixtureLaw
) -> MixtureLaw:
    """Solve perveance, mu and contact offset so that the law meets the bogey point.

    Newton's method on (ln mu, offset) for (mu, gm / Ip); the perveance follows.
    """
    weights, relative, along = shape
    plate, grid = figures.plate_voltage, figures.grid_voltage
    wanted = np.array(
        [
            np.log(figures.amplification_factor),
            np.log(figures.transconductance / figures.plate_current),
        ]
    )

    def build(unknown: FloatArray) -> MixtureLaw:
        return replace(
            law,
            perveance=1.0,
            weights=tuple(map(float, weights)),
            amplification_factors=tuple(map(float, np.exp(unknown[0]) * relative)),
            offsets=tuple(map(float, unknown[1] + along)),
        )

    def miss(unknown: FloatArray) -> FloatArray:
        trial = build(unknown)
        by_plate, by_grid = trial.slopes(plate, grid)
        return (
            np.log([by_grid / by_plate, by_grid / max(trial.current(plate, grid), 1e-300)]) - wanted
        )

    drive = _drive(figures)
    start = np.log(figures.amplification_factor)
    unknown = np.array([start, drive - grid - plate / figures.amplification_factor])
    for _ in range(60):
        here = miss(unknown)
        if np.abs(here).max() < 1e-10:
            break
        step = np.array([1e-6, 1e-6 * drive])
        jacobian = np.column_stack(
            [(miss(unknown + np.eye(2)[k] * step[k]) - here) / step[k] for k in range(2)]
        )
        change = -np.linalg.solve(jacobian, here)
        change *= min(1.0, 0.1 / abs(change[0]), 0.5 * drive / abs(change[1]))
        unknown = unknown + change
    else:
        raise ArithmeticError(f"the mixture of {figures.name} does not meet its bogey point")
    met = build(unknown)
    scale = figures.plate_current / float(met.current(plate, grid))
    return replace(met, perveance=scale)


def _spread(figures: TypeFigures, uneven: float) -> float:
    """Return the standard deviation of ln mu that sets cut-offs ``uneven`` drives apart."""
    reach = figures.plate_voltage / figures.amplification_factor
    return float(np.clip(uneven * _drive(figures) / reach, 0.05, 0.25))


def _drive(figures: TypeFigures) -> float:
    """Return Vg + Vp/mu + Vc of a three-halves law at the bogey point [V]."""
    return 1.5 * figures.plate_current / figures.transconductance


def _law(
    figures: TypeFigures, spread: float, count: int, foot: Foot, rng: np.random.Generator | None
) -> MixtureLaw:
    drive = _drive(figures)
    blank = MixtureLaw(
        perveance=1.0,
        weights=(),
        amplification_factors=(),
        offsets=(),
        foot=foot,
        foot_width=0.06 * drive + 0.05,
        knee=min(3.0, 0.02 * figures.plate_voltage),
    )
    return _calibrate(figures, _stretches(figures, spread, count, rng), blank)


def _drawn_law(figures: TypeFigures, rng: np.random.Generator) -> MixtureLaw:
    """Return a law with a grid drawn at random; a grid that cannot meet the point is redrawn."""
    for _ in range(20):
        spread = _spread(figures, rng.uniform(_LEAST_UNEVEN, _MOST_UNEVEN))
        count, foot = int(rng.integers(3, 8)), _FEET[rng.integers(len(_FEET))]
        try:
            return _law(figures, spread, count, foot, rng)
        except ArithmeticError:
            continue
    raise ArithmeticError(f"no grid of {figures.name} meets its bogey point")


def bogey_tube(
    name: str, *, uneven: float = 0.4, count: int = 5, foot: Foot = Foot.DIFFUSION
) -> SimulatedTube:
    """Return a tube that meets the published point of its type exactly."""
    figures = PUBLISHED[name]
    return SimulatedTube(figures, _law(figures, _spread(figures, uneven), count, foot, None))


def healthy_tube(
    name: str,
    rng: np.random.Generator,
    *,
    scatter: float = 1.0,
    grid_path: GridPath | None = None,
) -> SimulatedTube:
    """Return a good tube of its type, scattered as production scatters.

    Parameters
    ----------
    scatter : float
        1: perveance by 5 %, mu by 2.5 % and the contact offset by 3 % of the drive
        (standard deviations; common practice, no source).
    """
    figures = PUBLISHED[name]
    law = _drawn_law(figures, rng)
    drive = _drive(figures)
    stronger, longer, shift = rng.normal(0.0, scatter, 3) * (0.05, 0.025, 0.03 * drive)
    law = replace(
        law,
        perveance=law.perveance * float(np.exp(stronger)),
        amplification_factors=tuple(float(mu * np.exp(longer)) for mu in law.amplification_factors),
        offsets=tuple(float(offset + shift) for offset in law.offsets),
    )
    if grid_path is None:
        grid_path = GridPath(
            gas_ratio=float(10 ** rng.uniform(-6.3, -5.0)),
            leak_to_plate=float(10 ** rng.uniform(-13.0, -12.0)),
            electrons=float(10 ** rng.uniform(-5.5, -4.3)),
        )
    return SimulatedTube(figures, law, grid_path)


def other_section(
    tube: SimulatedTube, rng: np.random.Generator, *, stronger: float = 0.0
) -> SimulatedTube:
    """Return the second section of a dual tube: 2 % of scatter about the first.

    Parameters
    ----------
    stronger : float
        By which fraction its perveance is meant to exceed the first's.
    """
    factor = (1.0 + stronger) * float(np.exp(rng.normal(0.0, 0.02)))
    law = replace(tube.law, perveance=tube.law.perveance * factor)
    return replace(tube, law=law)
