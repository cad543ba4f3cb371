"""Behaviour: the program tells the story of the sample lot, and the lot can be made again."""

from __future__ import annotations

import subprocess
import sys
import tomllib
from pathlib import Path
from typing import Any

import pytest

from curvelab.assessment.records import Assessment
from curvelab.health.records import FindingCode, Severity
from curvelab.workbench.characterize import Batch, Request, characterize

_HERE = Path(__file__).parent
_LOT = _HERE.parents[1] / "sample_sweeps"
_EXPECTED: dict[str, dict[str, Any]] = tomllib.loads((_HERE / "expected.toml").read_text("utf-8"))


def _key(assessment: Assessment) -> str:
    sweep = assessment.sweep
    section = "" if sweep.section is None else f" section {sweep.section}"
    return sweep.source.name + section


@pytest.fixture(scope="module")
def batch() -> Batch:
    return characterize(Request(paths=(_LOT,)))


@pytest.fixture(scope="module")
def lot(batch: Batch) -> dict[str, Assessment]:
    return {_key(assessment): assessment for assessment in batch.assessments}


def test_every_file_is_read_and_nothing_is_set_aside(
    batch: Batch, lot: dict[str, Assessment]
) -> None:
    assert set(lot) == set(_EXPECTED)
    assert len(batch.assessments) == len(lot)
    assert batch.errors == ()
    assert batch.set_aside == ()


@pytest.mark.parametrize("name", list(_EXPECTED))
def test_findings_are_those_of_the_story(name: str, lot: dict[str, Assessment]) -> None:
    wanted, findings = _EXPECTED[name], lot[name].findings
    beside = set(wanted.get("beside", ()))
    assert {item.code.value for item in findings} - beside == set(wanted["found"])
    grave = {item.code.value for item in findings if item.severity is not Severity.NOTE}
    assert not grave & beside
    assert all(item.evidence for item in findings)


@pytest.mark.parametrize("name", list(_EXPECTED))
def test_verdict_is_that_of_the_story(name: str, lot: dict[str, Assessment]) -> None:
    wanted = _EXPECTED[name]["verdict"]
    assert lot[name].verdict.value in ([wanted] if isinstance(wanted, str) else wanted)


@pytest.mark.parametrize("name", [name for name, item in _EXPECTED.items() if "drift" in item])
def test_logs_behave_as_in_the_story(name: str, lot: dict[str, Assessment]) -> None:
    drift = lot[name].drift
    assert drift is not None
    assert drift.behaviour.value == _EXPECTED[name]["drift"]


@pytest.mark.parametrize("name", [name for name, item in _EXPECTED.items() if "type" in item])
def test_tubes_are_judged_as_their_types(name: str, lot: dict[str, Assessment]) -> None:
    tube_type = lot[name].tube_type
    assert ("" if tube_type is None else tube_type.name) == _EXPECTED[name]["type"]


@pytest.mark.parametrize("name", [name for name, item in _EXPECTED.items() if "read_as" in item])
def test_reader_says_what_it_turned_round(name: str, lot: dict[str, Assessment]) -> None:
    remarks = {remark.code.value for remark in lot[name].sweep.remarks}
    assert set(_EXPECTED[name]["read_as"]) <= remarks


def test_the_twin_is_compared_with_its_stand_in() -> None:
    request = Request(paths=(_LOT / "STAGE-02.csv",), reference="211")
    (assessment,) = characterize(request).assessments
    assert assessment.comparison is not None
    assert (assessment.comparison.type_name, assessment.comparison.why) == ("211", "stand-in")


def test_the_lot_shows_every_finding_code() -> None:
    shown = {code for item in _EXPECTED.values() for code in item["found"]}
    assert shown == {code.value for code in FindingCode}


def test_the_lot_is_as_large_as_a_bench_writes(lot: dict[str, Assessment]) -> None:
    types = {assessment.sweep.type_label for assessment in lot.values()}
    assert len(types) >= 5
    assert len({assessment.sweep.tube for assessment in lot.values()}) >= 16
    per_file: dict[str, int] = {}
    for assessment in lot.values():
        name = assessment.sweep.source.name
        per_file[name] = per_file.get(name, 0) + len(assessment.sweep.readings)
    assert max(per_file.values()) <= 350


def test_the_story_names_every_file() -> None:
    story = (_LOT / "STORY.md").read_text("utf-8")
    files = {path.name for path in _LOT.glob("*.csv")}
    assert files == {name.split(" ")[0] for name in _EXPECTED}
    assert all(f"`{name}`" in story for name in files)


def test_generator_writes_the_lot_again_byte_for_byte(tmp_path: Path) -> None:
    subprocess.run([sys.executable, str(_LOT / "generate.py"), str(tmp_path)], check=True)
    written = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    assert written == {path.name: path.read_bytes() for path in _LOT.glob("*.csv")}
