"""Behaviour and refusal: the main job from the command line, on files."""

from __future__ import annotations

import csv
import io
import json
import os
import subprocess
import sys

import pytest

from curvelab.cli import main
from helpers.checkout import ROOT, run_command, run_python
from helpers.pdf_pages import needs_poppler
from helpers.sweeps import write_log, write_sweep


def run(capsys, *arguments: object) -> tuple[int, str, str]:
    status = main(["characterize", *map(str, arguments)])
    out, err = capsys.readouterr()
    return status, out, err


@pytest.fixture
def sweep(tmp_path):
    return write_sweep(tmp_path / "A17.csv")


def test_the_table_is_printed(capsys, sweep):
    status, out, err = run(capsys, sweep)
    assert (status, err) == (0, "")
    assert "A17" in out
    assert "6SN7GTB" in out
    assert "±" in out


def test_json_alone_on_standard_output(capsys, sweep):
    status, out, err = run(capsys, sweep, "--json", "-")
    assert (status, err) == (0, "")
    content = json.loads(out)
    assert content["schema"] == "curvelab.characteristics/1"
    assert [tube["tube"] for tube in content["tubes"]] == ["A17"]
    assert content["errors"] == []


def test_csv_alone_on_standard_output(capsys, sweep):
    status, out, _ = run(capsys, sweep, "--csv", "-")
    (row,) = csv.DictReader(io.StringIO(out))
    assert (status, row["tube"]) == (0, "A17")


def test_files_hold_what_standard_output_would(capsys, sweep, tmp_path):
    _, expected, _ = run(capsys, sweep, "--json", "-")
    status, out, _ = run(capsys, sweep, "--json", tmp_path / "r.json", "--csv", tmp_path / "r.csv")
    assert status == 0
    assert (tmp_path / "r.json").read_text(encoding="utf-8") == expected
    assert (tmp_path / "r.csv").read_text(encoding="utf-8").startswith("tube,")
    assert "A17" in out  # the table as well


def test_a_folder_gives_a_sheet_a_tube(capsys, tmp_path):
    lot = tmp_path / "lot"
    lot.mkdir()
    write_sweep(lot / "A17.csv")
    write_log(lot / "D01.csv")
    status, _, err = run(capsys, lot, "--sheets", tmp_path / "out" / "sheets")
    assert (status, err) == (0, "")
    sheets = sorted(path.name for path in (tmp_path / "out" / "sheets").iterdir())
    assert sheets == ["A17.pdf", "D01.pdf"]
    assert all((tmp_path / "out" / "sheets" / name).read_bytes()[:5] == b"%PDF-" for name in sheets)


@needs_poppler
def test_a_sheet_can_be_searched(capsys, sweep, tmp_path):
    run(capsys, sweep, "--sheets", tmp_path)
    text = run_command("pdftotext", str(tmp_path / "A17.pdf"), "-").stdout
    assert "A17" in text
    assert "6SN7GTB" in text


def test_rows_set_aside_are_counted_and_no_failure(capsys, tmp_path):
    path = write_sweep(tmp_path / "A17.csv", extra="oops,,\n100,-2,many")
    status, out, err = run(capsys, path, "--json", "-")
    assert status == 0
    assert "A17.csv: 2 rows set aside, the first at line" in err
    assert len(json.loads(out)["set_aside"]) == 2


def test_a_file_that_cannot_be_read_has_status_three_and_the_rest_is_done(capsys, sweep, tmp_path):
    junk = tmp_path / "B02.csv"
    junk.write_bytes(bytes(range(256)) * 20)
    status, out, err = run(capsys, sweep, junk, tmp_path / "gone.csv", "--json", "-")
    content = json.loads(out)
    assert status == 3
    assert [tube["tube"] for tube in content["tubes"]] == ["A17"]
    assert len(content["errors"]) == 2
    assert "B02.csv" in err
    assert "gone.csv" in err
    assert "Traceback" not in err


def test_files_of_other_names_are_counted(capsys, tmp_path):
    write_sweep(tmp_path / "A17.csv")
    (tmp_path / "notes.pdf").write_bytes(b"%PDF-")
    status, _, err = run(capsys, tmp_path)
    assert status == 0
    assert "1 file not read" in err


@pytest.mark.parametrize("option", ["--type", "--reference"])
def test_an_unknown_type_is_wrong_usage(capsys, sweep, option):
    status, out, err = run(capsys, sweep, option, "6SN9")
    assert (status, out) == (2, "")
    assert err.startswith("curvelab: no type named '6SN9'")


def test_an_unreadable_bench_description_is_wrong_usage(capsys, sweep, tmp_path):
    bench = tmp_path / "bench.toml"
    bench.write_text("this is = not [ a bench", encoding="utf-8")
    status, out, err = run(capsys, sweep, "--bench", bench)
    assert (status, out) == (2, "")
    assert "bench.toml" in err


def test_a_result_that_cannot_be_written_does_not_keep_the_others_from_it(capsys, sweep, tmp_path):
    status, out, err = run(
        capsys, sweep, "--json", tmp_path / "no such" / "r.json", "--csv", tmp_path / "r.csv"
    )
    assert status == 1
    assert "cannot write" in err
    assert (tmp_path / "r.csv").exists()
    assert "A17" in out


def test_a_folder_for_sheets_that_cannot_be_made_is_named(capsys, sweep):
    status, _, err = run(capsys, sweep, "--sheets", sweep / "below a file")
    assert status == 1
    assert "below a file" in err


def test_a_disk_that_takes_no_more_is_named_and_the_old_file_stays(sweep, tmp_path):
    target = tmp_path / "r.csv"
    target.write_text("the old one", encoding="utf-8")
    result = run_python(
        "import resource, sys; resource.setrlimit(resource.RLIMIT_FSIZE, (0, 0))\n"
        "from curvelab.cli import main\n"
        f"sys.exit(main(['characterize', {str(sweep)!r}, '--csv', {str(target)!r}]))"
    )
    assert result.returncode == 1
    assert f"cannot write {target}: file too large" in result.stderr
    assert target.read_text(encoding="utf-8") == "the old one"
    assert not list(tmp_path.glob(".*"))


def test_a_device_is_written_to_and_never_replaced(capsys, sweep, tmp_path):
    device = tmp_path / "device"
    device.symlink_to("/dev/null")
    assert run(capsys, sweep, "--csv", device)[0] == 0
    assert device.is_symlink()
    assert device.is_char_device()


def test_a_stand_in_is_named(capsys, sweep):
    status, out, _ = run(capsys, sweep, "--reference", "6J5", "--json", "-")
    reference = json.loads(out)["tubes"][0]["reference"]
    assert (status, reference["type"], reference["why"]) == (0, "6J5", "stand-in")


def test_the_operating_point_and_predictions_can_be_given(capsys, sweep):
    _, out, _ = run(capsys, sweep, "--at", "200,-6", "--predict", "300,-10", "--json", "-")
    (tube,) = json.loads(out)["tubes"]
    point = tube["operating_point"]
    assert (point["plate_v"], point["grid_v"], point["origin"]) == (200, -6, "given")
    (prediction,) = tube["predictions"]
    assert (prediction["plate_v"], prediction["grid_v"]) == (300, -10)
    # The file's own law, three-halves with mu 20 and an offset of half a volt.
    assert prediction["plate_ma"] == pytest.approx(0.88 * 5.5**1.5, rel=0.02)


def test_a_point_that_the_sweep_does_not_cover_gives_nulls_and_no_failure(capsys, sweep):
    status, out, _ = run(capsys, sweep, "--at", "600,-40", "--json", "-")
    constants = json.loads(out)["tubes"][0]["constants"]
    assert status == 0
    assert all(constant["value"] is None for constant in constants.values())
    assert all(constant["reason"] for constant in constants.values())


def test_workers_do_not_change_the_result(capsys, tmp_path):
    for number in range(4):
        write_sweep(tmp_path / f"A{number}.csv", seed=number)
    alone = run(capsys, tmp_path, "--json", "-")
    together = run(capsys, tmp_path, "--json", "-", "--workers", "2")
    assert alone == together


def test_progress_is_seen_on_a_terminal_only_and_leaves_no_trace(tmp_path, terminal):
    path = write_sweep(tmp_path / "A17.csv")
    leader, follower = terminal
    result = subprocess.run(
        [sys.executable, "-m", "curvelab", "characterize", str(path), "--json", "-"],
        cwd=ROOT, stdout=subprocess.PIPE, stderr=follower, check=False,
    )  # fmt: skip
    os.close(follower)
    seen = os.read(leader, 10_000).decode()
    assert json.loads(result.stdout)["tubes"]
    assert "1 of 1" in seen
    assert seen.endswith("\r")
    assert "\n" not in seen


BLOCKED = """
import sys
class Blocker:
    def find_spec(self, name, path=None, target=None):
        if name.partition(".")[0] == "PySide6":
            raise ModuleNotFoundError(f"No module named {name!r}", name=name)
sys.meta_path.insert(0, Blocker())
from curvelab.cli import main
sys.exit(main(sys.argv[1:]))
"""


def test_without_qt_all_but_the_sheets_is_written(sweep, tmp_path):
    result = run_command(
        sys.executable, "-c", BLOCKED, "characterize", str(sweep),
        "--sheets", str(tmp_path / "s"), "--csv", str(tmp_path / "r.csv"),
    )  # fmt: skip
    assert result.returncode == 1
    assert (tmp_path / "r.csv").exists()
    assert "A17" in result.stdout
    (line,) = result.stderr.splitlines()
    assert "PySide6" in line
