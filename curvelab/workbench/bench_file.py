"""A bench description: its meters' limits of error, and how its files are to be read.

::

    name = "bench in the back room"

    [plate_current]      # limits of error of each meter
    gain_pct = 0.5       # of the reading
    offset_ma = 0.02
    resolution_ma = 0.01

    [plate_voltage]      # gain_pct, offset_v, resolution_v; grid_voltage likewise
    [grid_current]       # gain_pct, offset_ua, resolution_ua

    [reading]            # see `curvelab.workbench.bench_choices`
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from pathlib import Path

from curvelab.errors import BenchDescriptionError
from curvelab.ingest.choices import NOTHING_CHOSEN, ReadingChoices
from curvelab.quantities import MICROAMPERE, MILLIAMPERE, VOLT, Unit
from curvelab.sweep.bench import UNSTATED_BENCH, Bench, MeterAccuracy
from curvelab.workbench.bench_choices import READING, read_choices

__all__ = ["BenchDescription", "load_description"]

_METERS: dict[str, tuple[str, Unit]] = {
    "plate_voltage": ("v", VOLT),
    "grid_voltage": ("v", VOLT),
    "plate_current": ("ma", MILLIAMPERE),
    "grid_current": ("ua", MICROAMPERE),
}


@dataclass(frozen=True, slots=True)
class BenchDescription:
    """What a description says of a bench.

    Attributes
    ----------
    bench : Bench
        Assumed, not stated, where the description names no meter.
    choices : ReadingChoices
        How the files of the bench are read.
    """

    bench: Bench = UNSTATED_BENCH
    choices: ReadingChoices = NOTHING_CHOSEN


def load_description(path: Path | None) -> BenchDescription:
    """Return what a TOML file says of a bench; without one, nothing is stated.

    Raises
    ------
    BenchDescriptionError
        If it cannot be read, names an unknown meter or key, or a value cannot be.
    """
    if path is None:
        return BenchDescription()
    try:
        content = tomllib.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise BenchDescriptionError(f"{path}: {error.strerror or 'cannot be opened'}") from error
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise BenchDescriptionError(f"{path}: not a TOML file ({error})") from error
    unknown = [key for key in content if key not in (*_METERS, "name", READING)]
    if unknown:
        raise BenchDescriptionError(
            f"{path}: no meter is named {unknown[0]!r} (there are {', '.join(_METERS)})"
        )
    name = str(content.get("name", path.stem))
    meters = {
        meter: _meter(path, meter, content[meter], suffix, unit)
        for meter, (suffix, unit) in _METERS.items()
        if meter in content
    }
    try:
        choices = read_choices(name, content.get(READING, {}))
    except BenchDescriptionError as error:
        raise BenchDescriptionError(f"{path}: {error}") from error
    only_reading = READING in content and not meters
    return BenchDescription(Bench(name=name, assumed=only_reading, **meters), choices)


def _meter(path: Path, name: str, table: object, suffix: str, unit: Unit) -> MeterAccuracy:
    if not isinstance(table, dict):
        raise BenchDescriptionError(f"{path}: {name} must be a table")
    factors = {
        "gain_pct": ("gain", 0.01),
        f"offset_{suffix}": ("offset", unit.si),
        f"resolution_{suffix}": ("resolution", unit.si),
    }
    values = {}
    for key, value in table.items():
        if key not in factors:
            raise BenchDescriptionError(
                f"{path}: {name} has no key {key!r} (there are {', '.join(factors)})"
            )
        if isinstance(value, bool) or not isinstance(value, int | float) or not 0 <= value < 1e6:
            raise BenchDescriptionError(f"{path}: {name}.{key} must be a number of 0 or more")
        field, factor = factors[key]
        values[field] = float(value) * factor
    return MeterAccuracy(**values)
