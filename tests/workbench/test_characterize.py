"""Behaviour: the main job over many files, in pieces that can be stopped."""

from __future__ import annotations

import time
from pathlib import Path

import numpy as np
import pytest

from curvelab.health.records import FindingCode
from curvelab.workbench.characterize import Request, characterize
from curvelab.workbench.type_library import shipped_families
from helpers.sweeps import write_sweep

MANY = 80


@pytest.fixture(scope="module")
def many(tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("many")
    for number in range(MANY):
        write_sweep(folder / f"T{number:02}.csv", seed=number)
    return folder


def test_every_tube_is_judged_in_the_order_of_the_files(many):
    batch = characterize(Request(paths=(many,)))
    assert not batch.stopped
    assert [item.sweep.tube for item in batch.assessments] == [f"T{n:02}" for n in range(MANY)]


def test_stopping_while_curves_are_fitted_takes_effect_within_a_second(many):
    told: list[float] = []

    def progress(done: int, total: int, name: str) -> None:
        if name == "fitting" and not told:
            told.append(time.monotonic())

    batch = characterize(Request(paths=(many,)), progress, lambda: bool(told))
    assert batch.stopped
    assert 0 < len(batch.assessments) < MANY
    assert time.monotonic() - told[0] < 5.0  # a second on a bench's computer, more on a busy one


def test_fitting_tells_how_far_it_is(many):
    steps: list[tuple[int, int]] = []
    characterize(
        Request(paths=(many,)),
        lambda done, total, name: steps.append((done, total)) if name == "fitting" else None,
    )
    assert len(steps) > 1
    assert [done for done, _ in steps] == sorted({done for done, _ in steps})
    assert {total for _, total in steps} == {MANY}


def test_sections_far_apart_in_the_batch_still_meet(tmp_path, many):
    paths = []
    for section, scale in (("1", 1.0), ("2", 0.5)):
        text = write_sweep(tmp_path / "raw.csv").read_text(encoding="utf-8").splitlines()
        rows = [line.split(",") for line in text[3:] if line]
        lines = [f"{vp},{vg},{scale * float(ip):.4f}" for vp, vg, ip in rows]
        path = tmp_path / f"D1-{section}.csv"
        head = ["# tube: D1", f"# section: {section}", "# type: 6SN7GTB", text[2]]
        path.write_text("\n".join([*head, *lines]) + "\n", encoding="utf-8")
        paths.append(path)
    batch = characterize(Request(paths=(paths[0], many, paths[1])))
    first, last = batch.assessments[0], batch.assessments[-1]
    assert (first.sweep.section, last.sweep.section) == ("1", "2")
    for assessment in (first, last):
        codes = [finding.code for finding in assessment.findings]
        assert FindingCode.SECTION_IMBALANCE in codes


def test_the_units_of_a_dissimilar_dual_triode_are_judged_as_what_they_are(tmp_path):
    # Points of the library, from memory: 250 V, -3 V: 1.4 mA; 150 V, -20 V: 50 mA.
    families = shipped_families().families
    rows = ["# type: 6EM7", "# tube: SIM-1", "section,plate_v,grid_v,plate_ma"]
    sweeps = (
        ("1", "6EM7 unit 1", np.arange(0.0, -4.1, -0.5), np.arange(25.0, 301.0, 25.0)),
        ("2", "6EM7 unit 2", np.arange(0.0, -41.0, -5.0), np.arange(20.0, 201.0, 20.0)),
    )
    for section, name, grid, plate in sweeps:
        volts, bias = (axis.ravel() for axis in np.meshgrid(plate, grid))
        current = families[name].current(volts, bias)
        rows += [
            f"{section},{p:g},{g:g},{1e3 * i:.5f}"
            for p, g, i in zip(volts, bias, current, strict=True)
            if p * i < 10.0
        ]
    path = tmp_path / "pair.csv"
    path.write_text("\n".join(rows) + "\n", encoding="utf-8")
    found = characterize(Request(paths=(path,))).assessments
    assert [item.tube_type.name for item in found] == ["6EM7 unit 1", "6EM7 unit 2"]
    assert found[0].constants.plate_current.value == pytest.approx(1.4e-3, rel=0.02)
    assert found[1].constants.plate_current.value == pytest.approx(50e-3, rel=0.02)
    assert not any(f.code.value == "section-imbalance" for item in found for f in item.findings)
