"""Behaviour: files of tubes with a screen grid, from the reader to results, sheet and pictures."""

from __future__ import annotations

import datetime
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from curvelab.assessment.connection import TIED_TO_PLATE
from curvelab.paths import sample_folder
from curvelab.sheets.document import sheet_document
from curvelab.sheets.plot_records import Role
from curvelab.sheets.results_json import results_document
from curvelab.workbench.characterize import Request, characterize
from simulator.pentode import plan_for, random_pentode, run_pentode_sweep

_OUTSIDE = Path(__file__).parents[1] / "data" / "outside"


def _assess(path: Path, **request: object):
    batch = characterize(Request(paths=(path,), **request))
    assert not batch.errors
    (assessment,) = batch.assessments
    return assessment


def _written(folder: Path, screens=(250.0,), *, head: str, column: bool = True) -> Path:
    tube = random_pentode(np.random.default_rng(1))
    readings = run_pentode_sweep(tube, plan_for(tube, screens=screens), np.random.default_rng(2))
    names = ["plate_v", "grid_v", "plate_ma"] + (["screen_v"] if column else [])
    columns = [readings.plate_voltage, readings.grid_voltage, 1e3 * readings.plate_current]
    columns += [readings.screen_voltage] if column else []
    rows = [",".join(f"{value:.6g}" for value in row) for row in zip(*columns, strict=True)]
    path = folder / "P1.csv"
    path.write_text("\n".join([head, ",".join(names), *rows]) + "\n", encoding="utf-8")
    return path


def test_a_pentode_is_judged_at_the_bogey_point_of_its_screen():
    found = _assess(_OUTSIDE / "C4-EL84-pentode.csv", predict=((250.0, -6.4, 210.0),))
    point = found.operating_point
    assert (point.plate_voltage, point.grid_voltage, point.screen_voltage) == (250.0, -7.3, 250.0)
    assert found.fit.law.name == "pentode"
    assert found.reference.type_name == "EL84"
    assert found.comparison.family_deviation < 0.02
    assert found.comparison.of_bogey["plate_current"] == pytest.approx(1.0, abs=0.05)
    assert found.comparison.of_bogey["amplification_factor"] == pytest.approx(1.0, abs=0.10)
    (prediction,) = found.predictions
    assert prediction.screen_voltage == 210.0
    assert prediction.plate_current == pytest.approx(36e-3, rel=0.04)
    assert prediction.extrapolated


def test_a_prediction_without_a_screen_voltage_is_at_the_sweep_s_own():
    found = _assess(_OUTSIDE / "C4-EL84-pentode.csv", predict=((150.0, -6.0),))
    (prediction,) = found.predictions
    assert prediction.screen_voltage == 250.0
    assert not prediction.extrapolated


def test_results_keep_their_shape_and_say_which_mu_it_is():
    found = _assess(_OUTSIDE / "D4-6V6-tetrode.csv")
    (tube,) = results_document([found], (), ())["tubes"]
    assert set(tube["constants"]) == {"plate_ma", "gm_ms", "rp_ohm", "mu"}
    assert tube["constants"]["mu"]["value"] == pytest.approx(9.4, abs=0.5)
    assert tube["operating_point"]["screen_v"] == 250.0
    assert any("against the screen" in remark for remark in tube["source"]["remarks"])


def test_sheet_and_picture_show_the_family_with_its_screen():
    found = _assess(_OUTSIDE / "D4-6V6-tetrode.csv")
    page = sheet_document(found, made_with="curvelab", date=datetime.date(2026, 1, 2))
    labels = [row.cells[0] for row in page.table.rows]
    assert any("g1-g2" in label for label in labels)
    assert "Vs 250 V" in page.table_title
    assert "Vs 250 V" in page.picture.x.label
    roles = {series.role for series in page.picture.series}
    assert {Role.MEASURED, Role.FITTED, Role.REFERENCE} <= roles
    assert page.picture.reference_label == "6V6"


@pytest.mark.parametrize(
    ("file", "label", "true"),
    [("C4-EL84-pentode.csv", "6V6", "EL84"), ("D4-6V6-tetrode.csv", "EL84", "6V6")],
)
def test_a_wrong_label_is_found_by_the_curves_with_a_screen(file, label, true):
    found = _assess(_OUTSIDE / file, type_name=label)
    (off,) = (item for item in found.findings if item.code.value == "off-type")
    assert true in off.evidence
    right = _assess(_OUTSIDE / file)
    assert all(item.code.value != "off-type" for item in right.findings)


def test_triode_connected_sweeps_keep_the_triode_laws():
    found = _assess(_OUTSIDE / "C3-EL84-triode.csv")
    assert found.fit.law.name in ("koren", "softplus", "three-halves")
    assert found.operating_point.screen_voltage is None
    assert found.reference.screen_voltage is None
    assert found.constants.amplification_factor.value == pytest.approx(17, abs=3)


def test_a_pentode_at_an_unknown_screen_voltage_gets_nulls_with_the_reason(tmp_path):
    path = _written(tmp_path, head="# connection: pentode", column=False)
    found = _assess(path)
    assert found.constants.plate_current.value is None
    assert "screen voltage" in found.constants.plate_current.reason


def test_a_screen_column_without_a_connection_makes_a_pentode(tmp_path):
    found = _assess(_written(tmp_path, head="# tube: P1"))
    assert found.fit.law.name == "pentode"


def test_a_screen_that_follows_the_plate_is_a_triode_connection(tmp_path):
    triode = (_OUTSIDE / "C3-EL84-triode.csv").read_text(encoding="utf-8").splitlines()
    rows = [line.split(",") for line in triode if line and not line.startswith("#")]
    rows = [[*row, "screen_v" if row[0] == "plate_v" else row[0]] for row in rows]
    path = tmp_path / "tied.csv"
    path.write_text("\n".join(map(",".join, rows)) + "\n", encoding="utf-8")
    found = _assess(path, type_name="EL84")
    assert found.fit.law.name != "pentode"
    assert found.operating_point.screen_voltage is None


def test_of_several_screen_voltages_the_plot_shows_that_of_the_point(tmp_path):
    path = _written(tmp_path, (200.0, 250.0), head="# connection: pentode")
    found = _assess(path, at=(250.0, -5.0, 200.0), predict=((250.0, -5.0, 225.0),))
    assert found.operating_point.screen_voltage == 200.0
    page = sheet_document(found, made_with="curvelab", date=datetime.date(2026, 1, 2))
    shown = np.concatenate(
        [s.readings for s in page.picture.series if s.role is Role.MEASURED]
    ).astype(int)
    assert set(found.sweep.readings.screen_voltage[shown].tolist()) == {200.0}
    (prediction,) = found.predictions
    assert not prediction.extrapolated
    by_screen = [
        float(found.fit.family.at_screen(v).current(np.array([250.0]), np.array([-5.0]))[0])
        for v in (200.0, 225.0, 250.0)
    ]
    assert by_screen[0] < prediction.plate_current < by_screen[2]
    assert found.constants.plate_current.value == pytest.approx(by_screen[0])


def test_a_transfer_curve_with_a_screen_gives_what_its_line_can(tmp_path):
    tube = random_pentode(np.random.default_rng(1))
    grid = np.linspace(-12.0, -1.0, 23)
    current = 1e3 * tube.plate_current(250.0, grid, 250.0)
    rows = [f"250,{g:g},{i:.5g}" for g, i in zip(grid, current, strict=True)]
    path = tmp_path / "transfer.csv"
    head = ["# connection: pentode", "# screen volts: 250", "plate_v,grid_v,plate_ma"]
    path.write_text("\n".join([*head, *rows]) + "\n", encoding="utf-8")
    found = _assess(path, at=(250.0, -5.0))
    truth = tube.constants(250.0, -5.0, 250.0)
    assert found.constants.transconductance.value == pytest.approx(
        truth["transconductance"], rel=0.02
    )
    assert found.constants.plate_resistance.value is None
    assert found.constants.amplification_factor.value is None


def test_a_pentode_whose_screen_is_the_plate_s_is_told_so(tmp_path):
    triode = (_OUTSIDE / "C3-EL84-triode.csv").read_text(encoding="utf-8").splitlines()
    rows = [line.split(",") for line in triode if line and not line.startswith("#")]
    rows = [[*row, "screen_v" if row[0] == "plate_v" else row[0]] for row in rows]
    path = tmp_path / "tied.csv"
    text = "# connection: pentode\n" + "\n".join(map(",".join, rows)) + "\n"
    path.write_text(text, encoding="utf-8")
    found = _assess(path, type_name="EL84")
    assert TIED_TO_PLATE in found.sweep.remarks
    right = _assess(_OUTSIDE / "C4-EL84-pentode.csv")
    assert TIED_TO_PLATE not in right.sweep.remarks


def test_a_screen_sweep_at_one_plate_voltage_gives_what_it_can(tmp_path):
    tube = random_pentode(np.random.default_rng(1))
    grid, screen = (
        axis.ravel()
        for axis in np.meshgrid(np.linspace(-12.0, -1.0, 12), np.arange(100.0, 301.0, 20.0))
    )
    current = 1e3 * tube.plate_current(250.0, grid, screen)
    rows = [f"250,{g:g},{s:g},{i:.5g}" for g, s, i in zip(grid, screen, current, strict=True)]
    path = tmp_path / "screens.csv"
    head = ["# connection: pentode", "plate_v,grid_v,screen_v,plate_ma"]
    path.write_text("\n".join([*head, *rows]) + "\n", encoding="utf-8")
    found = _assess(path, at=(250.0, -5.0, 240.0), predict=((250.0, -5.0, 200.0),))
    truth = tube.constants(250.0, -5.0, 240.0)
    for name in ("plate_current", "transconductance", "amplification_factor"):
        assert getattr(found.constants, name).value == pytest.approx(truth[name], rel=0.05)
    (prediction,) = found.predictions
    wanted = tube.constants(250.0, -5.0, 200.0)["plate_current"]
    assert prediction.plate_current == pytest.approx(wanted, rel=0.02)
    assert not prediction.extrapolated


def test_a_metered_screen_is_said_beside_handbook_and_family():
    found = _assess(sample_folder() / "BAR-01.csv")
    # Philips EL84 data sheets 1-6: 5.5 mA at 250 V, -7.3 V, screen 250 V.
    assert found.screen.printed.value == pytest.approx(5.5e-3)
    assert found.screen.current.value == pytest.approx(0.97 * 5.5e-3, rel=0.03)
    assert found.screen.dissipation == pytest.approx(250.0 * found.screen.current.value)
    assert found.screen.of_family == pytest.approx(5.5e-3, rel=0.1)
    page = sheet_document(found, made_with="curvelab", date=datetime.date(2026, 1, 2))
    (said,) = (fact.text for fact in page.facts if fact.label == "screen")
    assert "the handbook 5.5 mA" in said


def test_a_screen_that_was_not_metered_has_no_current():
    found = _assess(_OUTSIDE / "C4-EL84-pentode.csv")
    assert found.screen is None
    page = sheet_document(found, made_with="curvelab", date=datetime.date(2026, 1, 2))
    assert all(fact.label != "screen" for fact in page.facts)


def test_the_screens_current_at_the_point_is_the_tubes_own(tmp_path):
    tube = random_pentode(np.random.default_rng(4))
    plan = replace(plan_for(tube, screens=(200.0, 250.0)), screen_metered=True)
    readings = run_pentode_sweep(tube, plan, np.random.default_rng(5))
    columns = [readings.plate_voltage, readings.grid_voltage, readings.screen_voltage]
    columns += [1e3 * readings.plate_current, 1e3 * readings.screen_current]
    rows = [",".join(f"{value:.6g}" for value in row) for row in zip(*columns, strict=True)]
    path = tmp_path / "metered.csv"
    head = ["# connection: pentode", "plate_v,grid_v,screen_v,plate_ma,screen_ma"]
    path.write_text("\n".join([*head, *rows]) + "\n", encoding="utf-8")
    found = _assess(path, at=(220.0, -6.0, 250.0))
    truth = float(tube.currents(220.0, -6.0, 250.0)[1])
    current = found.screen.current
    assert current.value == pytest.approx(truth, rel=0.03)
    assert abs(current.value - truth) < 2.0 * current.u95
