"""The type library from its files: the one place of this room that touches the disk.

A library folder holds ``sources.toml`` and ``types/*.toml``, one file a type.
"""

from __future__ import annotations

import tomllib
from functools import cache
from pathlib import Path

from curvelab.errors import ReferenceDataError
from curvelab.paths import resource_folder
from curvelab.reference.library import TypeLibrary, library_of
from curvelab.reference.records import TubeType
from curvelab.reference.table import Source
from curvelab.reference.typefile import parse_sources, parse_type

__all__ = ["load_library"]


def load_library(folder: Path | None = None, extra: Path | None = None) -> TypeLibrary:
    """Return the type library; the shipped one alone is read only once.

    Parameters
    ----------
    folder : Path, optional
        Library folder; the shipped one by default.
    extra : Path, optional
        A further library folder, of the user's own types. One of these stands in the place
        of a shipped type of its name; its files may cite the shipped sources too.

    Raises
    ------
    ReferenceDataError
        If a file cannot be read or breaks the rules, with file, place and key.
    """
    if folder is None and extra is None:
        return _shipped()
    return _read(folder or resource_folder(), extra)


@cache
def _shipped() -> TypeLibrary:
    return _read(resource_folder(), None)


def _read(folder: Path, extra: Path | None) -> TypeLibrary:
    sources: dict[str, Source] = {}
    types: dict[str, TubeType] = {}
    for place in (folder, extra) if extra else (folder,):
        types |= _read_folder(place, sources)
    return library_of(types.values())


def _read_folder(folder: Path, sources: dict[str, Source]) -> dict[str, TubeType]:
    """Return the types of one folder by name, and add its sources to ``sources``."""
    source_file = folder / "sources.toml"
    if source_file.exists():
        sources |= parse_sources(source_file.name, _toml(source_file))
    files = sorted((folder / "types").glob("*.toml"))
    if not files:
        raise ReferenceDataError(f"{folder}: wanted types/*.toml, got no such file")
    types: dict[str, TubeType] = {}
    for file in files:
        found = parse_type(file.name, _toml(file), sources)
        if found.name in types:
            raise ReferenceDataError(f"{file.name}: a second file for type {found.name!r}")
        types[found.name] = found
    return types


def _toml(file: Path) -> dict[str, object]:
    try:
        return tomllib.loads(file.read_text(encoding="utf-8-sig"))
    except (OSError, UnicodeDecodeError) as error:
        raise ReferenceDataError(f"{file}: cannot be read ({error})") from error
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise ReferenceDataError(f"{file}: not TOML ({error})") from error
