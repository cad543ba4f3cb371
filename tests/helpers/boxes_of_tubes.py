"""A box of simulated tubes as a dealer gets it, with what must come out of it.

The tubes follow the simulator's law, which is not that of the fit. Twins share one grid and
differ by a third of a percent in perveance; families of twins lie at least 8 % apart, so that
at a tolerance of 5 % it is known which tubes can make a set and which cannot.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from curvelab.sweep.records import Readings
from simulator.bench import Bench, SimulatedSweep, run_sweep, usual_plan
from simulator.drift import DriftKind, DriftTruth, run_log
from simulator.faults import dead, gassy, leaky, worn
from simulator.files import drift_text, long_text, several_text
from simulator.pentode import SimulatedPentode, plan_for, random_pentode, run_pentode_sweep
from simulator.sockets import empty_socket_text, resistor_text
from simulator.tubes import SimulatedTube, healthy_tube, other_section

__all__ = [
    "DUAL",
    "SINGLE",
    "Box",
    "sweep_again",
    "write_box",
    "write_check",
    "write_halves",
    "write_heaters",
    "write_named",
    "write_pentodes",
    "write_table",
]

SINGLE, DUAL = "6J5", "12AU7"
_BENCH = Bench()
_TWIN = 0.0033  # from one twin to the next, of the perveance
# Perveance of each family of twins over the type's, and how many twins there are.
_SINGLES = {"a": (0.84, 3), "b": (0.92, 3), "c": (1.00, 3), "d": (1.10, 2), "e": (1.22, 1)}
_DUALS = {"f": (0.88, 3), "g": (0.97, 3), "h": (1.07, 2)}
_RUNS_AWAY = DriftTruth(DriftKind.RUNS_AWAY, 0.4, 200.0)


@dataclass(frozen=True, slots=True)
class Box:
    """What lies in the box.

    Attributes
    ----------
    folder : Path
        A sweep file a tube, and the log of one of them.
    families : mapping of str to tuple of str
        Serials of the sound tubes that are alike, by the name of their family.
    faults : mapping of str to str
        The finding that each bad tube deserves, by its serial. The gassy one and the one
        that runs away are twins of family "c" but for that.
    tubes : mapping of str to SimulatedTube
        The sound single ones.
    """

    folder: Path
    families: Mapping[str, tuple[str, ...]]
    faults: Mapping[str, str]
    tubes: Mapping[str, SimulatedTube]

    @property
    def serials(self) -> frozenset[str]:
        """Every tube of the box."""
        sound = (serial for family in self.families.values() for serial in family)
        return frozenset((*sound, *self.faults))

    def bad(self, fault: str) -> str:
        """Return the serial of the tube with a fault."""
        return next(serial for serial, found in self.faults.items() if found == fault)

    def family_of(self, serial: str) -> str | None:
        """Return the family that a sound tube belongs to."""
        return next((name for name, held in self.families.items() if serial in held), None)


def write_box(folder: Path, seed: int = 17) -> Box:
    """Write the sweeps of 17 single and 10 dual triodes, sound, twins and bad ones."""
    rng = np.random.default_rng(seed)
    families: dict[str, tuple[str, ...]] = {}
    tubes: dict[str, SimulatedTube] = {}
    numbers = iter(range(1, 100))
    for name, (strength, count) in _SINGLES.items():
        tube = _scaled(_typical(SINGLE, rng), strength)
        if name == "c":
            twin = tube
        serials = tuple(f"ARC-{next(numbers):02d}" for _ in range(count))
        families[name] = serials
        for turn, serial in enumerate(serials):
            tubes[serial] = _scaled(tube, 1.0 + turn * _TWIN)
            _write(folder, serial, _text(serial, tubes[serial], rng))
    bad = {
        "gas": gassy(twin, 1.5e-3),
        "leakage": leaky(twin, 2e-3),
        "weak-emission": worn(twin, 1.1, 1.5),
        "no-emission": dead(twin),
        "runaway": twin,
    }
    faults = {f"ARC-{next(numbers):02d}": fault for fault in bad}
    for (serial, fault), tube in zip(faults.items(), bad.values(), strict=True):
        _write(folder, serial, _text(serial, tube, rng))
        if fault == "runaway":
            log = run_log(tube, _RUNS_AWAY, _BENCH, rng)
            _write(folder, f"{serial} log", drift_text(log.sweep, tube=serial))
    for name, (strength, count) in _DUALS.items():
        tube = _scaled(_typical(DUAL, rng), strength)
        serials = tuple(f"ROW-{next(numbers):02d}" for _ in range(count))
        families[name] = serials
        for turn, serial in enumerate(serials):
            one = _scaled(tube, 1.0 + turn * _TWIN)
            _write_dual(folder, serial, (one, _scaled(one, 1.01)), rng)
    tube = _typical(DUAL, rng)
    uneven = f"ROW-{next(numbers):02d}"
    faults[uneven] = "section-imbalance"
    _write_dual(folder, uneven, (tube, other_section(tube, rng, stronger=0.35)), rng)
    return Box(folder, families, faults, tubes)


def sweep_again(
    path: Path, box: Box, serial: str, strength: float = 1.0, *, gain: float = 0.0, seed: int = 1
) -> Path:
    """Write another sweep of a sound single tube.

    Parameters
    ----------
    strength : float
        Its perveance now, over that of its first sweep.
    gain : float
        By which fraction the ammeter reads too much.
    """
    tube = _scaled(box.tubes[serial], strength)
    text = _text(serial, tube, np.random.default_rng(seed), replace(_BENCH, gain=gain))
    path.write_text(text, encoding="utf-8")
    return path


def _text(serial: str, tube: SimulatedTube, rng: np.random.Generator, bench: Bench = _BENCH) -> str:
    return long_text(_swept(tube, rng, bench), tube=serial)


def write_halves(folder: Path, serial: str = "TWO-1", stronger: float = 0.35) -> tuple[Path, Path]:
    """Write the two sections of a dual tube, each a file of its own."""
    tube = _typical(DUAL, np.random.default_rng(61))
    other = other_section(tube, np.random.default_rng(62), stronger=stronger)
    return (
        _write_under(folder, serial, tube, "section", "1"),
        _write_under(folder, serial, other, "section", "2"),
    )


def write_heaters(folder: Path, serial: str = "WORN-1") -> tuple[Path, Path]:
    """Write a tube at full heater volts, and at nine tenths of them, a cathode without reserve."""
    tube = worn(_typical(SINGLE, np.random.default_rng(63)), 3.2, 3.0)
    return (
        _write_under(folder, serial, tube, "heater volts", "6.3 V"),
        _write_under(folder, serial, tube.with_heater(0.9), "heater volts", "5.67 V"),
    )


def write_pentodes(folder: Path, seed: int = 3) -> None:
    """Write five pentodes labelled EL84, and a sixth connected as a triode.

    P-1 and P-2 are twins, P-3 and P-4 too, a tenth stronger; P-5 is stronger still, and was
    swept at two screen voltages; T-1 is the twin of P-1.
    """
    base = _stronger(random_pentode(np.random.default_rng(seed)), 0.5)
    strengths = {"P-1": 1.0, "P-2": 1.005, "P-3": 1.12, "P-4": 1.125, "P-5": 1.3}
    plan = replace(plan_for(base), plate_voltage=tuple(np.arange(20.0, 321.0, 20.0).tolist()))
    for turn, (serial, strength) in enumerate(strengths.items()):
        tube = _stronger(base, strength)
        screens = (200.0, 250.0) if serial == "P-5" else (250.0,)
        swept = replace(plan, screen_voltage=screens)
        readings = run_pentode_sweep(tube, swept, np.random.default_rng(seed + turn))
        _write(folder, serial, _screened_text(serial, readings))
    readings = run_pentode_sweep(base, plan, np.random.default_rng(seed))
    triode = base.plate_current(
        readings.plate_voltage, readings.grid_voltage, readings.plate_voltage
    )
    rows = zip(readings.plate_voltage, readings.grid_voltage, 1e3 * triode, strict=True)
    lines = ["# tube: T-1", "# type: EL84", "# connection: triode", "plate_v,grid_v,plate_ma"]
    lines += [f"{vp:g},{vg:g},{ip:.4f}" for vp, vg, ip in rows if vp * ip < 15e3]
    _write(folder, "T-1", "\n".join(lines) + "\n")


def write_check(folder: Path, seed: int, *, gain: float = 0.0, moved: float = 0.0) -> list[Path]:
    """Write today's sweeps of the golden tubes G-1 and G-2, a resistor and an empty socket.

    Parameters
    ----------
    gain : float
        By which fraction the ammeter reads too much.
    moved : float
        By which fraction G-2 has become stronger.

    Returns
    -------
    list of Path
        The two golden tubes, the resistor of 25 kohm, the empty socket.
    """
    folder.mkdir(parents=True, exist_ok=True)
    rng = np.random.default_rng(seed)
    bench = replace(_BENCH, gain=gain)
    tubes = [_typical(SINGLE, np.random.default_rng(name)) for name in (501, 502)]
    tubes[1] = _scaled(tubes[1], 1.0 + moved)
    return [
        *(
            _write(folder, name, _text(name, tube, rng, bench))
            for name, tube in zip(("G-1", "G-2"), tubes, strict=True)
        ),
        _write(folder, "resistor", resistor_text(25e3, rng, gain=1.0 + gain)),
        _write(folder, "empty", empty_socket_text(rng)),
    ]


def write_named(folder: Path, serials: Sequence[str]) -> None:
    """Write a sweep of one and the same tube under every name."""
    tube = _typical(SINGLE, np.random.default_rng(71))
    for number, serial in enumerate(serials):
        _write(folder, f"{number:02d}", _text(serial, tube, np.random.default_rng(number)))


def write_table(path: Path, *rows: str) -> Path:
    """Write a table of hand tests; the first of ``rows`` is its heading."""
    path.write_text("\n".join(rows) + "\n", encoding="utf-8")
    return path


def _typical(name: str, rng: np.random.Generator) -> SimulatedTube:
    return healthy_tube(name, rng, scatter=0.0)


def _scaled(tube: SimulatedTube, factor: float) -> SimulatedTube:
    return replace(tube, law=replace(tube.law, perveance=tube.law.perveance * factor))


def _swept(tube: SimulatedTube, rng: np.random.Generator, bench: Bench) -> SimulatedSweep:
    plan = usual_plan(tube, plates=16, grids=7, overload=1.4)
    plan = replace(plan, grid_current=True)
    return run_sweep(tube, plan, bench, rng)


def _write(folder: Path, name: str, text: str) -> Path:
    path = folder / f"{name}.csv"
    path.write_text(text, encoding="utf-8")
    return path


def _stronger(tube: SimulatedPentode, factor: float) -> SimulatedPentode:
    cathode = replace(tube.cathode, perveance=tube.cathode.perveance * factor)
    return replace(tube, cathode=cathode)


def _screened_text(serial: str, readings: Readings) -> str:
    screen = readings.screen_voltage
    assert screen is not None
    rows = zip(
        readings.plate_voltage,
        readings.grid_voltage,
        screen,
        1e3 * readings.plate_current,
        strict=True,
    )
    lines = [f"# tube: {serial}", "# type: EL84", "# connection: pentode"]
    lines += [
        "plate_v,grid_v,screen_v,plate_ma",
        *(f"{a:g},{b:g},{c:g},{d:.4f}" for a, b, c, d in rows),
    ]
    return "\n".join(lines) + "\n"


def _write_under(folder: Path, serial: str, tube: SimulatedTube, key: str, value: str) -> Path:
    sweep = _swept(tube, np.random.default_rng(64), _BENCH)
    text = long_text(replace(sweep, metadata=((key, value),)), tube=serial)
    return _write(folder, f"{serial} {value}", text)


def _write_dual(
    folder: Path,
    serial: str,
    sections: tuple[SimulatedTube, SimulatedTube],
    rng: np.random.Generator,
) -> None:
    named = [(name, _swept(tube, rng, _BENCH)) for name, tube in zip("12", sections, strict=True)]
    _write(folder, serial, several_text(named, tube=serial))
