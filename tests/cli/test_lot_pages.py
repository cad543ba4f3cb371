"""Behaviour: what the pages say of lot files is what the commands do."""

from __future__ import annotations

import re
import shlex
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from helpers.boxes_of_tubes import sweep_again, write_box, write_check, write_table
from helpers.checkout import ROOT
from helpers.lot_commands import as_json, copy_of, lot
from helpers.pdf_pages import needs_poppler, page_texts

README = (ROOT / "README.md").read_text(encoding="utf-8")
DAY = re.search(r"A day with one box:\n\n```sh\n(.*?)```", README, re.DOTALL)[1]
PAGES = {
    name: (ROOT / "resources" / name).read_text(encoding="utf-8")
    for name in ("lot_results.md", "lot_schema.md")
}


@pytest.fixture
def table(tmp_path, monkeypatch) -> Path:
    """Return a folder with the files that the day in the README names, and stand in it."""
    (tmp_path / "box").mkdir()
    box = write_box(tmp_path / "box")
    *golden, resistor, empty = write_check(tmp_path / "check", 500)
    for path, name in zip(
        (*golden, resistor, empty), ("golden-1", "golden-2", "resistor", "socket"), strict=True
    ):
        path.rename(tmp_path / f"{name}.csv")
    write_table(tmp_path / "tests.csv", "tube,shorts,tap test", "ARC-07,none,quiet")
    sweep_again(tmp_path / "back.csv", box, "ARC-07", 0.9)
    monkeypatch.chdir(tmp_path)
    return tmp_path


@needs_poppler
def test_the_day_of_the_page_runs_as_it_stands(table):
    lines = re.sub(r"\\\n\s*", "", DAY).splitlines()
    said = {}
    for line in lines:
        words = shlex.split(line, comments=True)
        if words:
            assert words[:2] == ["curvelab", "lot"]
            status, out, err = lot(*words[2:])
            assert (status, err.replace("curvelab: the set 'stage 01' is sold\n", "")) == (0, ""), (
                line
            )
            said[words[2], *words[4:5]] = out
    assert "no history yet" in said["check", "--golden"]
    assert "filed: 27" in said["add", "box"]
    assert "hand tests entered: 1" in said["add", "--hand-tests"]
    assert "ARC-13" in said["claims",]
    assert "barred: 5" in said["grade",]
    assert "sets: 5" in said["match", "--spare"]
    assert "plate current: 8.9" in said["returned", "ARC-07"]
    assert "Proposed pair with a spare" in page_texts(table / "proposed.pdf")[0]
    assert "Matched pair with a spare" in page_texts(table / "sets.pdf")[0]
    assert "26 tubes" in page_texts(table / "report.pdf")[0]
    assert (table / "labels.pdf").is_file()
    assert len(list((table / "shop").glob("*.png"))) == 5 + 6  # sets, and what is in none
    assert "stage 01" in lot("sets", "spring.lot")[1]


def keys(value: Any) -> Iterator[str]:
    """Yield every key of a document, down to all depths."""
    if isinstance(value, dict):
        for key, inner in value.items():
            yield key
            yield from keys(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from keys(inner)


# What other pages of the program describe: results of the main job, history of the bench.
ELSEWHERE = {"constants", "operating_point", "conditions", "findings", "content", "payload",
             "result", "settings", "golden", "resistor", "empty_socket", "in_force"}  # fmt: skip


def documented(document: dict[str, Any]) -> dict[str, Any]:
    """Return a document without what is described elsewhere."""

    def kept(value: Any) -> Any:
        if isinstance(value, dict):
            return {k: None if k in ELSEWHERE else kept(v) for k, v in value.items()}
        return [kept(item) for item in value] if isinstance(value, list) else value

    return kept(document)


def test_every_key_that_is_written_stands_on_its_page(day, tmp_path):
    box, path, _ = day
    path = copy_of(path, tmp_path)
    as_json("match", path, "--spare", "--keep", "stage")
    told = ("--reason", "r", "--person", "p")
    lot("overrule", path, "ARC-15", "hold", *told)
    table = write_table(tmp_path / "hand.csv", "tube,shorts", "ARC-08,grid to plate")
    lot("add", path, sweep_again(tmp_path / "b.csv", box, "ARC-07", 0.9), "--hand-tests", table)
    lot("export", path, tmp_path / "all.json")
    golden = write_check(tmp_path / "check", 501)[:2]
    schema, results = PAGES["lot_schema.md"], PAGES["lot_results.md"]
    for page, command in (
        (schema, ("list", path)),
        (results, ("match", path, "--what-if")),
        (results, ("mate", path, "ARC-10")),
        (results, ("grade", path)),
        (results, ("sets", path)),
        (results, ("claims", path)),
        (results, ("returned", path, "ARC-07")),
        (results, ("check", path, "--golden", *golden)),
        (results, ("bench", path)),
    ):
        words = set(re.findall(r"[a-z_0-9]+", page))
        missing = set(keys(documented(as_json(*command)))) - words
        assert not missing, (command[0], missing)
