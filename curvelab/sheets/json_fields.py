"""Reading plain JSON values with the type a schema gives them."""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Mapping
from datetime import date, datetime
from decimal import Decimal, InvalidOperation
from typing import Any, TypeVar

from curvelab.errors import DocumentError

__all__ = ["Fields", "parsed"]

Value = TypeVar("Value")


def parsed(text: str) -> Fields:
    """Return the fields of a JSON text.

    Raises
    ------
    DocumentError
        If it is not JSON, or no object.
    """
    try:
        return Fields(json.loads(text), "")
    except (ValueError, RecursionError) as error:
        raise DocumentError(f"this is no JSON document ({error})") from error


class Fields:
    """An object of a JSON document; every look-up checks what it finds.

    Parameters
    ----------
    values : object
        The object as parsed.
    where : str
        JSON pointer to it, for messages.

    Raises
    ------
    DocumentError
        If it is no object, or a value has another type than was asked for.
    """

    def __init__(self, values: object, where: str) -> None:
        if not isinstance(values, dict):
            raise DocumentError(f"{where or '/'} is no JSON object")
        self.values: Mapping[str, Any] = values
        self.where = where

    def text(self, key: str) -> str:
        """Return a text that must be there."""
        return self._typed(key, str, "a text")

    def words(self, key: str) -> str | None:
        """Return a text, or None."""
        return None if self.values.get(key) is None else self.text(key)

    def number(self, key: str, unit: float = 1.0) -> float | None:
        """Return a number counted in ``unit`` as SI, or None."""
        value = self.values.get(key)
        if value is None:
            return None
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise self._wrong(key, "a number")
        if not math.isfinite(value):
            raise self._wrong(key, "a finite number")
        return float(value) * unit

    def whole(self, key: str) -> int:
        """Return a whole number that must be there."""
        return self._typed(key, int, "a whole number")

    def flag(self, key: str) -> bool:
        """Return a truth value that must be there."""
        return self._typed(key, bool, "true or false")

    def moment(self, key: str) -> datetime:
        """Return a time that must be there."""
        return self._made(key, datetime.fromisoformat, "an ISO 8601 time")

    def day(self, key: str) -> date | None:
        """Return a date, or None."""
        return None if self.words(key) is None else self._made(key, date.fromisoformat, "a date")

    def money(self, key: str) -> Decimal | None:
        """Return an amount, or None."""
        return None if self.words(key) is None else self._made(key, _amount, "an amount")

    def word_of(self, key: str, kind: Callable[[str], Value]) -> Value:
        """Return a word of an enumeration that must be there."""
        return self._made(key, kind, "a word of this schema")

    def table(self, key: str) -> Fields:
        """Return an object that must be there."""
        return Fields(self.values.get(key), f"{self.where}/{key}")

    def tables(self, key: str) -> tuple[Fields, ...]:
        """Return the objects of a list that must be there."""
        return tuple(
            Fields(item, f"{self.where}/{key}/{place}")
            for place, item in enumerate(self._typed(key, list, "a list"))
        )

    def json(self, key: str) -> str:
        """Return any value that must be there, as JSON text."""
        if key not in self.values:
            raise self._wrong(key, "there")
        try:
            return json.dumps(self.values[key], allow_nan=False, ensure_ascii=False)
        except ValueError as error:
            raise self._wrong(key, "strict JSON") from error

    def _made(self, key: str, maker: Callable[[str], Value], wanted: str) -> Value:
        try:
            return maker(self.text(key))
        except (ValueError, InvalidOperation) as error:
            if isinstance(error, DocumentError):
                raise
            raise self._wrong(key, wanted) from error

    def _typed(self, key: str, kind: type[Value], wanted: str) -> Value:
        value = self.values.get(key)
        if not isinstance(value, kind) or (kind is int and isinstance(value, bool)):
            raise self._wrong(key, wanted)
        return value

    def _wrong(self, key: str, wanted: str) -> DocumentError:
        return DocumentError(f"{self.where}/{key} is not {wanted}")


def _amount(text: str) -> Decimal:
    value = Decimal(text)
    if not value.is_finite():
        raise ValueError(text)
    return value
