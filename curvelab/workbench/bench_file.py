"""A bench description from its TOML file.

::

    name = "bench in the back room"

    [plate_current]      # limits of error of each meter
    gain_pct = 0.5       # of the reading
    offset_ma = 0.02
    resolution_ma = 0.01

    [plate_voltage]      # gain_pct, offset_v, resolution_v; grid_voltage likewise
    [grid_current]       # gain_pct, offset_ua, resolution_ua
"""

from __future__ import annotations

import tomllib
from pathlib import Path

from curvelab.errors import BenchDescriptionError
from curvelab.quantities import MICROAMPERE, MILLIAMPERE, VOLT, Unit
from curvelab.sweep.bench import Bench, MeterAccuracy

__all__ = ["load_bench"]

_METERS: dict[str, tuple[str, Unit]] = {
    "plate_voltage": ("v", VOLT),
    "grid_voltage": ("v", VOLT),
    "plate_current": ("ma", MILLIAMPERE),
    "grid_current": ("ua", MICROAMPERE),
}


def load_bench(path: Path) -> Bench:
    """Return the bench that a TOML file describes.

    Raises
    ------
    BenchDescriptionError
        If it cannot be read, names an unknown meter or key, or a value is no
        non-negative number.
    """
    try:
        content = tomllib.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise BenchDescriptionError(f"{path}: {error.strerror or 'cannot be opened'}") from error
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise BenchDescriptionError(f"{path}: not a TOML file ({error})") from error
    unknown = [key for key in content if key not in (*_METERS, "name")]
    if unknown:
        raise BenchDescriptionError(
            f"{path}: no meter is named {unknown[0]!r} (there are {', '.join(_METERS)})"
        )
    meters = {
        name: _meter(path, name, content[name], suffix, unit)
        for name, (suffix, unit) in _METERS.items()
        if name in content
    }
    return Bench(name=str(content.get("name", path.stem)), assumed=False, **meters)


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
