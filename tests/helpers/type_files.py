"""Type files for tests: invented types, written as a user would write them."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable
from pathlib import Path

from curvelab.reference.library import TypeLibrary, library_of
from curvelab.reference.records import TubeType
from curvelab.reference.table import Source
from curvelab.reference.typefile import parse_type

__all__ = ["invented_type", "parse", "type_text", "types_from", "write_type"]

_SOURCES = """
[sources.N1]
title = "An invented sheet"
kind = "page"

[sources.M1]
title = "An invented recollection"
kind = "memory"
"""
_NINE_A = "1 P2,2 G2,3 K2,4 H,5 H,6 P1,7 G1,8 K1,9 HCT"


def type_text(
    name: str,
    *,
    kind: str = "dual triode",
    cathode: str = "indirect",
    base: str = "noval",
    pins: str = _NINE_A,
    heater: str = "heater_v = 6.3, heater_a = 0.3",
    ratings: str = "plate_v = 300\nplate_w = 2.5",
    rated: str = "verified",
    points: str = "{ plate_v = 250, grid_v = -8, plate_ma = 9, mu = 20, gm_umho = 2600, "
    "rp_ohm = 7700, bogey = true }",
    more: str = "",
) -> str:
    """Return the text of a type file; ``pins`` as ``1 P2,2 G2``."""
    source = 'source = "N1"\nstatus = "verified"\n'
    of_ratings = source if rated == "verified" else f'source = "M1"\nstatus = "{rated}"\n'
    listed = "".join('{} = "{}"\n'.format(*pin.split(" ", 1)) for pin in pins.split(",") if pin)
    blocks = [
        f'name = "{name}"\naliases = []\nkind = "{kind}"\ncathode = "{cathode}"\nnear = []\n',
        f'[socket]\n{source}base = "{base}"\n' if base else "",
        f"[pins]\n{source}{listed}" if listed else "",
        f'[heater]\n{source}rows = [{{ {heater}, arrangement = "single" }}]\n' if heater else "",
        f'[[ratings]]\nsystem = "design-center"\n{of_ratings}{ratings}\n' if ratings else "",
        f"[[points]]\n{source}rows = [\n{points},\n]\n" if points else "",
        more,
        _SOURCES,
    ]
    return "\n".join(block for block in blocks if block)


def invented_type(name: str, **changes: str) -> TubeType:
    """Return the type of such a file."""
    return parse(type_text(name, **changes))


def parse(text: str) -> TubeType:
    """Return the type that a text describes, with no sources but its own."""
    nothing: dict[str, Source] = {}
    return parse_type("type.toml", tomllib.loads(text), nothing)


def types_from(texts: Iterable[str]) -> TypeLibrary:
    """Return the library of some texts."""
    return library_of([parse(text) for text in texts])


def write_type(folder: Path, text: str, name: str = "mine.toml") -> Path:
    """Write a type file and return its path."""
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path
