"""The type library from its files: the one place of this room that touches the disk.

A library folder holds ``sources.toml`` and ``types/*.toml``, one file a type.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from curvelab.errors import ReferenceDataError, UnknownTypeError
from curvelab.paths import resource_folder
from curvelab.reference.library import TypeLibrary, library_of
from curvelab.reference.records import TubeType
from curvelab.reference.table import Source
from curvelab.reference.typefile import parse_sources, parse_type

__all__ = [
    "JoinedLibrary",
    "file_of",
    "join_own_types",
    "load_library",
    "load_sources",
    "read_type",
    "type_files",
]


@dataclass(frozen=True, slots=True, eq=False)
class JoinedLibrary:
    """The shipped types and the user's own.

    Attributes
    ----------
    own : mapping of str to Path
        The file of each type of one's own that was taken, by name.
    problems : tuple of str
        Why files were not taken, one plain sentence each.
    """

    types: TypeLibrary
    own: dict[str, Path]
    problems: tuple[str, ...]


def load_library(folder: Path | None = None) -> TypeLibrary:
    """Return the type library of a folder; the shipped one is read only once.

    Raises
    ------
    ReferenceDataError
        If a file cannot be read or breaks the rules, with file, place and key.
    """
    return _shipped() if folder is None else _read(folder)


def join_own_types(folder: Path) -> JoinedLibrary:
    """Return the shipped library with the types of one's own in ``folder``.

    One of these stands in the place of a shipped type of its name; its file may cite the
    shipped sources too. A file that breaks the rules is left out and named, so that it keeps
    nobody from the rest.
    """
    types = dict(_shipped().types)
    own: dict[str, Path] = {}
    problems: list[str] = []
    try:
        sources = load_sources(folder)
    except ReferenceDataError as error:
        return JoinedLibrary(_shipped(), {}, (str(error),))
    for file in type_files(folder):
        try:
            found = read_type(file, sources)
            if found.name in own:
                raise ReferenceDataError(f"{file.name}: a second file for type {found.name!r}")
            library_of({**types, found.name: found}.values())
        except ReferenceDataError as error:
            problems.append(str(error))
        else:
            types[found.name] = found
            own[found.name] = file
    library = library_of(types.values()) if own else _shipped()
    return JoinedLibrary(library, own, tuple(problems))


def load_sources(folder: Path | None = None) -> dict[str, Source]:
    """Return the shipped sources by short name, and those of a further folder.

    Raises
    ------
    ReferenceDataError
    """
    sources: dict[str, Source] = {}
    for place in (resource_folder(), folder):
        file = None if place is None else place / "sources.toml"
        if file is not None and file.exists():
            sources |= parse_sources(file.name, _toml(file))
    return sources


def read_type(file: Path, sources: dict[str, Source]) -> TubeType:
    """Return the type that a file describes.

    Raises
    ------
    ReferenceDataError
        If it cannot be read or breaks the rules, with file, place and key.
    """
    return parse_type(file.name, _toml(file), sources)


def type_files(folder: Path | None = None) -> list[Path]:
    """Return the type files of a library folder, the shipped one by default."""
    return sorted(((folder or resource_folder()) / "types").glob("*.toml"))


def file_of(name: str, folder: Path | None = None) -> Path:
    """Return the file that describes the type of exactly this name.

    Raises
    ------
    UnknownTypeError
    """
    for file in type_files(folder):
        if _named(file) == name:
            return file
    raise UnknownTypeError(name)


@cache
def _shipped() -> TypeLibrary:
    return _read(resource_folder())


def _read(folder: Path) -> TypeLibrary:
    source_file = folder / "sources.toml"
    sources = parse_sources(source_file.name, _toml(source_file)) if source_file.exists() else {}
    types: dict[str, TubeType] = {}
    for file in type_files(folder):
        found = read_type(file, sources)
        if found.name in types:
            raise ReferenceDataError(f"{file.name}: a second file for type {found.name!r}")
        types[found.name] = found
    if not types:
        raise ReferenceDataError(f"{folder}: wanted types/*.toml, got no such file")
    return library_of(types.values())


def _named(file: Path) -> object:
    try:
        return _toml(file).get("name")
    except ReferenceDataError:
        return None


def _toml(file: Path) -> dict[str, object]:
    try:
        return tomllib.loads(file.read_text(encoding="utf-8-sig"))
    except (OSError, UnicodeDecodeError) as error:
        raise ReferenceDataError(f"{file}: cannot be read ({error})") from error
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise ReferenceDataError(f"{file}: not TOML ({error})") from error
