"""Refusal: bad files in a batch, from the command line: one plain line each, the rest done."""

from __future__ import annotations

import json

import pytest

from curvelab.cli import main
from helpers.bad_files import HELD, PASSED, REFUSED, REJECTED, write_bad_files


@pytest.fixture(scope="module")
def outcome(tmp_path_factory):
    """Return exit status, what was said on standard error, results and sheets."""
    folder, out = tmp_path_factory.mktemp("lot"), tmp_path_factory.mktemp("out")
    write_bad_files(folder)
    with pytest.MonkeyPatch.context() as patch:
        said: list[str] = []
        patch.setattr("curvelab.cli.not_read.note", said.append)
        status = main(
            ["characterize", str(folder), "--json", str(out / "r.json"), "--sheets", str(out)]
        )
    content = json.loads((out / "r.json").read_text(encoding="utf-8"))
    return status, said, content, {path.stem for path in out.glob("*.pdf")}


def test_whole_files_that_cannot_be_read_are_one_line_each(outcome):
    status, said, content, _ = outcome
    refused = {*REFUSED, "a-folder", "a-dead-link"}
    assert status == 3
    assert len(content["errors"]) == len(refused)
    for name in refused:
        (line,) = [line for line in said if f"{name}.csv: " in line]
        assert "\n" not in line
        assert len(line) < 320
        assert "Error" not in line


def test_every_other_file_has_its_entry_and_its_sheet(outcome):
    _, _, content, sheets = outcome
    tubes = {tube["tube"] for tube in content["tubes"]}
    assert tubes == sheets == {*HELD, *REJECTED, *PASSED, "good"}


@pytest.mark.parametrize("name", [*HELD, *REJECTED, *PASSED])
def test_verdicts(outcome, name):
    (tube,) = [tube for tube in outcome[2]["tubes"] if tube["tube"] == name]
    wanted = "hold" if name in HELD else "reject" if name in REJECTED else "accept"
    assert tube["verdict"] == wanted
    if name not in PASSED:
        assert tube["findings"]


# In the two left out a current is there to be read; the finding says what it is worth.
@pytest.mark.parametrize("name", sorted({*HELD, *REJECTED} - {"never-moves", "log-of-three"}))
def test_poor_data_gives_no_plausible_constant(outcome, name):
    (tube,) = [tube for tube in outcome[2]["tubes"] if tube["tube"] == name]
    for constant in tube["constants"].values():
        assert constant["value"] is None
        assert constant["reason"]


def test_rows_set_aside_are_counted_by_file(outcome):
    _, said, content, _ = outcome
    counted = {
        name: sum(n["file"] == f"{name}.csv" for n in content["set_aside"]) for name in PASSED
    }
    assert counted["some-nan"] == 3
    assert counted["one-slip"] == counted["line-of-a-megabyte"] == 1
    assert any("some-nan.csv: 3 rows set aside" in line for line in said)
    assert all(len(row["text"]) <= 120 for row in content["set_aside"])
