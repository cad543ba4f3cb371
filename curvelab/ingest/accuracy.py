"""The bench that a file's metadata state: its name, and how accurate its meters are.

An accuracy is written as makers of meters write it, each meter after its name::

    # accuracy: plate current 0.5 % + 0.02 mA, resolution 0.01 mA; Vp 0.3 %; Vg 0.3 % + 10 mV

A share without a name holds for every meter, a bare current for the plate-current meter. A
statement with any other word in it ("about", "of full scale") is kept, but not counted with.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import replace

from curvelab.ingest.headings import Column, read_name
from curvelab.ingest.metadata import Key, value_of
from curvelab.ingest.numbers import read_number, shorten
from curvelab.ingest.units import dimension_of, find_unit, plain
from curvelab.sweep.bench import Bench, MeterAccuracy
from curvelab.sweep.records import Remark, RemarkCode

__all__ = ["read_bench"]

_METERS = {
    Column.PLATE_VOLTAGE: "plate_voltage",
    Column.GRID_VOLTAGE: "grid_voltage",
    Column.PLATE_CURRENT: "plate_current",
    Column.GRID_CURRENT: "grid_current",
}
_PARTS = re.compile(r"[;/]|,(?!\d)|\band\b")
_TERM = re.compile(r"(\d+(?:[.,]\d+)?)\s*(%|per\s*cent|[^\W\d_]+)?")
_LAST_DIGIT = re.compile(r"\b(?:resolution|last digit|lsd)\b", re.IGNORECASE)
# What may stand beside a meter's name and its figures; any other word makes the statement one
# that a person must read.
_PLAIN_WORDS = re.compile(
    r"\+/-|[±+:=()]|\b(?:of|the|reading|rdg|gain|offset|resolution|last digit|lsd|meter|"
    r"accuracy|error|limits?|within|plus|or minus|in)\b",
    re.IGNORECASE,
)
_LARGEST_SHARE = 0.5  # an error of half the reading is no accuracy


def read_bench(metadata: Mapping[str, str]) -> tuple[Bench | None, tuple[Remark, ...]]:
    """Return the bench that metadata describe, and a remark where its accuracy is not clear.

    A bench with a name but without an accuracy is one whose accuracy is not stated.
    """
    name, stated = value_of(metadata, Key.BENCH), value_of(metadata, "accuracy")
    meters: dict[str, MeterAccuracy] = {}
    if stated is not None:
        try:
            meters = _meters(plain(stated))
        except ValueError:
            meters = {}
    remarks: tuple[Remark, ...] = ()
    if stated is not None and not meters:
        text = f"accuracy: {shorten(stated)} is kept, but its value is not understood"
        remarks = (Remark(RemarkCode.METADATA, text),)
    if name is None and not meters:
        return None, remarks
    return Bench(name or "the bench of the file", assumed=not meters, **meters), remarks


def _meters(text: str) -> dict[str, MeterAccuracy]:
    """Return the accuracy of each meter that is named.

    Raises
    ------
    ValueError
        If any part of the text is not a meter with its figures.
    """
    found: dict[str, MeterAccuracy] = {}
    named: tuple[Column, ...] = ()
    for part in filter(None, map(str.strip, _PARTS.split(text.replace("+/-", "±")))):
        words = _PLAIN_WORDS.sub(" ", _TERM.sub(" ", part)).strip()
        if words:
            column = read_name(words)[0]
            if column is None or column not in _METERS:
                raise ValueError(part)
            named = (column,)
        fine = _LAST_DIGIT.search(part) is not None
        for meters, field, value in _terms(part, named, fine):
            for meter in meters:
                key = _METERS[meter]
                found[key] = replace(found.get(key, MeterAccuracy()), **{field: value})
    return found


def _terms(
    part: str, named: tuple[Column, ...], fine: bool
) -> Iterator[tuple[tuple[Column, ...], str, float]]:
    """Yield (meters, field, value in SI) of each figure of one part.

    Raises
    ------
    ValueError
        If a figure has no unit, or one that its meter does not read in.
    """
    for number, word in _TERM.findall(part):
        value = read_number(number.replace(",", "."))
        if value is None:
            raise ValueError(part)
        if word == "%" or word.startswith("per"):
            if value / 100 > _LARGEST_SHARE:
                raise ValueError(part)
            yield named or tuple(_METERS), "gain", value / 100
            continue
        unit = find_unit(word)
        meters = named or (Column.PLATE_CURRENT,)
        if unit is None or any(item.dimension is not dimension_of(unit) for item in meters):
            raise ValueError(part)
        yield meters, "resolution" if fine else "offset", unit.to_si(value)
