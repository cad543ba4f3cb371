"""Changes to the text of a type file that leave everything else of it as it was written.

A place is where a table or row stands, such as ``("ratings", 0)`` or ``("points", 0, "rows", 1)``.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from curvelab.errors import ReferenceDataError
from curvelab.reference.table import SOURCE_KINDS

if TYPE_CHECKING:
    from tomlkit import TOMLDocument

__all__ = [
    "Place",
    "Row",
    "TypeParts",
    "add_limit",
    "add_row",
    "add_source",
    "parts_of",
    "place_of_refusal",
    "remove",
    "set_bogey",
    "set_origin",
    "set_socket",
    "set_value",
]

Place = tuple[str | int, ...]

_LISTED = ("points", "pentode_points", "cutoffs")
_NUMBER = re.compile(r"[+-]?\d+")
_NUMBERED = re.compile(r"(\w+) (\d+)")
_ORIGIN = ("source", "status")
_TOP_TEXTS, _TOP_LISTS = ("name", "kind", "cathode"), ("aliases", "near")
_SOCKET = ("base", "basing_code")
_WORDS = frozenset({*_TOP_TEXTS, *_SOCKET, "arrangement", "system", "service"})


@dataclass(frozen=True, slots=True)
class Row:
    """One row of a table, or one limit of a set of ratings.

    Attributes
    ----------
    place : Place
        Of the row; of a limit its set's.
    values : mapping of str to str
        What is written under each key; of a limit, ``system``, ``service``, ``limit`` and
        ``value``.
    source, status : str
        As they hold for it, its own or its table's; a source by its short name.
    """

    place: Place
    values: Mapping[str, str]
    source: str
    status: str


@dataclass(frozen=True, slots=True)
class TypeParts:
    """What a form can show of a type file.

    Attributes
    ----------
    texts : mapping of str to str
        name, kind, cathode, aliases, near, base, basing_code; lists with commas between.
    sources : mapping of str to str
        The file's own sources: title by short name.
    """

    texts: Mapping[str, str]
    heaters: tuple[Row, ...]
    limits: tuple[Row, ...]
    points: tuple[Row, ...]
    pentode_points: tuple[Row, ...]
    sources: Mapping[str, str]


def parts_of(text: str) -> TypeParts:
    """Return what a form can show of the text of a type file.

    Raises
    ------
    ReferenceDataError
        If the text is no TOML, or holds something else where a table is wanted.
    """
    content = _document(text).unwrap()
    try:
        socket = content.get("socket", {})
        texts = {key: str(content.get(key, "")) for key in _TOP_TEXTS}
        texts |= {key: ", ".join(map(str, content.get(key, []))) for key in _TOP_LISTS}
        texts |= {key: _shown(socket.get(key, "")) for key in _SOCKET}
        heater = content.get("heater")
        return TypeParts(
            texts=texts,
            heaters=() if heater is None else tuple(_rows(heater, ("heater",))),
            limits=tuple(_limits(content)),
            points=tuple(_listed(content, "points")),
            pentode_points=tuple(_listed(content, "pentode_points")),
            sources={
                name: str(source.get("title", ""))
                for name, source in content.get("sources", {}).items()
            },
        )
    except (AttributeError, TypeError) as error:
        raise ReferenceDataError(
            f"the text does not have the tables of a type file: {error}"
        ) from error


def _listed(content: Mapping[str, Any], key: str) -> Iterator[Row]:
    for number, table in enumerate(content.get(key, [])):
        yield from _rows(table, (key, number))


def _rows(table: Mapping[str, Any], at: Place) -> Iterator[Row]:
    for number, row in enumerate(table.get("rows", [])):
        origin = {key: str(row.get(key, table.get(key, ""))) for key in _ORIGIN}
        values = {key: _shown(value) for key, value in row.items() if key not in _ORIGIN}
        yield Row((*at, "rows", number), values, **origin)


def _limits(content: Mapping[str, Any]) -> Iterator[Row]:
    beside = {"system", "service", "note", *_ORIGIN}
    for number, table in enumerate(content.get("ratings", [])):
        for key, value in table.items():
            if key in beside:
                continue
            own = value if isinstance(value, dict) else table
            values = {
                "system": str(table.get("system", "")),
                "service": str(table.get("service", "")),
                "limit": key,
                "value": _shown(value),
            }
            origin = {name: str(own.get(name, "")) for name in _ORIGIN}
            yield Row(("ratings", number), values, **origin)


def _shown(value: object) -> str:
    if isinstance(value, dict):
        value = value.get("value", "")
    if isinstance(value, bool):
        return "true" if value else ""
    return f"{value}"


def set_value(text: str, place: Place, key: str, written: str) -> str:
    """Return the text with another value under a key; nothing written takes the key away.

    A value that brings its own source keeps it. Whether the value keeps the rules is for
    `typefile.parse_type` to say.

    Raises
    ------
    ReferenceDataError
        If there is no such place.
    """
    document = _document(text)
    table = _at(document, place)
    written = written.strip()
    value: object = written if key in _WORDS else _value(written)
    if key in _TOP_LISTS:
        value = [item.strip() for item in written.split(",") if item.strip()]
    if not written and key not in _TOP_LISTS:
        table.pop(key, None)
    elif isinstance(table.get(key), dict):
        table[key]["value"] = value
    elif key in table or place:
        table[key] = value
    else:  # before the first table, where it is found again
        return f"{key} = {_quoted(value)}\n{text}"
    return _written(document)


def set_socket(text: str, key: str, written: str, source: str, status: str) -> str:
    """Return the text with another base; the table is made where there is none."""
    document = _document(text)
    if "socket" not in document:
        import tomlkit  # noqa: PLC0415 (needed for an edit alone)

        made = tomlkit.table()
        made.update({"source": source, "status": status})
        document["socket"] = made
    return set_value(_written(document), ("socket",), key, written)


def set_origin(text: str, place: Place, key: str | None, source: str, status: str) -> str:
    """Return the text with another source and status for a row, or for one limit of a set.

    Raises
    ------
    ReferenceDataError
        If there is no such place.
    """
    import tomlkit  # noqa: PLC0415 (needed for an edit alone)

    document = _document(text)
    table = _at(document, place)
    if key is None:
        above = _at(document, place[:-2])
        if (above.get("source"), above.get("status")) == (source, status):
            for name in _ORIGIN:
                table.pop(name, None)
        else:
            table.update({"source": source, "status": status})
        return _written(document)
    old = table.get(key)
    value = old.get("value") if isinstance(old, dict) else old
    if (table.get("source"), table.get("status")) == (source, status):
        table[key] = value
    else:
        own = tomlkit.inline_table()
        own.update({"value": value, "source": source, "status": status})
        table[key] = own
    return _written(document)


def set_bogey(text: str, place: Place) -> str:
    """Return the text with the mark of the point that tubes are compared at on this row alone.

    Raises
    ------
    ReferenceDataError
        If there is no such place.
    """
    for row in _listed(_document(text).unwrap(), str(place[0])):
        if "bogey" in row.values and row.place != place:
            text = set_value(text, row.place, "bogey", "")
    return set_value(text, place, "bogey", "true")


def add_row(text: str, key: str, like: Mapping[str, str], source: str, status: str) -> str:
    """Return the text with one more row of ``heater``, ``points`` or ``pentode_points``.

    Raises
    ------
    ReferenceDataError
        If the text is no TOML.
    """
    import tomlkit  # noqa: PLC0415 (needed for an edit alone)

    document = _document(text)
    row = tomlkit.inline_table()
    row.update({k: written if k in _WORDS else _value(written) for k, written in like.items()})
    listed = key in _LISTED
    if key not in document:
        table = tomlkit.table()
        table.update({"source": source, "status": status, "rows": tomlkit.array()})
        if listed:
            document[key] = tomlkit.aot()
            document[key].append(table)
        else:
            document[key] = table
    table = document[key][-1] if listed else document[key]
    if (table.get("source"), table.get("status")) != (source, status):
        row.update({"source": source, "status": status})
    rows: Any = table["rows"]
    rows.append(row)
    rows.multiline(multiline=True)
    return _written(document)


def add_limit(  # noqa: PLR0913 (a limit has as many parts)
    text: str, system: str, key: str, written: str, source: str, status: str
) -> str:
    """Return the text with one more limit, in the set of a rating system; one is made for it.

    Raises
    ------
    ReferenceDataError
        If the set has that limit already.
    """
    import tomlkit  # noqa: PLC0415 (needed for an edit alone)

    document = _document(text)
    sets: Any = document.get("ratings")
    if sets is None:
        document["ratings"] = sets = tomlkit.aot()
    places = [
        number
        for number, item in enumerate(sets)
        if item.get("system") == system and "service" not in item
    ]
    if not places:
        made = tomlkit.table()
        made.update({"system": system, "source": source, "status": status})
        sets.append(made)
        places = [len(sets) - 1]
    if key in sets[places[0]]:
        raise ReferenceDataError(f"the set {system!r} has a limit {key} already: change that one")
    sets[places[0]][key] = _value(written)
    return set_origin(_written(document), ("ratings", places[0]), key, source, status)


def remove(text: str, place: Place, key: str | None = None) -> str:
    """Return the text without a row, or without one limit; an empty table goes with it.

    Raises
    ------
    ReferenceDataError
        If there is no such place.
    """
    document = _document(text)
    if key is None:
        rows = _at(document, place[:-1])
        del rows[place[-1]]
        if not len(rows):
            _drop(document, place[:-2])
    else:
        table = _at(document, place)
        table.pop(key, None)
        if not set(table) - {"system", "service", "note", *_ORIGIN}:
            _drop(document, place)
    return _written(document)


def add_source(text: str, title: str, kind: str) -> tuple[str, str]:
    """Return the text with one more source, and the short name that it got.

    Raises
    ------
    ReferenceDataError
        If it has no title, or its kind is none.
    """
    import tomlkit  # noqa: PLC0415 (needed for an edit alone)

    if not title.strip():
        raise ReferenceDataError("a source needs its title: publication, edition, page or sheet")
    if kind not in SOURCE_KINDS:
        raise ReferenceDataError(f"a source's kind is one of {', '.join(SOURCE_KINDS)}")
    document = _document(text)
    if "sources" not in document:
        document["sources"] = tomlkit.table(is_super_table=True)
    sources: Any = document["sources"]
    number = 1
    while f"N{number}" in sources:
        number += 1
    made = tomlkit.table()
    made.update({"title": title.strip(), "kind": kind})
    sources[f"N{number}"] = made
    return _written(document), f"N{number}"


def place_of_refusal(message: str) -> tuple[Place, str] | None:
    """Return the place and key that a refusal of `typefile.parse_type` is about.

    None where it names none, as one of the TOML reader does.
    """
    _, *steps = message.partition(": ")[0].split(", ")
    if not steps or "not TOML" in message:
        return None
    place: list[str | int] = []
    for step in steps[:-1]:
        numbered = _NUMBERED.fullmatch(step)
        if numbered is None:
            place.append(step)
        elif numbered[1] == "row":
            place += ["rows", int(numbered[2]) - 1]
        else:
            place += [numbered[1], int(numbered[2]) - 1]
    return tuple(place), steps[-1]


def _document(text: str) -> TOMLDocument:
    import tomlkit  # noqa: PLC0415 (needed for an edit alone)
    from tomlkit.exceptions import TOMLKitError  # noqa: PLC0415

    try:
        return tomlkit.parse(text)
    except (TOMLKitError, RecursionError) as error:
        raise ReferenceDataError(f"not TOML ({error})") from error


def _written(document: TOMLDocument) -> str:
    return document.as_string()


def _at(document: TOMLDocument, place: Place) -> Any:
    here: Any = document
    try:
        for step in place:
            here = here[step]
    except (KeyError, IndexError, TypeError) as error:
        raise ReferenceDataError(f"the text has no {' '.join(map(str, place))}") from error
    return here


def _drop(document: TOMLDocument, place: Place) -> None:
    """Take a table away, and the list it stood in once that is empty."""
    above = _at(document, place[:-1])
    del above[place[-1]]
    if len(place) > 1 and not len(above):
        del _at(document, place[:-2])[place[-2]]


def _value(written: str) -> object:
    """Return what is written as TOML has it: a number where it is one, else a text."""
    if written == "true":
        return True
    if _NUMBER.fullmatch(written):
        return int(written)
    try:
        return float(written)
    except ValueError:
        return written


def _quoted(value: object) -> str:
    import tomlkit  # noqa: PLC0415 (needed for an edit alone)

    return tomlkit.item(value).as_string()
