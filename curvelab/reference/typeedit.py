"""Changes to the text of a type file that leave everything else of it as it was written.

Places are those of `typeparts`.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from curvelab.errors import ReferenceDataError
from curvelab.reference.records import PublishedCurves
from curvelab.reference.table import SOURCE_KINDS
from curvelab.reference.typeparts import (
    ORIGIN,
    SOCKET_WORDS,
    TOP_LISTS,
    TOP_TEXTS,
    Place,
    document_of,
    listed_rows,
)

if TYPE_CHECKING:
    from tomlkit import TOMLDocument
    from tomlkit.items import InlineTable

__all__ = [
    "add_limit",
    "add_row",
    "add_source",
    "remove",
    "set_bogey",
    "set_curves",
    "set_origin",
    "set_socket",
    "set_value",
]

_LISTED = ("points", "pentode_points", "cutoffs")
_SAME_SCREEN = 0.5  # [V]
_NUMBER = re.compile(r"[+-]?\d+")
_WORDS = frozenset({*TOP_TEXTS, *SOCKET_WORDS, "arrangement", "system", "service"})


def set_value(text: str, place: Place, key: str, written: str) -> str:
    """Return the text with another value under a key; nothing written takes the key away.

    A value that brings its own source keeps it. Whether the value keeps the rules is for
    `typefile.parse_type` to say.

    Raises
    ------
    ReferenceDataError
        If there is no such place.
    """
    document = document_of(text)
    table = _at(document, place)
    written = written.strip()
    value: object = written if key in _WORDS else _value(written)
    if key in TOP_LISTS:
        value = [item.strip() for item in written.split(",") if item.strip()]
    if not written and key not in TOP_LISTS:
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
    document = document_of(text)
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

    document = document_of(text)
    table = _at(document, place)
    if key is None:
        above = _at(document, place[:-2])
        if (above.get("source"), above.get("status")) == (source, status):
            for name in ORIGIN:
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
    for row in listed_rows(document_of(text).unwrap(), str(place[0])):
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

    document = document_of(text)
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

    document = document_of(text)
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


def set_curves(
    text: str, curves: Sequence[PublishedCurves], source: str, status: str, accuracy: str
) -> str:
    """Return the text with published curves; they stand in the place of those at their screens.

    Parameters
    ----------
    source : str
        Short name of the publication that they were read off.
    accuracy : str
        How closely, in words.

    Raises
    ------
    ReferenceDataError
        If nothing says how closely they were read off.
    """
    import tomlkit  # noqa: PLC0415 (needed for an edit alone)

    if not accuracy.strip():
        raise ReferenceDataError("curves need words on how closely they could be read off")
    document = document_of(text)
    sets: Any = document.get("curves")
    if sets is None:
        document["curves"] = sets = tomlkit.aot()
    for item in curves:
        for number in reversed(range(len(sets))):
            old = sets[number].get("screen_v")
            if (old is None) == (item.screen_voltage is None) and (
                old is None or abs(old - item.screen_voltage) < _SAME_SCREEN
            ):
                del sets[number]
        table = tomlkit.table()
        table.update({"source": source, "status": status, "accuracy": accuracy.strip()})
        if item.screen_voltage is not None:
            table["screen_v"] = _short(item.screen_voltage)
        rows: Any = tomlkit.array()
        rows.extend(_curve_rows(item))
        rows.multiline(multiline=True)
        table["rows"] = rows
        sets.append(table)
    return _written(document)


def _curve_rows(curves: PublishedCurves) -> Iterator[InlineTable]:
    """Yield each curve as a row, from the least negative grid on."""
    import tomlkit  # noqa: PLC0415 (needed for an edit alone)

    grid = np.round(curves.grid_voltage, 3)
    for step in np.unique(grid)[::-1]:
        at = np.flatnonzero(grid == step)
        at = at[np.argsort(curves.plate_voltage[at], kind="stable")]
        row = tomlkit.inline_table()
        row["grid_v"] = _short(float(step))
        row["plate_v"] = [_short(value) for value in curves.plate_voltage[at].tolist()]
        row["plate_ma"] = [_short(1e3 * value) for value in curves.plate_current[at].tolist()]
        if curves.screen_current is not None and (curves.screen_current[at] > 0).all():
            row["screen_ma"] = [_short(1e3 * v) for v in curves.screen_current[at].tolist()]
        yield row


def _short(value: float) -> float | int:
    """Return a figure to five digits, as a whole number where it is one."""
    rounded = float(f"{value:.5g}")
    return int(rounded) if rounded.is_integer() else rounded


def remove(text: str, place: Place, key: str | None = None) -> str:
    """Return the text without a row, or without one limit; an empty table goes with it.

    Raises
    ------
    ReferenceDataError
        If there is no such place.
    """
    document = document_of(text)
    if place[0] == "curves":
        _drop(document, place)
    elif key is None:
        rows = _at(document, place[:-1])
        del rows[place[-1]]
        if not len(rows):
            _drop(document, place[:-2])
    else:
        table = _at(document, place)
        table.pop(key, None)
        if not set(table) - {"system", "service", "note", *ORIGIN}:
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
    document = document_of(text)
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
