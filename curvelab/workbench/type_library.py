"""The types and families in use: the shipped ones, and the user's own where there are any."""

from __future__ import annotations

import json
from functools import cache, lru_cache
from pathlib import Path

from curvelab.errors import CurvelabError
from curvelab.paths import resource_folder, user_data_folder
from curvelab.reference.families import FamilyLibrary, family_library
from curvelab.reference.loader import JoinedLibrary, join_own_types, load_library, type_files
from curvelab.reference.solved import Solved

__all__ = ["SOLVED_FILE", "current_families", "current_types", "own_folder", "shipped_families"]

SOLVED_FILE = "solved_families.json"

_State = tuple[tuple[str, int, int], ...]


def own_folder() -> Path:
    """Return the folder of the user's own types, outside the program: no upgrade touches it.

    Raises
    ------
    CurvelabError
        If no home folder is known.
    """
    return user_data_folder()


def current_types() -> JoinedLibrary:
    """Return the shipped types with the user's own, as their files are now.

    Raises
    ------
    ReferenceDataError
        If the shipped library is broken.
    """
    try:
        folder = own_folder()
    except CurvelabError as error:
        return JoinedLibrary(load_library(), {}, (str(error),))
    return _joined(folder, _state(folder))


def current_families() -> FamilyLibrary:
    """Return those types with their families, solved once for each state of the files.

    Raises
    ------
    ReferenceDataError
        If the shipped library is broken.
    """
    joined = current_types()
    return _families(joined) if joined.own else shipped_families()


@cache
def shipped_families() -> FamilyLibrary:
    """Return the shipped types with their families, solved once a process."""
    return family_library(load_library(), _solved_before())


@lru_cache(maxsize=2)
def _joined(folder: Path, state: _State) -> JoinedLibrary:
    return join_own_types(folder) if state else JoinedLibrary(load_library(), {}, ())


@lru_cache(maxsize=2)
def _families(joined: JoinedLibrary) -> FamilyLibrary:
    return family_library(joined.types, _solved_before())


def _solved_before() -> Solved:
    """Return what the program brings of solutions; without them all is solved, slower."""
    try:
        text = (resource_folder() / SOLVED_FILE).read_text(encoding="utf-8")
        return {key: tuple(values) for key, values in json.loads(text).items()}
    except (OSError, ValueError):
        return {}


def _state(folder: Path) -> _State:
    """Return what tells one state of the own files from another."""
    found = []
    for file in [*type_files(folder), folder / "sources.toml"]:
        try:
            stat = file.stat()
        except OSError:
            continue
        found.append((str(file), stat.st_mtime_ns, stat.st_size))
    return tuple(found)
