"""Published and refusal: which type a sweep without a label looks like."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from curvelab.workbench.characterize import Request, characterize
from curvelab.workbench.identify import identify
from curvelab.workbench.type_library import current_families
from simulator.bench import Bench, run_sweep, usual_plan
from simulator.faults import mislabel
from simulator.files import long_text, write
from simulator.tubes import healthy_tube

_DATA = Path(__file__).parents[1] / "data" / "outside"


def identified(path: Path):
    (found,) = identify(characterize(Request(paths=(path,))).assessments, current_families())
    return found


# Readings of published average curves; sources in the files. The label is taken away.
@pytest.mark.parametrize(
    ("file", "name"),
    [
        ("C1-12AX7-triode.csv", "12AX7"),
        ("C3-EL84-triode.csv", "EL84"),
        ("C5-12AU7-triode.csv", "12AU7"),
        ("C6-6SL7GT-triode.csv", "6SL7GT"),
        ("D1-6SN7GT-triode.csv", "6SN7GT"),
    ],
)
def test_published_curves_without_a_label_are_their_own_type(tmp_path, file, name):
    lines = (_DATA / file).read_text(encoding="utf-8").splitlines()
    path = tmp_path / "nameless.csv"
    path.write_text("\n".join(line for line in lines if not line.startswith("# type")) + "\n")
    found = identified(path)
    assert found.type_label is None
    assert name in found.ranked[0].type_names
    assert found.ranked[0].odds > 0.5
    assert found.ranked[0].current == pytest.approx(1.0, abs=0.05)
    assert found.ranked[0].shape < 0.06
    assert sum(one.odds for one in found.ranked) == pytest.approx(1.0)
    assert found.remark is None


def test_a_used_tube_is_its_type_however_its_foot_differs(tmp_path):
    # Near cut-off tubes of one type differ by factors; a bench still reads currents there.
    tube = healthy_tube("45", np.random.default_rng(5))
    sweep = run_sweep(tube, usual_plan(tube), Bench(), np.random.default_rng(6))
    found = identified(write(tmp_path / "nameless.csv", long_text(mislabel(sweep, "2A3"))))
    assert found.ranked[0].type_names == ("45",)
    assert found.ranked[0].shape < 0.15
    assert found.remark is None


def test_a_tube_that_no_family_is_like_is_not_named():
    # Bhargava, Kulshreshtha & Gupta, Basic Electronics and Linear Circuits, example 6.2.
    found = identified(_DATA / "textbook-family.csv")
    assert "no type of the library has curves of this shape" in found.remark


@pytest.mark.parametrize(
    ("file", "name"), [("C4-EL84-pentode.csv", "EL84"), ("D4-6V6-tetrode.csv", "6V6")]
)
def test_a_pentode_is_named_by_its_curves_with_a_screen(file, name):
    found = identified(_DATA / file)
    assert name in found.ranked[0].type_names
    assert found.ranked[0].shape < 0.05


@pytest.mark.parametrize(
    ("text", "why"),
    [
        (
            (_DATA / "D4-6V6-tetrode.csv")
            .read_text(encoding="utf-8")
            .replace(", screen 250 V", "")
            .replace("screen_v", "ignored_v"),
            "connected as a pentode",
        ),
        ("plate_v,grid_v,plate_ma\n100,-2,1\n150,-2,3\n", "too few readings"),
        (
            "time_s,plate_v,grid_v,plate_ma\n"
            + "".join(f"{t},250,-8,9.0\n" for t in range(0, 300, 10)),
            "a drift log",
        ),
    ],
)
def test_what_cannot_be_ranked_says_why(tmp_path, text, why):
    path = tmp_path / "odd.csv"
    path.write_text(text, encoding="utf-8")
    found = identified(path)
    assert found.ranked == ()
    assert why in found.remark
