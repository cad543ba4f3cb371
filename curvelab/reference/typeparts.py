"""What the text of a type file holds, place by place, for whoever shows or changes it.

A place is where a table or row stands, such as ``("ratings", 0)`` or ``("points", 0, "rows", 1)``.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from curvelab.errors import ReferenceDataError

if TYPE_CHECKING:
    from tomlkit import TOMLDocument

__all__ = [
    "ORIGIN",
    "SOCKET_WORDS",
    "TOP_LISTS",
    "TOP_TEXTS",
    "Place",
    "Row",
    "TypeParts",
    "document_of",
    "listed_rows",
    "parts_of",
    "place_of_refusal",
]

Place = tuple[str | int, ...]

ORIGIN = ("source", "status")
TOP_TEXTS, TOP_LISTS = ("name", "kind", "cathode"), ("aliases", "near")
SOCKET_WORDS = ("base", "basing_code")
_NUMBERED = re.compile(r"(\w+) (\d+)")


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
    curves : tuple of Row
        ``readings``, ``screen`` and ``accuracy`` of each set of published curves.
    sources : mapping of str to str
        The file's own sources: title by short name.
    """

    texts: Mapping[str, str]
    heaters: tuple[Row, ...]
    limits: tuple[Row, ...]
    points: tuple[Row, ...]
    pentode_points: tuple[Row, ...]
    curves: tuple[Row, ...]
    sources: Mapping[str, str]


def parts_of(text: str) -> TypeParts:
    """Return what a form can show of the text of a type file.

    Raises
    ------
    ReferenceDataError
        If the text is no TOML, or holds something else where a table is wanted.
    """
    content = document_of(text).unwrap()
    try:
        socket = content.get("socket", {})
        texts = {key: str(content.get(key, "")) for key in TOP_TEXTS}
        texts |= {key: ", ".join(map(str, content.get(key, []))) for key in TOP_LISTS}
        texts |= {key: _shown(socket.get(key, "")) for key in SOCKET_WORDS}
        heater = content.get("heater")
        return TypeParts(
            texts=texts,
            heaters=() if heater is None else tuple(_rows(heater, ("heater",))),
            limits=tuple(_limits(content)),
            points=tuple(listed_rows(content, "points")),
            pentode_points=tuple(listed_rows(content, "pentode_points")),
            curves=tuple(_curves(content)),
            sources={
                name: str(source.get("title", ""))
                for name, source in content.get("sources", {}).items()
            },
        )
    except (AttributeError, TypeError) as error:
        raise ReferenceDataError(
            f"the text does not have the tables of a type file: {error}"
        ) from error


def listed_rows(content: Mapping[str, Any], key: str) -> Iterator[Row]:
    """Yield the rows of a list of tables."""
    for number, table in enumerate(content.get(key, [])):
        yield from _rows(table, (key, number))


def _rows(table: Mapping[str, Any], at: Place) -> Iterator[Row]:
    for number, row in enumerate(table.get("rows", [])):
        origin = {key: str(row.get(key, table.get(key, ""))) for key in ORIGIN}
        values = {key: _shown(value) for key, value in row.items() if key not in ORIGIN}
        yield Row((*at, "rows", number), values, **origin)


def _curves(content: Mapping[str, Any]) -> Iterator[Row]:
    for number, table in enumerate(content.get("curves", [])):
        values = {
            "readings": str(sum(len(row.get("plate_v", [])) for row in table.get("rows", []))),
            "screen": _shown(table.get("screen_v", "")),
            "accuracy": str(table.get("accuracy", "")),
        }
        origin = {key: str(table.get(key, "")) for key in ORIGIN}
        yield Row(("curves", number), values, **origin)


def _limits(content: Mapping[str, Any]) -> Iterator[Row]:
    beside = {"system", "service", "note", *ORIGIN}
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
            origin = {name: str(own.get(name, "")) for name in ORIGIN}
            yield Row(("ratings", number), values, **origin)


def _shown(value: object) -> str:
    if isinstance(value, dict):
        value = value.get("value", "")
    if isinstance(value, bool):
        return "true" if value else ""
    return f"{value}"


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


def document_of(text: str) -> TOMLDocument:
    """Return a text as TOML whose changes leave the rest of it alone.

    Raises
    ------
    ReferenceDataError
        If it is no TOML.
    """
    import tomlkit  # noqa: PLC0415 (needed for an edit alone)
    from tomlkit.exceptions import TOMLKitError  # noqa: PLC0415

    try:
        return tomlkit.parse(text)
    except (TOMLKitError, RecursionError) as error:
        raise ReferenceDataError(f"not TOML ({error})") from error
