"""Use cases: the bench check of a lot file, its history, and the corrections in force.

A check is kept under its bench. A correction is suggested by a check; in force it is only once
a person has accepted it by name, for whatever is measured on that bench from then on, until
one is withdrawn.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from curvelab.bench_check.correction import AcceptedCorrection
from curvelab.bench_check.records import GoldenReading, Standing
from curvelab.bench_check.verdict import BenchCheck
from curvelab.catalog.kept import keep_all, kept_versions
from curvelab.catalog.lot_file import LotFile, open_lot
from curvelab.errors import BenchCheckError
from curvelab.sheets.bench_check_json import bench_check_document
from curvelab.sheets.bench_records import (
    correction_from_record,
    correction_record,
    reading_from_record,
)
from curvelab.sweep.bench import UNSTATED_BENCH
from curvelab.workbench.bench_check import CheckRequest, CheckResult, check_bench
from curvelab.workbench.bench_file import load_description
from curvelab.workbench.characterize import Progress, ShouldStop

__all__ = [
    "Decided",
    "KeptCheck",
    "accept_last",
    "bench_name",
    "check_for_lot",
    "corrections_in_force",
    "corrections_of_lot",
    "golden_history",
    "refuse_last",
    "withdraw",
]

_CHECK, _CORRECTION, _REFUSAL = "bench-check", "correction", "refusal"


@dataclass(frozen=True, slots=True)
class Decided:
    """What persons decide with a check, by their names.

    Attributes
    ----------
    accept_by : str or None
        Who accepts the corrections that it suggests.
    anew_by : str or None
        Who lets the golden tubes' history start with it.
    """

    accept_by: str | None = None
    anew_by: str | None = None


@dataclass(frozen=True, slots=True, eq=False)
class KeptCheck:
    """A check as it was kept.

    Attributes
    ----------
    document : dict
        What the lot file keeps, schema ``curvelab.bench-check/1``.
    accepted : tuple of AcceptedCorrection
        What a person accepted with it.
    """

    result: CheckResult
    document: dict[str, Any]
    accepted: tuple[AcceptedCorrection, ...]


def check_for_lot(
    path: Path,
    request: CheckRequest,
    decided: Decided = Decided(),
    progress: Progress | None = None,
    should_stop: ShouldStop | None = None,
) -> KeptCheck:
    """Judge the bench by the history in a lot file, through the corrections in force, and keep it.

    Parameters
    ----------
    request : CheckRequest
        Its history and corrections are taken from the lot file.
    decided : Decided
        What a person decides with it.

    Raises
    ------
    CatalogError
        If the file cannot be read or changed.
    BenchCheckError
        As `curvelab.workbench.bench_check.check_bench`, or if it is stopped, a name is empty
        or what the file keeps cannot be read.
    """
    accept_by, anew_by = decided.accept_by, decided.anew_by
    for name in (accept_by, anew_by):
        _require_name(name)
    bench = bench_name(request.bench)
    with open_lot(path, write=True) as opened:
        in_force = _in_force(opened, bench)
        asked = replace(request, history=golden_history(opened), corrections=in_force)
        result = check_bench(asked, progress, should_stop)
        if should_stop is not None and should_stop():
            raise BenchCheckError("stopped before it was done; nothing of the check is kept")
        if anew_by is not None:
            result = replace(result, check=_started_anew(result.check))
        accepted: tuple[AcceptedCorrection, ...] = ()
        if accept_by is not None:
            accepted = tuple(
                AcceptedCorrection(item, accept_by.strip(), request.date)
                for item in result.check.suggestions
            )
        document = {
            **bench_check_document(result.check),
            "in_force": [correction_record(item) for item in in_force],
            "accepted": [correction_record(item) for item in accepted],
            "started_anew_by": anew_by,
        }
        keep_all(
            opened,
            [(_CHECK, bench, _text(document)), *(_kept_correction(one) for one in accepted)],
            datetime.now(UTC),
        )
    return KeptCheck(result, document, accepted)


def accept_last(path: Path, bench: Path | None, by: str) -> tuple[AcceptedCorrection, ...]:
    """Accept what the bench's last check suggested.

    Raises
    ------
    CatalogError
        If the file cannot be read or changed.
    BenchCheckError
        If there is no check of the bench, or it suggested nothing that is not in force.
    """
    _require_name(by)
    name, now = bench_name(bench), datetime.now(UTC)
    with open_lot(path, write=True) as opened:
        checks = kept_versions(opened, _CHECK, name)
        if not checks:
            raise BenchCheckError(f"{path}: no check of {name!r} is kept there")
        taken = {item.correction.meter for item in _in_force(opened, name)}
        suggested = _entries(json.loads(checks[-1].payload), "suggestions")
        on = now.isoformat(timespec="seconds")
        accepted = tuple(
            correction_from_record({**entry, "accepted_by": by.strip(), "accepted_on": on})
            for entry in suggested
            if entry.get("meter") not in taken
        )
        if not accepted:
            raise BenchCheckError(
                f"{path}: the last check of {name!r} suggests no correction that is not in force"
            )
        keep_all(opened, [_kept_correction(item) for item in accepted], now)
    return accepted


def refuse_last(path: Path, bench: Path | None, by: str, note: str) -> tuple[str, ...]:
    """Keep that a person does not accept what the bench's last check suggested, and why.

    Returns
    -------
    tuple of str
        What was refused, in words.

    Raises
    ------
    CatalogError
        If the file cannot be read or changed.
    BenchCheckError
        If there is no check of the bench, or it suggested nothing.
    """
    _require_name(by)
    name, now = bench_name(bench), datetime.now(UTC)
    with open_lot(path, write=True) as opened:
        checks = kept_versions(opened, _CHECK, name)
        suggested = _entries(json.loads(checks[-1].payload), "suggestions") if checks else ()
        if not suggested:
            raise BenchCheckError(f"{path}: the last check of {name!r} suggests no correction")
        refusal = {
            "refused_by": by.strip(),
            "refused_on": now.isoformat(timespec="seconds"),
            "note": note.strip(),
        }
        records = [
            (_REFUSAL, f"{name}: {entry.get('meter')}", _text({**entry, **refusal}))
            for entry in suggested
        ]
        keep_all(opened, records, now)
    return tuple(str(entry.get("words")) for entry in suggested)


def corrections_of_lot(path: Path, bench: Path | None) -> tuple[AcceptedCorrection, ...]:
    """Return the corrections of a bench that are in force in a lot file.

    Raises
    ------
    CatalogError
        If the file cannot be read.
    BenchCheckError, BenchDescriptionError
        As `corrections_in_force`.
    """
    with open_lot(path, write=False) as opened:
        return corrections_in_force(opened, bench)


def withdraw(path: Path, bench: Path | None, by: str) -> tuple[AcceptedCorrection, ...]:
    """Put the corrections of a bench out of force; the tubes filed with them stay as they are.

    Raises
    ------
    CatalogError
        If the file cannot be read or changed.
    BenchCheckError
        If none is in force.
    """
    _require_name(by)
    name, now = bench_name(bench), datetime.now(UTC)
    with open_lot(path, write=True) as opened:
        in_force = _in_force(opened, name)
        if not in_force:
            raise BenchCheckError(f"{path}: no correction of {name!r} is in force")
        on = now.isoformat(timespec="seconds")
        keep_all(opened, [_kept_correction(item, by.strip(), on) for item in in_force], now)
    return in_force


def corrections_in_force(opened: LotFile, bench: Path | None) -> tuple[AcceptedCorrection, ...]:
    """Return the accepted corrections of a bench that nobody has withdrawn.

    Raises
    ------
    BenchCheckError
        If what the file keeps cannot be read.
    BenchDescriptionError
        If the bench description cannot be read.
    """
    return _in_force(opened, bench_name(bench))


def bench_name(bench: Path | None) -> str:
    """Return the name of the bench that a description states."""
    return UNSTATED_BENCH.name if bench is None else load_description(bench).bench.name


def _in_force(opened: LotFile, bench: str) -> tuple[AcceptedCorrection, ...]:
    newest: dict[str, Mapping[str, Any]] = {}
    for record in kept_versions(opened, _CORRECTION):
        entry = json.loads(record.payload)
        if isinstance(entry, dict) and entry.get("bench") == bench:
            newest[str(entry.get("meter"))] = entry
    return tuple(
        correction_from_record(entry)
        for entry in newest.values()
        if entry.get("withdrawn_by") is None
    )


def golden_history(opened: LotFile) -> tuple[GoldenReading, ...]:
    """Return the golden readings of every check; of one sweep checked twice the last counts."""
    found: dict[tuple[str, str, str | None], GoldenReading] = {}
    for record in kept_versions(opened, _CHECK):
        golden = json.loads(record.payload).get("golden")
        for entry in _entries(golden, "readings"):
            reading = reading_from_record(entry)
            found[reading.sha256, reading.tube, reading.section] = reading
    return tuple(found.values())


def _entries(table: object, key: str) -> Sequence[Mapping[str, Any]]:
    held = table.get(key) if isinstance(table, dict) else None
    return [entry for entry in held if isinstance(entry, dict)] if isinstance(held, list) else []


def _started_anew(check: BenchCheck) -> BenchCheck:
    if check.golden is None:
        raise BenchCheckError("a history starts anew with golden tubes, and none was measured")
    readings = tuple(
        replace(reading, standing=Standing.STARTS_ANEW) for reading in check.golden.readings
    )
    return replace(check, golden=replace(check.golden, readings=readings))


def _kept_correction(
    item: AcceptedCorrection, withdrawn_by: str | None = None, withdrawn_on: str | None = None
) -> tuple[str, str, str]:
    correction = item.correction
    record = {
        **correction_record(item),
        "withdrawn_by": withdrawn_by,
        "withdrawn_on": withdrawn_on,
    }
    return _CORRECTION, f"{correction.bench}: {correction.meter}", _text(record)


def _require_name(name: str | None) -> None:
    if name is not None and not name.strip():
        raise BenchCheckError("a person decides this, by name")


def _text(record: Mapping[str, Any]) -> str:
    return json.dumps(record, allow_nan=False, ensure_ascii=False)
