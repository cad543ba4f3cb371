"""Types of one's own: copied from a near type, checked, imported, exported.

They are kept in the user's data folder, ``types/*.toml``, one file a type.
"""

from __future__ import annotations

import tomllib
from pathlib import Path

from curvelab.errors import OutputError, ReferenceDataError
from curvelab.reference.library import library_of
from curvelab.reference.loader import file_of, load_sources, read_type
from curvelab.reference.own_curves import curves_by_screen
from curvelab.reference.records import Status, TubeType
from curvelab.reference.typecopy import near_copy, self_contained
from curvelab.reference.typeedit import add_source, set_curves
from curvelab.reference.typefile import parse_type
from curvelab.reference.typeparts import parts_of
from curvelab.sheets.names import safe_file_stem
from curvelab.sheets.output import write_output
from curvelab.workbench.drawn_curves import read_curves
from curvelab.workbench.type_library import current_types, own_folder

__all__ = [
    "add_curves",
    "check_type_file",
    "check_type_text",
    "copy_type",
    "export_type",
    "import_type",
    "keep_type_text",
    "known_sources",
    "known_words",
    "with_curves",
]

_LONGEST_NAME = 40


def known_sources() -> dict[str, str]:
    """Return the sources that a figure may cite: title by short name.

    Raises
    ------
    ReferenceDataError
        If the user's own list of sources cannot be read.
    """
    return {name: source.title for name, source in load_sources(own_folder()).items()}


def known_words(key: str) -> tuple[str, ...]:
    """Return what the library's types have as their ``kind`` or ``cathode``, in order."""
    types = current_types().types.types.values()
    return tuple(sorted({str(getattr(item, key)) for item in types}))


def check_type_file(path: Path) -> TubeType:
    """Return the type of a file that keeps every rule of the library.

    Raises
    ------
    ReferenceDataError
        If it does not, with file, place and key; or if the library's other types have one of
        its names.
    """
    found = read_type(path, load_sources(own_folder()))
    _check_names(found)
    return found


def check_type_text(text: str, name: str) -> TubeType:
    """Return the type that an edited text describes, if it may stand for a type of one's own.

    Parameters
    ----------
    name : str
        Name of the type of one's own that is edited; the text may give it another.

    Raises
    ------
    ReferenceDataError
        If it breaks a rule, with the place and, where it is known, the line.
    """
    try:
        content = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise ReferenceDataError(f"{name}: not TOML ({error})") from error
    found = parse_type(name, content, load_sources(own_folder()))
    joined = current_types()
    if found.name != name and found.name in joined.types.types:
        raise ReferenceDataError(f"{name}, name: there is a type {found.name!r} already")
    others = {key: item for key, item in joined.types.types.items() if key != name}
    library_of({**others, found.name: found}.values())
    return found


def keep_type_text(text: str, name: str) -> TubeType:
    """Write an edited type of one's own over its file, and return it.

    Raises
    ------
    ReferenceDataError
        If it breaks a rule, or ``name`` is no type of one's own.
    OutputError
        If it cannot be written.
    """
    found = check_type_text(text, name)
    file = current_types().own.get(name)
    if file is None:
        raise ReferenceDataError(f"{name} is no type of your own: copy it first")
    write_output(file, text.encode("utf-8"))
    return found


def copy_type(near: str, name: str) -> Path:
    """Write a file for a new type with the figures of a near one, and return where it is.

    Raises
    ------
    UnknownTypeError
        If the library does not hold ``near``.
    ReferenceDataError
        If ``name`` cannot be a name, or is taken.
    OutputError
        If it cannot be written.
    """
    name = name.strip()
    if not name or len(name) > _LONGEST_NAME or not name.isprintable():
        raise ReferenceDataError(
            f"{name!r} cannot be a type's name: wanted up to {_LONGEST_NAME} letters and figures"
        )
    joined = current_types()
    tube_type, _ = joined.types.find(near)
    if name in joined.types.types:
        raise ReferenceDataError(f"there is a type {name!r} already")
    text = near_copy(export_type(tube_type.name), tube_type.name, name)
    return _keep(text, "the copy")


def with_curves(text: str, path: Path, source: str, accuracy: str) -> str:
    """Return the text of a type file with the curves of a sweep file in it.

    They stand in the place of those that it had at the same screen voltages.

    Parameters
    ----------
    path : Path
        Readings of published curves, in any shape that a sweep may have.
    source : str
        Short name of the publication, which the text or the library must know.
    accuracy : str
        How closely they could be read off, in words.

    Raises
    ------
    ReferenceDataError
        If the file holds no such curves, or ``accuracy`` says nothing.
    """
    drawn = read_curves(path)
    flowing = drawn.readings.take(drawn.readings.plate_current > 0)
    if not len(flowing):
        raise ReferenceDataError(f"{path}: no reading with a plate current")
    known = {**known_sources(), **parts_of(text).sources}
    kinds = {name: item.kind for name, item in load_sources(own_folder()).items()}
    if source not in known:
        raise ReferenceDataError(f"curves need a source that is known, not {source!r}")
    status = Status.FROM_MEMORY if kinds.get(source) == "memory" else Status.VERIFIED
    curves = tuple(curves_by_screen(flowing, drawn.title))
    return set_curves(text, curves, source, status.value, accuracy)


def add_curves(name: str, path: Path, title: str, accuracy: str) -> TubeType:
    """Put curves that were read off a sheet into a type of one's own, and return it.

    Parameters
    ----------
    title : str
        Of the publication: edition, page or sheet, date.

    Raises
    ------
    UnknownTypeError
    ReferenceDataError
        If it is no type of one's own, or the file holds no such curves.
    OutputError
        If it cannot be written.
    """
    joined = current_types()
    tube_type, _ = joined.types.find(name)
    file = joined.own.get(tube_type.name)
    if file is None:
        raise ReferenceDataError(f"{tube_type.name} is no type of your own: copy it first")
    text, source = add_source(file.read_text(encoding="utf-8-sig"), title, "sheet scan")
    return keep_type_text(with_curves(text, path, source, accuracy), tube_type.name)


def import_type(path: Path, *, replace: bool = False) -> tuple[TubeType, Path]:
    """Take a type file into the user's own types; return the type and where it is kept.

    Parameters
    ----------
    replace : bool
        Whether it may stand in the place of a type of one's own of its name.

    Raises
    ------
    ReferenceDataError
        If it breaks a rule, or is there already and is not to be replaced.
    OutputError
        If it cannot be written.
    """
    found = check_type_file(path)
    kept = current_types().own.get(found.name)
    if kept is not None and not replace:
        raise ReferenceDataError(
            f"{path.name}: you have a type {found.name!r} already ({kept}); say that it is to be "
            "replaced"
        )
    text = path.read_text(encoding="utf-8-sig")
    own = tomllib.loads(text).get("sources", {})
    target = _keep(self_contained(text, load_sources(own_folder()), own), path.name, kept)
    return found, target


def export_type(name: str) -> str:
    """Return the text of a type's file, with the sources it cites, to give away.

    Raises
    ------
    UnknownTypeError
    """
    joined = current_types()
    tube_type, _ = joined.types.find(name)
    file = joined.own.get(tube_type.name) or file_of(tube_type.name)
    text = file.read_text(encoding="utf-8-sig")
    own = tomllib.loads(text).get("sources", {})
    return self_contained(text, load_sources(own_folder()), own)


def _keep(text: str, what: str, kept: Path | None = None) -> Path:
    """Write a type file into the folder, once what was written is known to be read again."""
    found = parse_type(what, tomllib.loads(text), load_sources(own_folder()))
    _check_names(found)
    folder = own_folder() / "types"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        used = {file.stem for file in folder.glob("*.toml")}
    except OSError as error:
        raise OutputError(f"cannot make the folder {folder}: {error.strerror}") from error
    target = kept or folder / f"{safe_file_stem(found.name, None, used)}.toml"
    write_output(target, text.encode("utf-8"))
    return target


def _check_names(found: TubeType) -> None:
    """Refuse a type that has a name of another; it may stand in the place of its namesake.

    Raises
    ------
    ReferenceDataError
    """
    library_of({**current_types().types.types, found.name: found}.values())
