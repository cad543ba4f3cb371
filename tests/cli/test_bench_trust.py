"""Behaviour and round trip: whether the bench can be trusted, through the command line alone.

Golden tubes, resistor and socket are simulated (`helpers.boxes_of_tubes`); every figure is
invented.
"""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from helpers.boxes_of_tubes import sweep_again, write_box, write_check
from helpers.lot_commands import as_json, lot


@pytest.fixture(scope="module")
def checked(tmp_path_factory) -> tuple[Path, Path]:
    """Return a lot file with five days of golden tubes, and the folder of the days."""
    folder = tmp_path_factory.mktemp("bench")
    path = folder / "bench.lot"
    lot("create", path)
    for number in range(5):
        golden = write_check(folder / str(number), 300 + number)[:2]
        status, out, err = lot(
            "check", path, "--golden", *golden, "--date", f"2031-03-0{number + 1}"
        )
        assert (status, err) == (0, "")
        assert ("no history yet" in out) == (number == 0)
    return path, folder


@pytest.fixture
def bench(checked, tmp_path) -> Path:
    return Path(shutil.copy(checked[0], tmp_path / "bench.lot"))


RESISTOR = ("--ohm", 25000, "--ohm-tolerance", 0.1, "--watt", 10, "--date", "2031-03-09")


def test_a_steady_bench_is_trusted(bench, tmp_path):
    *golden, resistor, empty = write_check(tmp_path, 400)
    measured = ("--golden", *golden, "--resistor", resistor, "--empty", empty, *RESISTOR)
    document = as_json("check", bench, *measured)
    assert document["schema"] == "curvelab.bench-check/1"
    assert (document["standing"], document["trusted"]) == ("steady", True)
    assert document["suggestions"] == []
    assert document["golden"]["moved_tubes"] == []
    assert document["resistor"]["gain"]["value"] == pytest.approx(1, abs=0.003)
    assert document["empty_socket"] is not None


def test_golden_tubes_that_were_filed_are_in_no_set(bench, tmp_path):
    filed = write_check(tmp_path / "filed", 500)[:2]
    assert lot("add", bench, *filed)[0] == 0
    document = as_json("match", bench, "--tolerance", "50")
    assert document["sets"] == []
    reasons = {one["tube"]: one["reasons"] for one in document["excluded"]}
    assert {"G-1", "G-2"} <= reasons.keys()
    assert all("a golden tube of the bench" in reasons[name] for name in ("G-1", "G-2"))


def test_one_golden_tube_alone_cannot_tell(bench, tmp_path):
    first = write_check(tmp_path, 401, gain=0.04)[0]
    document = as_json("check", bench, "--golden", first, "--date", "2031-03-09")
    assert (document["standing"], document["trusted"]) == ("unclear", False)
    assert "a shifted bench and an aged tube look the same" in " ".join(document["sentences"])


def test_a_tube_that_moved_is_told_from_a_bench_that_did(bench, tmp_path):
    golden = write_check(tmp_path, 402, moved=0.08)[:2]
    document = as_json("check", bench, "--golden", *golden, "--date", "2031-03-09")
    assert document["standing"] == "steady"
    assert document["golden"]["moved_tubes"] == ["G-2"]


def test_a_shifted_bench_is_corrected_by_a_person_and_what_follows_is_right(bench, tmp_path):
    *golden, resistor, empty = write_check(tmp_path, 403, gain=0.04)
    measured = ("--golden", *golden, "--resistor", resistor, "--empty", empty, *RESISTOR)
    document = as_json("check", bench, *measured)
    assert (document["standing"], document["trusted"]) == ("shifted", False)
    assert document["golden"]["cause"] == "the bench moved"
    (suggested,) = document["suggestions"]
    assert suggested["meter"] == "plate_current"
    assert suggested["factor"] == pytest.approx(1 / 1.04, abs=0.003)
    assert document["accepted"] == []
    box = write_box(tmp_path)
    serial = box.families["c"][0]
    wrong = sweep_again(tmp_path / "wrong.csv", box, serial, gain=0.04)
    before = as_json("add", bench, wrong)["tubes"][0]["constants"]["plate_ma"]["value"]
    assert lot("check", bench, "--accept", "Ines")[1].startswith("in force: ")
    right = sweep_again(tmp_path / "right.csv", box, serial, gain=0.04, seed=2)
    status, _, err = lot("add", bench, right, "--json", tmp_path / "added.json")
    assert status == 0
    assert "corrected: " in err
    assert "Ines" in err
    document = json.loads((tmp_path / "added.json").read_text("utf-8"))
    after = document["tubes"][0]["constants"]["plate_ma"]["value"]
    assert after / before == pytest.approx(1 / 1.04, abs=0.01)
    (tube,) = as_json("list", bench)["tubes"]
    assert tube["results"][0]["constants"]["plate_ma"]["value"] == after
    assert lot("check", bench, "--withdraw", "Ines")[1].startswith("withdrawn: ")
    assert lot("check", bench, "--withdraw", "Ines")[0] != 0


def test_how_well_the_bench_repeats_itself_and_agrees_with_another(bench, tmp_path):
    document = as_json("bench", bench)
    assert (document["schema"], document["bench"], document["against"]) == (
        "curvelab.bench-history/1", "not named", None,
    )  # fmt: skip
    assert {row["why_not"] for row in document["repeats"]} == {"never measured twice on one day"}
    for number, date in enumerate(("2031-03-06T09:00", "2031-03-06T15:00")):
        golden = write_check(tmp_path / str(number), 410 + number)[:2]
        assert lot("check", bench, "--golden", *golden, "--date", date)[0] == 0
    document = as_json("bench", bench)
    assert {row["readings"] for row in document["repeats"]} == {7}
    for row in document["repeats"]:
        assert 0 < row["within_pct"] < 2
        assert row["total_pct"] >= row["within_pct"]
        assert (row["within_freedom"], row["between_freedom"]) == (1, 5)
    assert len(document["agreements"]) == 4
    assert all(item["agree"] for item in document["agreements"])
    upstairs = tmp_path / "up.toml"
    upstairs.write_text('name = "upstairs"\n[plate_current]\ngain_pct = 0.2\n', "utf-8")
    golden = write_check(tmp_path / "up", 420, gain=0.06)[:2]
    there = ("--bench", upstairs)
    lot("check", bench, "--golden", *golden, *there, "--date", "2031-03-07")
    document = as_json("bench", bench, *there, "--against", "not named")
    assert document["against"] == "not named"
    for item in document["agreements"]:
        assert item["newest"] / item["other"] == pytest.approx(1.06, abs=0.02)
        assert not item["agree"]
        assert "accuracy" in item["remark"]
    text = lot("bench", bench, *there, "--against", "not named")[1]
    assert "E_n" in text
    status, _, err = lot("bench", bench, "--against", "downstairs")
    assert (status, "'not named', 'upstairs'" in err) == (2, True)


def test_a_check_of_nothing_says_what_is_wanted(bench):
    status, out, err = lot("check", bench)
    assert (status, out) == (2, "")
    assert "--golden, --resistor or --empty" in err
