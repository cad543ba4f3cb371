"""One table of a type file, read with suspicion: every refusal names file, place and key."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from curvelab.errors import ReferenceDataError
from curvelab.reference.fields import Field
from curvelab.reference.records import Figure, Status, Words

__all__ = ["SOURCE_KINDS", "Origin", "Source", "Table", "finite_number"]

SOURCE_KINDS = ("memory", "page", "sheet scan", "sheet text")

_ORIGIN_KEYS = frozenset({"source", "status"})
_REFERENCE = frozenset({"source", "status", "value"})


@dataclass(frozen=True, slots=True)
class Source:
    """Where figures come from; of kind ``memory`` no page was seen."""

    title: str
    kind: str


@dataclass(frozen=True, slots=True)
class Origin:
    """The title and the status of a value."""

    title: str
    status: Status


def finite_number(value: object) -> float | None:
    """Return a TOML integer or float as float; None for anything else or not finite."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        return None
    try:
        number = float(value)
    except OverflowError:  # a TOML integer may have any number of digits
        return None
    return number if math.isfinite(number) else None


@dataclass(frozen=True, slots=True)
class Table:
    """The values of one table, where it stands, and the origin they have by default."""

    where: str
    values: Mapping[str, object]
    sources: Mapping[str, Source]
    origin: Origin | None = None

    def refusal(self, key: str, got: object, wanted: str) -> ReferenceDataError:
        """Return the error for a value that breaks a rule."""
        return ReferenceDataError(f"{self.where}, {key}: wanted {wanted}, got {got!r}")

    def allow(self, keys: Iterable[str]) -> None:
        """Refuse keys outside ``keys``; the origin's own are always allowed.

        Raises
        ------
        ReferenceDataError
        """
        known = set(keys)
        for key in self.values:
            if key not in known and key not in _ORIGIN_KEYS:
                raise self.refusal(key, "an unknown key", f"one of {', '.join(sorted(known))}")

    def with_origin(self) -> Table:
        """Return the table with the origin it states, or else the one it inherits.

        Raises
        ------
        ReferenceDataError
            If neither is there, the source is unknown, or a source never seen is verified.
        """
        if not _ORIGIN_KEYS & self.values.keys():
            self.default_origin("source")
            return self
        return replace(self, origin=self._read_origin("source", self.values))

    def _read_origin(self, key: str, values: Mapping[str, object]) -> Origin:
        name, status = values.get("source"), values.get("status")
        source = self.sources.get(name) if isinstance(name, str) else None
        if source is None:
            raise self.refusal(key, name, "a source of sources.toml")
        if status not in tuple(Status):
            raise self.refusal(key, status, f"a status, {' or '.join(Status)}")
        if source.kind == "memory" and status != Status.FROM_MEMORY:
            raise self.refusal(key, status, f"'from memory', as no page of {name} was seen")
        return Origin(source.title, Status(str(status)))

    def entry(self, key: str) -> tuple[object, Origin]:
        """Return a value and its origin: its own where it brings one, or the table's."""
        raw = self.values[key]
        if isinstance(raw, dict):
            if raw.keys() != _REFERENCE:
                raise self.refusal(key, sorted(raw), "value, source and status")
            return raw["value"], self._read_origin(key, raw)
        return raw, self.default_origin(key)

    def default_origin(self, key: str) -> Origin:
        """Return the table's origin, for the sake of ``key``.

        Raises
        ------
        ReferenceDataError
            If it has none.
        """
        if self.origin is None:
            raise self.refusal(key, self.values.get(key), "a value with source and status")
        return self.origin

    def in_bounds(self, key: str, raw: object, field: Field) -> float:
        """Return a number of this field in SI.

        Raises
        ------
        ReferenceDataError
            If it is no number or no sensible one.
        """
        number = finite_number(raw)
        if number is None or not field.low <= number <= field.high:
            unit = f" {field.unit.symbol}" if field.unit.symbol else ""
            raise self.refusal(key, raw, f"a number from {field.low:g} to {field.high:g}{unit}")
        return field.unit.to_si(number)

    def figure(self, key: str, field: Field) -> Figure:
        """Return the figure under ``key``, in SI."""
        raw, origin = self.entry(key)
        return Figure(self.in_bounds(key, raw, field), origin.title, origin.status)

    def figures(self, fields: Mapping[str, Field]) -> dict[str, Figure]:
        """Return every figure the table holds of these fields, by the fields' names."""
        return {
            field.name: self.figure(key, field)
            for key, field in fields.items()
            if key in self.values
        }

    def words(self, key: str) -> Words:
        """Return the statement under ``key``."""
        raw, origin = self.entry(key)
        return Words(self._plain_text(key, raw), origin.title, origin.status)

    def text(self, key: str, default: str | None = None) -> str:
        """Return a plain text that needs no source.

        Raises
        ------
        ReferenceDataError
            If there is none and no ``default``.
        """
        return self._plain_text(key, self.values.get(key, default))

    def _plain_text(self, key: str, raw: object) -> str:
        if not isinstance(raw, str) or not raw.strip():
            raise self.refusal(key, raw, "a text")
        return raw

    def texts(self, key: str) -> tuple[str, ...]:
        """Return a list of texts, empty where the key is missing."""
        raw = self.values.get(key, [])
        if not isinstance(raw, list):
            raise self.refusal(key, raw, "a list of texts")
        return tuple(self._plain_text(key, text) for text in raw)

    def table(self, key: str) -> Table | None:
        """Return the table under ``key``, with its origin; None where there is none."""
        raw = self.values.get(key)
        if raw is None:
            return None
        if not isinstance(raw, dict):
            raise self.refusal(key, raw, "a table")
        return Table(f"{self.where}, {key}", raw, self.sources).with_origin()

    def tables(self, key: str) -> tuple[Table, ...]:
        """Return the list of tables under ``key``, with their origins, in the file's order."""
        return tuple(
            Table(f"{self.where}, {key} {number}", raw, self.sources).with_origin()
            for number, raw in enumerate(self._list_of_tables(key), start=1)
        )

    def rows(self, *beside: str) -> tuple[Table, ...]:
        """Return the rows of a printed table; each inherits the table's origin.

        Keys named ``beside`` may stand with them.

        Raises
        ------
        ReferenceDataError
            If anything but rows stands beside the origin, or there is none.
        """
        self.allow(("rows", *beside))
        rows = self._list_of_tables("rows")
        if not rows:
            raise self.refusal("rows", None, "at least one row")
        return tuple(
            Table(f"{self.where}, row {number}", raw, self.sources, self.origin).with_origin()
            for number, raw in enumerate(rows, start=1)
        )

    def _list_of_tables(self, key: str) -> list[dict[str, object]]:
        raw = self.values.get(key, [])
        if not isinstance(raw, list) or not all(isinstance(item, dict) for item in raw):
            raise self.refusal(key, raw, "a list of tables")
        return raw
