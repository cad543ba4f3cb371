"""Lot files for the tests: invented tubes of a hand-made assessment, real SQLite files."""

from __future__ import annotations

import hashlib
import sqlite3
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

from curvelab.assessment.assess import Settings
from curvelab.assessment.records import Assessment
from curvelab.catalog.lot_file import LotFile
from curvelab.catalog.records import Measurement, TubeIdentity
from curvelab.catalog.results import (
    FiledResults,
    file_results,
    insert_measurement,
    insert_source,
)
from curvelab.catalog.schema import APPLICATION_ID, STEPS
from curvelab.catalog.tubes import take_in_tube
from curvelab.fitting.hull import convex_hull
from curvelab.sweep.records import SourceFile
from curvelab.workbench.characterize import Request
from curvelab.workbench.lot_records import measurement_of, settings_text
from helpers import assessments

__all__ = ["EARLY", "LATER", "file_tube", "measured", "source", "swept", "version_one"]

EARLY = datetime(2031, 3, 1, 9, 30, tzinfo=UTC)
LATER = datetime(2031, 9, 12, 16, 5, 7, tzinfo=UTC)


def source(text: str) -> SourceFile:
    """Return a file of this content."""
    content = text.encode()
    return SourceFile("a.csv", "bench/a.csv", hashlib.sha256(content).hexdigest(), content)


def swept(serial: str, text: str, section: str | None = None, **changes: object) -> Assessment:
    """Return an assessment of a tube whose file holds ``text``, with a hull for its curves."""
    made = assessments.healthy(**changes)
    sweep = replace(made.sweep, tube=serial, section=section, source=source(text))
    readings = sweep.readings
    hull = convex_hull(readings.plate_voltage, readings.grid_voltage)
    fit = made.fit if made.fit.family is None else replace(made.fit, hull=hull)
    return replace(made, sweep=sweep, fit=fit)


def measured(assessment: Assessment, made_at: datetime = EARLY) -> Measurement:
    """Return what a lot file keeps of an assessment."""
    return measurement_of(assessment, settings_text(Settings(), Request(())), made_at)


def file_tube(
    opened: LotFile,
    serial: str,
    text: str = "",
    *,
    lot: str = "",
    section: str | None = None,
    made_at: datetime = EARLY,
    **changes: object,
) -> FiledResults:
    """File one sweep of a tube; its file holds ``text``, or the serial where none is given."""
    assessment = swept(serial, text or serial, section, **changes)
    identity = TubeIdentity(serial, lot, type_label=assessment.sweep.type_label)
    item = (identity, measured(assessment, made_at))
    return file_results(opened, assessment.sweep.source, [item])


def version_one(path: Path, serials: tuple[str, ...] = ("A1", "A2")) -> None:
    """Make a lot file of the first form, as the program of that time did."""
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        connection.row_factory = sqlite3.Row
        connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        connection.execute("PRAGMA journal_mode = WAL")
        connection.execute("BEGIN")
        for statement in STEPS[0]:
            connection.execute(statement)
        connection.execute("PRAGMA user_version = 1")
        for serial in serials:
            assessment = swept(serial, serial)
            tube, _ = take_in_tube(connection, TubeIdentity(serial), None)
            file = insert_source(connection, assessment.sweep.source)
            assert file is not None
            insert_measurement(connection, tube, file, measured(assessment))
        connection.execute("COMMIT")
