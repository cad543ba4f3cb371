"""Behaviour and refusal: making, opening and checking a lot file; two programs on one file."""

from __future__ import annotations

import sqlite3
import threading
from contextlib import closing

import pytest

from curvelab.catalog.kept import keep, kept_versions, newest_kept
from curvelab.catalog.listing import list_tubes
from curvelab.catalog.lot_file import create_lot, open_lot
from curvelab.catalog.migration import backup_path, bring_up
from curvelab.catalog.schema import STEPS, TABLES, VERSION
from curvelab.errors import CatalogDamagedError, CatalogError, CatalogVersionError
from helpers import lots


def serials(path) -> list[str]:
    with open_lot(path, write=False) as opened:
        return [tube.identity.serial for tube in list_tubes(opened)]


def test_a_new_file_is_one_file_and_holds_nothing(path):
    assert [item.name for item in path.parent.iterdir()] == ["spring.lot"]
    assert serials(path) == []


def test_nothing_is_left_beside_a_file_that_was_closed(path):
    with open_lot(path, write=True) as opened:
        lots.file_tube(opened, "A1")
    assert serials(path) == ["A1"]
    assert [item.name for item in path.parent.iterdir()] == ["spring.lot"]


def test_a_file_is_never_made_over_another(path, tmp_path):
    with pytest.raises(CatalogError, match="already"):
        create_lot(path)
    other = tmp_path / "notes.txt"
    other.write_text("mine")
    with pytest.raises(CatalogError, match="already"):
        create_lot(other)
    assert other.read_text() == "mine"


@pytest.mark.parametrize("write", [True, False])
def test_what_is_no_lot_file_is_refused(tmp_path, write):
    text = tmp_path / "a.csv"
    text.write_text("plate_v,grid_v\n" * 100)
    with pytest.raises(CatalogDamagedError, match="no lot file"):
        open_lot(text, write=write)
    database = tmp_path / "a.db"
    with closing(sqlite3.connect(database)) as connection:
        connection.execute("CREATE TABLE tube (id)")
    with pytest.raises(CatalogDamagedError, match="no lot file"):
        open_lot(database, write=write)
    with pytest.raises(CatalogError, match="no lot file of this name"):
        open_lot(tmp_path / "none.lot", write=write)
    with pytest.raises(CatalogError, match="no file"):
        open_lot(tmp_path, write=write)
    assert text.read_text().startswith("plate_v")


def test_a_newer_file_is_read_and_not_written(path):
    with open_lot(path, write=True) as opened:
        lots.file_tube(opened, "A1")
    with closing(sqlite3.connect(path)) as connection:
        connection.execute(f"PRAGMA user_version = {VERSION + 1}")
    before = path.read_bytes()
    with pytest.raises(CatalogVersionError, match="newer"):
        open_lot(path, write=True)
    with open_lot(path, write=False) as opened:
        assert opened.newer
        assert [tube.identity.serial for tube in list_tubes(opened)] == ["A1"]
        with pytest.raises(CatalogError, match="reading only"), opened.changing():
            pass
    assert path.read_bytes() == before


@pytest.mark.parametrize("write", [True, False])
def test_an_older_file_is_brought_up_with_a_copy_beside(tmp_path, write):
    path = tmp_path / "old.lot"
    lots.version_one(path)
    with open_lot(path, write=write) as opened:
        found = list_tubes(opened)
        version = opened.rows("PRAGMA user_version")[0][0]
    assert version == VERSION
    assert [tube.identity.serial for tube in found] == ["A1", "A2"]
    assert found[0].results[0].figures.constants.plate_current.value == pytest.approx(1.24e-3)
    with closing(sqlite3.connect(backup_path(path, 1))) as connection:
        assert connection.execute("PRAGMA user_version").fetchone() == (1,)
        assert connection.execute("SELECT count(*) FROM characterisation").fetchone() == (2,)


def test_a_step_that_fails_leaves_the_file_as_it_was(tmp_path):
    path = tmp_path / "old.lot"
    lots.version_one(path)
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        connection.execute("CREATE TABLE kept_record (id)")  # the last table of the second step
        with pytest.raises(sqlite3.OperationalError):
            bring_up(connection, path)
    with pytest.raises(CatalogVersionError, match="older"):
        open_lot(path, write=True)
    with closing(sqlite3.connect(path)) as connection:
        assert connection.execute("PRAGMA user_version").fetchone() == (1,)
        names = {row[0] for row in connection.execute("SELECT name FROM sqlite_master")}
    assert "hand_test" not in names


def test_every_table_is_known_to_what_copies_them():
    made = {word.split()[2] for step in STEPS for word in step if "CREATE TABLE" in word}
    assert made == set(TABLES)


def test_a_change_that_fails_is_undone(lot):
    with pytest.raises(ZeroDivisionError), lot.changing() as connection:
        connection.execute("INSERT INTO tube (serial) VALUES ('A1')")
        raise ZeroDivisionError
    assert list_tubes(lot) == ()
    lots.file_tube(lot, "A2")  # and the next one works
    assert len(list_tubes(lot)) == 1


def test_two_writers_at_once_lose_nothing(path):
    failures = []

    def write(name: str) -> None:
        try:
            with open_lot(path, write=True) as opened:
                for turn in range(20):
                    lots.file_tube(opened, f"{name}{turn}")
                    keep(opened, "bench-check", "", f'{{"by": "{name}"}}', lots.EARLY)
        except CatalogError as error:
            failures.append(error)

    threads = [threading.Thread(target=write, args=(name,)) for name in "ABC"]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert failures == []
    assert sorted(serials(path)) == sorted(f"{n}{turn}" for n in "ABC" for turn in range(20))
    with open_lot(path, write=False) as opened:
        versions = [record.version for record in kept_versions(opened, "bench-check")]
    assert versions == list(range(1, 61))


def test_a_reader_sees_one_state_while_another_writes(path):
    with open_lot(path, write=True) as writer, open_lot(path, write=False) as reader:
        lots.file_tube(writer, "A1")
        with reader.reading():
            first = reader.rows("SELECT count(*) FROM tube")[0][0]
            lots.file_tube(writer, "A2")
            assert reader.rows("SELECT count(*) FROM tube")[0][0] == first == 1
        assert len(list_tubes(reader)) == 2


def test_kept_records_come_in_versions(lot):
    assert newest_kept(lot, "grading-limits", "6SN7GTB") is None
    keep(lot, "grading-limits", "6SN7GTB", '{"low": 80}', lots.EARLY)
    keep(lot, "grading-limits", "6SN7GTB", '{"low": 85}', lots.LATER)
    keep(lot, "grading-limits", "12AX7", '{"low": 70}', lots.LATER)
    newest = newest_kept(lot, "grading-limits", "6SN7GTB")
    assert (newest.version, newest.payload, newest.made_at) == (2, '{"low": 85}', lots.LATER)
    assert len(kept_versions(lot, "grading-limits")) == 3
    with pytest.raises(ValueError, match="Expecting"):
        keep(lot, "correction", "", "not json", lots.EARLY)
