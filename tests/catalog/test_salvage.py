"""Behaviour: a damaged lot file is told as one, and what can be read of it is saved."""

from __future__ import annotations

import shutil
import sqlite3
from contextlib import closing

import numpy as np
import pytest

from curvelab.catalog.kept import keep
from curvelab.catalog.listing import list_tubes, lot_content
from curvelab.catalog.lot_file import create_lot, open_lot
from curvelab.catalog.salvage import salvage
from curvelab.catalog.schema import TABLES, VERSION
from curvelab.errors import CatalogDamagedError, CatalogError, CatalogVersionError
from curvelab.sheets.results_reader import source_of_result
from helpers import lots

TUBES = 120


def text_of(number: int) -> str:
    """Return a file that does not pack well, so that several pages are needed."""
    return np.random.default_rng(number).bytes(300).hex()


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    path = tmp_path_factory.mktemp("made") / "spring.lot"
    create_lot(path)
    with open_lot(path, write=True) as opened:
        for number in range(TUBES):
            lots.file_tube(opened, f"A{number:03}", text_of(number))
        keep(opened, "bench-check", "", "{}", lots.EARLY)
    return path


@pytest.fixture
def full(made, tmp_path):
    return shutil.copy(made, tmp_path / "spring.lot")


def pages_of(path, table: str) -> list[int]:
    """Return the leaf pages of a table that hold its rows, by their numbers."""
    with closing(sqlite3.connect(path)) as connection:
        root = connection.execute(
            "SELECT rootpage FROM sqlite_master WHERE name = ?", (table,)
        ).fetchone()[0]
    content, size = path.read_bytes(), 4096
    leaf, inner = 13, 5  # of a table, in the file format of SQLite
    start = (root - 1) * size
    if content[start] == leaf:
        return [root]
    assert content[start] == inner
    count = int.from_bytes(content[start + 3 : start + 5])
    cells = [int.from_bytes(content[start + 12 + 2 * k : start + 14 + 2 * k]) for k in range(count)]
    return [int.from_bytes(content[start + cell : start + cell + 4]) for cell in cells]


def spoil(path, page: int) -> None:
    """Overwrite a page with noise, as a failing disk does."""
    noise = np.random.default_rng(4).bytes(4096)
    with path.open("r+b") as file:
        file.seek((page - 1) * 4096)
        file.write(noise)


def test_a_sound_file_loses_nothing(full, tmp_path):
    target = tmp_path / "saved.lot"
    saved = salvage(full, target, source_of_result)
    assert saved.lost == ()
    assert saved.kept["tube"] == saved.kept["detail"] == TUBES
    with open_lot(full, write=False) as old, open_lot(target, write=False) as new:
        before, after = lot_content(old), lot_content(new)
    assert [item.identity for item in before.tubes] == [item.identity for item in after.tubes]
    assert [s.content for s in before.sources] == [s.content for s in after.sources]
    assert before.kept == after.kept


@pytest.mark.parametrize("table", ["characterisation", "detail", "source"])
def test_one_bad_page_costs_the_rows_on_it_and_no_more(full, tmp_path, table):
    pages = pages_of(full, table)
    assert len(pages) > 2
    spoil(full, pages[1])
    with pytest.raises(CatalogDamagedError, match="salvage"):
        open_lot(full, write=True)
    before = full.read_bytes()
    target = tmp_path / "saved.lot"
    saved = salvage(full, target, source_of_result)
    assert full.read_bytes() == before
    assert saved.lost
    assert 0 < saved.kept[table] < TUBES or table == "source"
    with open_lot(target, write=True) as opened:
        tubes = list_tubes(opened)
        assert len(tubes) == TUBES
        tested = [tube for tube in tubes if tube.results]
        assert len(tested) == saved.kept["characterisation"] > TUBES // 2
        # What was lost of a file comes back with the file itself.
        for number in range(TUBES):
            lots.file_tube(opened, f"A{number:03}", text_of(number))
        assert all(source.content for source in lot_content(opened).sources)
        assert len(lot_content(opened).sources) == TUBES


def test_a_tube_whose_row_is_lost_keeps_its_name_and_its_tests(full, tmp_path):
    (page, *_) = pages_of(full, "tube")
    spoil(full, page)
    target = tmp_path / "saved.lot"
    saved = salvage(full, target, source_of_result)
    assert any("only its name A000" in sentence for sentence in saved.lost)
    with open_lot(target, write=False) as opened:
        tubes = list_tubes(opened)
    assert sorted(tube.identity.serial for tube in tubes) == [f"A{n:03}" for n in range(TUBES)]
    assert all(tube.results for tube in tubes)


def test_a_table_whose_end_is_not_known_is_said_in_a_sentence(full, tmp_path):
    (page, *_) = pages_of(full, "set_member")  # it was never written to, so that nothing counts it
    spoil(full, page)
    saved = salvage(full, tmp_path / "saved.lot", source_of_result)
    assert saved.lost == ("set member: its table is damaged; how many there were is not known",)
    assert saved.kept["tube"] == TUBES


def test_rows_that_follow_one_another_are_lost_in_one_sentence(full, tmp_path):
    spoil(full, pages_of(full, "tube")[0])
    saved = salvage(full, tmp_path / "saved.lot", source_of_result)
    assert f"tube 1 to {TUBES} cannot be read" in saved.lost


def test_bytes_that_were_changed_in_place_are_found_out(full, tmp_path):
    with closing(sqlite3.connect(full)) as connection, connection:
        connection.execute("UPDATE source SET content = x'00' WHERE id = 7")
        connection.execute("UPDATE detail SET document = x'00' WHERE id = 9")
        connection.execute("UPDATE detail SET curves = x'00' WHERE id = 11")
    saved = salvage(full, tmp_path / "saved.lot", source_of_result)
    told = " | ".join(saved.lost)
    assert "characterisation 9 has lost its document" in told
    assert "the curves of characterisation 11" in told
    assert len(saved.lost) == 3


def test_what_cannot_be_salvaged_is_said(full, tmp_path):
    target = tmp_path / "saved.lot"
    with pytest.raises(CatalogError, match="already"):
        salvage(full, full, source_of_result)
    with closing(sqlite3.connect(full)) as connection:
        connection.execute(f"PRAGMA user_version = {VERSION + 1}")
    with pytest.raises(CatalogVersionError):
        salvage(full, target, source_of_result)
    spoil(full, 1)
    with pytest.raises(CatalogDamagedError):
        salvage(full, target, source_of_result)
    with pytest.raises(CatalogError, match="no file"):
        salvage(tmp_path / "none.lot", target, source_of_result)
    assert not target.exists()


def test_a_file_of_the_first_form_can_be_salvaged(tmp_path):
    old, target = tmp_path / "old.lot", tmp_path / "saved.lot"
    lots.version_one(old)
    saved = salvage(old, target, source_of_result)
    assert (saved.kept["tube"], saved.lost) == (2, ())
    assert set(saved.kept) == set(TABLES)


def test_a_salvage_never_overwrites(full, tmp_path):
    target = tmp_path / "mine.lot"
    create_lot(target)
    before = target.read_bytes()
    with pytest.raises(CatalogError, match="already"):
        salvage(full, target, source_of_result)
    assert target.read_bytes() == before
