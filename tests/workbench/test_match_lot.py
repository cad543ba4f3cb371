"""Round trip and behaviour: sweep files to matched sets, without a catalogue."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from curvelab.matching import MatchRequest, rank_mates
from curvelab.matching.records import BY_BOTH, BY_CURVE, Measure, Measured
from curvelab.sheets.match_json import match_document
from curvelab.sheets.results_json import results_text
from curvelab.workbench.characterize import Request, characterize
from curvelab.workbench.match_lot import lot_candidates, match_files, tube_by_figures
from simulator.bench import Bench, run_sweep, usual_plan
from simulator.tubes import healthy_tube

SAMPLES = Path(__file__).parents[2] / "sample_sweeps"
BENCH = """name = "bench in the back room"
[plate_current]
gain_pct = 1.0
"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory) -> Path:
    """Return six sweeps of three tubes, each swept twice with the bench's noise."""
    folder = tmp_path_factory.mktemp("lot")
    for number in range(3):
        tube = healthy_tube("6SN7GTB", np.random.default_rng(40 + number))
        for turn in "ab":
            rng = np.random.default_rng(100 * number + ord(turn))
            readings = run_sweep(tube, usual_plan(tube), Bench(), rng)
            lines = [f"# tube: {number}{turn}", "# type: 6SN7GTB", "plate_v,grid_v,plate_ma"]
            lines += [
                f"{vp:.2f},{vg:.3f},{1e3 * ip:.4f}"
                for vp, vg, ip in zip(
                    readings.plate_voltage, readings.grid_voltage, readings.plate_current,
                    strict=True,
                )
            ]  # fmt: skip
            (folder / f"{number}{turn}.csv").write_text("\n".join(lines) + "\n")
    return folder


@pytest.mark.parametrize("measures", [BY_BOTH, BY_CURVE])
def test_each_tube_is_its_own_best_match_and_the_bench_cannot_tell(folder, measures):
    found = match_files(Request((folder,)), MatchRequest(measures=measures), with_held=True)
    pairs = sorted(tuple(sorted(one.tubes)) for one in found.result.sets)
    assert pairs == [("0a", "0b"), ("1a", "1b"), ("2a", "2b")]
    for one in found.result.sets:
        assert one.spread.distinguishable is False
        assert one.spread.fraction < one.spread.u95
    assert found.result.proven
    assert "6SN7GTB" in found.lot.regions
    results_text(match_document(found.result))


def test_a_stated_bench_widens_nothing_among_its_own_tubes(folder, tmp_path):
    description = tmp_path / "bench.toml"
    description.write_text(BENCH)
    request = MatchRequest(measures=BY_BOTH)
    plain = match_files(Request((folder,)), request, with_held=True)
    stated = match_files(Request((folder,), bench=description), request, with_held=True)
    for one, other in zip(plain.result.sets, stated.result.sets, strict=True):
        assert one.spread.u95 == pytest.approx(other.spread.u95)
    for tube in stated.lot.candidates:
        (section,) = tube.sections
        current = section.plate_current
        # 1 % as limits of error: 2 / sqrt(3) % expanded (JCGM 100:2008, 4.3.7).
        assert current.bench_u95 / current.value == pytest.approx(0.0115, abs=0.0002)
        assert section.curve.relative_bench_u95 == pytest.approx(0.0115, abs=0.0002)
        assert tube.bench == "bench in the back room"


def test_rejected_tubes_never_and_held_ones_only_on_demand():
    batch = characterize(Request((SAMPLES,)))
    careful = {one.key: one for one in lot_candidates(batch.assessments).candidates}
    bold = {one.key: one for one in lot_candidates(batch.assessments, with_held=True).candidates}
    assert any("weak-emission" in reason for reason in careful["PIT-03"].excluded)
    assert bold["PIT-03"].excluded == careful["PIT-03"].excluded
    assert any(
        reason.startswith("on hold, heater-cathode") for reason in careful["PIT-08"].excluded
    )
    assert not bold["PIT-08"].excluded
    assert not careful["PIT-01"].excluded


def test_sections_of_one_file_are_one_tube():
    batch = characterize(Request((SAMPLES / "PIT-04.csv",)))
    (tube,) = lot_candidates(batch.assessments).candidates
    assert [section.name for section in tube.sections] == ["1", "2"]
    assert any("section-imbalance" in reason for reason in tube.excluded)


def test_a_log_alone_has_no_measurement_to_match():
    batch = characterize(Request((SAMPLES / "STAGE-03.csv",)))
    (tube,) = lot_candidates(batch.assessments).candidates
    assert tube.sections == ()
    result = match_files(Request((SAMPLES / "STAGE-03.csv",)), MatchRequest(), with_held=True)
    assert result.result.excluded[0].reasons == ("has no measurement",)


def test_two_sweeps_of_one_name_are_not_guessed_at(folder, tmp_path):
    for name in ("one.csv", "two.csv"):
        (tmp_path / name).write_text((folder / "0a.csv").read_text())
    batch = characterize(Request((tmp_path,)))
    (tube,) = lot_candidates(batch.assessments).candidates
    assert tube.excluded[0] == "several sweeps bear its name (one.csv, two.csv)"


def test_the_dead_and_the_narrow_do_not_choose_where_all_are_compared():
    batch = characterize(Request((SAMPLES,)))
    lot = lot_candidates(batch.assessments)
    by_key = {tube.key: tube for tube in lot.candidates}
    assert by_key["FOYER-01"].sections[0].at == (250.0, -2.0)
    dead = by_key["FOYER-07"].sections[0]
    assert dead.plate_current is None
    assert "no plate current" in dead.missing[Measure.PLATE_CURRENT]
    assert dead.curve is None


def test_a_mate_for_a_tube_known_from_a_letter(folder):
    batch = characterize(Request((folder,)))
    stock = lot_candidates(batch.assessments, with_held=True, at=(200.0, -6.0)).candidates
    wanted = next(tube for tube in stock if tube.key == "1a").sections[0].plate_current
    letter = tube_by_figures("letter", "6SN7GTB", (200.0, -6.0), Measured(wanted.value, None), None)
    ranking = rank_mates(letter, stock, MatchRequest())
    assert ranking.measures == (Measure.PLATE_CURRENT,)
    assert {mate.key for mate in ranking.mates[:2]} == {"1a", "1b"}
    assert ranking.mates[0].difference.distinguishable is None


def test_held_tubes_are_no_more_excluded_than_their_findings_say():
    batch = characterize(Request((SAMPLES / "PIT-08.csv",)))
    accepted = [replace(one, findings=()) for one in batch.assessments]
    (tube,) = lot_candidates(accepted).candidates
    assert tube.excluded == ()
