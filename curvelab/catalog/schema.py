"""The tables of a lot file, as the steps that made each version out of the one before.

A step that has been released is never edited: a change of the tables is a new step at the
end. Times are ISO 8601 in UTC, numbers SI, money decimal text, an absent value NULL.
"""

from __future__ import annotations

__all__ = ["APPLICATION_ID", "STEPS", "TABLES", "VERSION"]

APPLICATION_ID = 0x63766C74  # "cvlt"; tells a lot file from any other SQLite file

_TUBES_AND_RESULTS = (
    """
    CREATE TABLE tube (
        id INTEGER PRIMARY KEY AUTOINCREMENT,
        serial TEXT NOT NULL,
        lot TEXT NOT NULL DEFAULT '',
        type_label TEXT,
        maker_mark TEXT,
        box TEXT,
        shelf TEXT,
        supplier TEXT,
        cost TEXT,
        price TEXT,
        return_by TEXT,
        note TEXT,
        UNIQUE (serial, lot)
    )
    """,
    """
    CREATE TABLE source (
        id INTEGER PRIMARY KEY AUTOINCREMENT,
        sha256 TEXT NOT NULL UNIQUE,
        name TEXT NOT NULL,
        content BLOB  -- zlib; NULL where a salvage could not save the bytes
    )
    """,
    """
    CREATE TABLE measurement (
        id INTEGER PRIMARY KEY AUTOINCREMENT,
        tube_id INTEGER NOT NULL REFERENCES tube (id),
        source_id INTEGER NOT NULL REFERENCES source (id),
        named TEXT NOT NULL,
        section TEXT,
        kind TEXT NOT NULL
    )
    """,
    "CREATE INDEX measurement_of_tube ON measurement (tube_id, section, kind)",
    "CREATE INDEX measurement_of_source ON measurement (source_id)",
    """
    CREATE TABLE characterisation (
        id INTEGER PRIMARY KEY AUTOINCREMENT,
        measurement_id INTEGER NOT NULL REFERENCES measurement (id),
        made_at TEXT NOT NULL,
        made_with TEXT NOT NULL,
        bench TEXT NOT NULL,
        verdict TEXT NOT NULL,
        findings TEXT NOT NULL,  -- code:severity, worst first, blanks between
        type_name TEXT,
        type_label TEXT,
        plate_voltage REAL,
        grid_voltage REAL,
        screen_voltage REAL,
        point_origin TEXT,
        plate_current REAL,
        plate_current_u95 REAL,
        plate_current_outcome TEXT NOT NULL,
        plate_current_reason TEXT,
        plate_current_of_bogey REAL,
        transconductance REAL,
        transconductance_u95 REAL,
        transconductance_outcome TEXT NOT NULL,
        transconductance_reason TEXT,
        transconductance_of_bogey REAL,
        plate_resistance REAL,
        plate_resistance_u95 REAL,
        plate_resistance_outcome TEXT NOT NULL,
        plate_resistance_reason TEXT,
        plate_resistance_of_bogey REAL,
        amplification_factor REAL,
        amplification_factor_u95 REAL,
        amplification_factor_outcome TEXT NOT NULL,
        amplification_factor_reason TEXT,
        amplification_factor_of_bogey REAL,
        family_deviation REAL,
        behaviour TEXT
    )
    """,
    "CREATE INDEX characterisation_of_measurement ON characterisation (measurement_id)",
    # What is large and not needed for a list stands apart, so that a list need not read it.
    """
    CREATE TABLE detail (
        id INTEGER PRIMARY KEY REFERENCES characterisation (id),
        settings BLOB NOT NULL,  -- zlib of JSON, as the document
        document BLOB NOT NULL,
        curves BLOB  -- curvelab.catalog.curve_codec
    )
    """,
)

_WORK_ON_THE_LOT = (
    """
    CREATE TABLE hand_test (
        id INTEGER PRIMARY KEY AUTOINCREMENT,
        tube_id INTEGER NOT NULL REFERENCES tube (id),
        made_at TEXT NOT NULL,
        section TEXT,
        heater_voltage REAL,
        heater_current REAL,
        warm_up REAL,
        heater_cathode_leakage REAL,
        heater_cathode_voltage REAL,
        shorts TEXT,
        tap_test TEXT,
        note TEXT,
        verdict TEXT NOT NULL,
        findings TEXT NOT NULL,
        document TEXT NOT NULL
    )
    """,
    "CREATE INDEX hand_test_of_tube ON hand_test (tube_id, section)",
    """
    CREATE TABLE overrule (
        id INTEGER PRIMARY KEY AUTOINCREMENT,
        tube_id INTEGER NOT NULL REFERENCES tube (id),
        made_at TEXT NOT NULL,
        verdict TEXT NOT NULL,
        reason TEXT NOT NULL,
        person TEXT NOT NULL,
        characterisations INTEGER NOT NULL,
        hand_tests INTEGER NOT NULL
    )
    """,
    "CREATE INDEX overrule_of_tube ON overrule (tube_id)",
    """
    CREATE TABLE tube_set (
        id INTEGER PRIMARY KEY AUTOINCREMENT,
        name TEXT NOT NULL UNIQUE,
        state TEXT NOT NULL,
        made_at TEXT NOT NULL,
        payload TEXT NOT NULL
    )
    """,
    """
    CREATE TABLE set_member (
        id INTEGER PRIMARY KEY AUTOINCREMENT,
        set_id INTEGER NOT NULL REFERENCES tube_set (id),
        tube_id INTEGER NOT NULL REFERENCES tube (id),
        spare INTEGER NOT NULL,
        released INTEGER NOT NULL DEFAULT 0
    )
    """,
    "CREATE UNIQUE INDEX one_set_at_a_time ON set_member (tube_id) WHERE NOT released",
    "CREATE INDEX member_of_set ON set_member (set_id)",
    """
    CREATE TABLE kept_record (
        id INTEGER PRIMARY KEY AUTOINCREMENT,
        kind TEXT NOT NULL,
        name TEXT NOT NULL,
        version INTEGER NOT NULL,
        made_at TEXT NOT NULL,
        payload TEXT NOT NULL,
        UNIQUE (kind, name, version)
    )
    """,
)

# What was changed for a test of the tube; NULL for usual readings, whose figures are the tube's.
_TESTS_UNDER_A_CHANGED_SET_UP = ("ALTER TABLE measurement ADD COLUMN set_up TEXT",)

STEPS: tuple[tuple[str, ...], ...] = (
    _TUBES_AND_RESULTS,
    _WORK_ON_THE_LOT,
    _TESTS_UNDER_A_CHANGED_SET_UP,
)
VERSION = len(STEPS)

# Every table, parents before children, with the table that each reference points to.
TABLES: dict[str, dict[str, str]] = {
    "tube": {},
    "source": {},
    "measurement": {"tube_id": "tube", "source_id": "source"},
    "characterisation": {"measurement_id": "measurement"},
    "detail": {"id": "characterisation"},
    "hand_test": {"tube_id": "tube"},
    "overrule": {"tube_id": "tube"},
    "tube_set": {},
    "set_member": {"set_id": "tube_set", "tube_id": "tube"},
    "kept_record": {},
}
