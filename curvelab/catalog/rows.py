"""Rows of the lot file from records, and records from rows."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Mapping
from dataclasses import fields
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from curvelab.assessment.records import OperatingPoint
from curvelab.catalog.records import Figures, FindingMark, HandTest, Overrule, TubeIdentity
from curvelab.fitting.records import Constant, Constants, Outcome
from curvelab.health.records import Verdict
from curvelab.sweep.records import Conditions

__all__ = [
    "figures_columns",
    "figures_of",
    "hand_test_columns",
    "hand_test_of",
    "identity_columns",
    "identity_of",
    "insert",
    "overrule_columns",
    "overrule_of",
]

Columns = dict[str, object]

_IDENTITY = tuple(item.name for item in fields(TubeIdentity))
_CONSTANTS = tuple(item.name for item in fields(Constants))
_BY_HAND = (
    "heater_voltage",
    "heater_current",
    "warm_up",
    "heater_cathode_leakage",
    "heater_cathode_voltage",
    "shorts",
    "tap_test",
)


def insert(connection: sqlite3.Connection, table: str, columns: Mapping[str, object]) -> int:
    """Add a row and return its id; names of table and columns are the program's own."""
    names, places = ", ".join(columns), ", ".join("?" * len(columns))
    cursor = connection.execute(
        f"INSERT INTO {table} ({names}) VALUES ({places})", tuple(columns.values())
    )
    return int(cursor.lastrowid or 0)


def identity_columns(identity: TubeIdentity) -> Columns:
    """Return the columns of a tube."""
    columns: Columns = {name: getattr(identity, name) for name in _IDENTITY}
    for name in ("cost", "price", "return_by"):
        value = columns[name]
        columns[name] = None if value is None else str(value)
    return columns


def identity_of(row: sqlite3.Row) -> TubeIdentity:
    """Return which tube a row is."""
    values: dict[str, Any] = {name: row[name] for name in _IDENTITY}
    for name, kind in (("cost", Decimal), ("price", Decimal), ("return_by", date.fromisoformat)):
        values[name] = None if values[name] is None else kind(values[name])
    return TubeIdentity(**values)


def figures_columns(figures: Figures) -> Columns:
    """Return the columns of a characterisation that its figures fill."""
    point = figures.operating_point
    columns: Columns = {
        "verdict": figures.verdict.value,
        "findings": _marks_text(figures.findings),
        "type_name": figures.type_name,
        "type_label": figures.type_label,
        "plate_voltage": point.plate_voltage if point else None,
        "grid_voltage": point.grid_voltage if point else None,
        "screen_voltage": point.screen_voltage if point else None,
        "point_origin": point.origin if point else None,
        "family_deviation": figures.family_deviation,
        "behaviour": figures.behaviour,
    }
    for name in _CONSTANTS:
        constant: Constant = getattr(figures.constants, name)
        columns[name] = constant.value
        columns[f"{name}_u95"] = constant.u95
        columns[f"{name}_outcome"] = constant.outcome.value
        columns[f"{name}_reason"] = constant.reason
        columns[f"{name}_of_bogey"] = figures.of_bogey.get(name)
    return columns


def figures_of(row: sqlite3.Row) -> Figures:
    """Return the figures of a row of ``characterisation``."""
    point = None
    if row["point_origin"] is not None:
        point = OperatingPoint(
            row["plate_voltage"], row["grid_voltage"], row["screen_voltage"], row["point_origin"]
        )
    bogey = {name: row[f"{name}_of_bogey"] for name in _CONSTANTS}
    return Figures(
        type_name=row["type_name"],
        type_label=row["type_label"],
        operating_point=point,
        constants=Constants(*(_constant(row, name) for name in _CONSTANTS)),
        of_bogey={name: share for name, share in bogey.items() if share is not None},
        family_deviation=row["family_deviation"],
        findings=_marks_of(row["findings"]),
        verdict=Verdict(row["verdict"]),
        behaviour=row["behaviour"],
    )


def hand_test_columns(test: HandTest) -> Columns:
    """Return the columns of a hand test."""
    return {
        "made_at": test.made_at.isoformat(),
        "section": test.section,
        **{name: getattr(test.conditions, name) for name in _BY_HAND},
        "note": test.note,
        "verdict": test.verdict.value,
        "findings": _marks_text(test.findings),
        "document": test.document,
    }


def hand_test_of(row: sqlite3.Row) -> HandTest:
    """Return the hand test of a row."""
    return HandTest(
        made_at=datetime.fromisoformat(row["made_at"]),
        section=row["section"],
        conditions=Conditions(**{name: row[name] for name in _BY_HAND}),
        note=row["note"],
        findings=_marks_of(row["findings"]),
        verdict=Verdict(row["verdict"]),
        document=row["document"],
    )


def overrule_columns(overrule: Overrule) -> Columns:
    """Return the columns of an overruled verdict."""
    return {
        "made_at": overrule.made_at.isoformat(),
        "verdict": overrule.verdict.value,
        "reason": overrule.reason,
        "person": overrule.person,
        "characterisations": overrule.characterisations,
        "hand_tests": overrule.hand_tests,
    }


def overrule_of(row: sqlite3.Row) -> Overrule:
    """Return the overruled verdict of a row."""
    return Overrule(
        made_at=datetime.fromisoformat(row["made_at"]),
        verdict=Verdict(row["verdict"]),
        reason=row["reason"],
        person=row["person"],
        characterisations=row["characterisations"],
        hand_tests=row["hand_tests"],
    )


def _constant(row: sqlite3.Row, name: str) -> Constant:
    return Constant(
        value=row[name],
        u95=row[f"{name}_u95"],
        outcome=Outcome(row[f"{name}_outcome"]),
        reason=row[f"{name}_reason"],
    )


def _marks_text(marks: Iterable[FindingMark]) -> str:
    return " ".join(f"{mark.code}:{mark.severity}" for mark in marks)


def _marks_of(text: str) -> tuple[FindingMark, ...]:
    pairs = (token.partition(":") for token in text.split())
    return tuple(FindingMark(code, severity) for code, _, severity in pairs)
