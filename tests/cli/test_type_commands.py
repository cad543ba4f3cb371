"""Behaviour and refusal: the commands about types, as a person or a program calls them."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from curvelab.cli import main
from curvelab.workbench.own_types import copy_type
from curvelab.workbench.type_library import own_folder
from helpers.type_files import type_text, write_type

_DATA = Path(__file__).parents[1] / "data" / "outside"


def test_substitute_says_verdict_reasons_and_cautions(capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "200")
    assert main(["substitute", "6SN7GT", "6CG7"]) == 0
    text = capsys.readouterr().out
    assert text.startswith("6CG7 in place of 6SN7GT: with conditions\n")
    assert "an adapter wired for 6CG7 in place of 6SN7GT, no other" in text
    assert "G of unit 1: 1 to 2" in text
    assert "Lethal voltage" in text
    assert "No figure here is advice to exceed a rating." in text


def test_house_rules_of_one_s_own_go_before_the_shipped_ones(capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "200")
    path = own_folder() / "stand_in.toml"
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text("mu_other_stage_pct = 0.01\n", encoding="utf-8")
    assert main(["substitute", "6SN7GT", "6CG7"]) == 0
    text = capsys.readouterr().out
    assert text.startswith("6CG7 in place of 6SN7GT: not a replacement\n")
    assert "house rules, editable" in text
    assert "mu 0.01 % apart another stage" in text
    path.write_text("mu_other_stage_pct = no\n", encoding="utf-8")
    assert main(["substitute", "6SN7GT", "6CG7"]) == 2
    assert "cannot be read as house rules" in capsys.readouterr().err


def test_substitute_as_json(capsys):
    asked = ["substitute", "12AX7", "12AU7", "--at", "200,-1.5", "--plate-ohm", "100e3", "--json"]
    assert main(asked) == 0
    content = json.loads(capsys.readouterr().out)
    assert content["schema"] == "curvelab.substitution/1"
    assert (content["old"], content["new"]) == ("12AX7", "12AU7")
    assert content["suitability"] == "not a replacement"
    assert content["socket"]["fit"] == "same"
    rating = next(pair for pair in content["ratings"] if pair["name"] == "plate_voltage")
    assert (rating["old"]["value"], rating["relation"]) == (300.0, "equal")
    assert content["in_circuit"]["plate_circuit_resistance"] == 100e3
    assert content["in_circuit"]["old"]["plate_voltage"] == pytest.approx(200)


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        (["12AX7", "nothing"], "no type named 'nothing'"),
        (["12AX7", "ECC83"], "names of one type"),
    ],
)
def test_substitute_refuses_what_is_no_pair(capsys, asked, said):
    assert main(["substitute", *asked]) == 2
    assert said in capsys.readouterr().err


@pytest.mark.parametrize(
    "asked", [["--at", "250"], ["--at", "-250,-8"], ["--plate-ohm", "-1"], ["--plate-ohm", "nan"]]
)
def test_substitute_refuses_senseless_circuits(capsys, asked):
    with pytest.raises(SystemExit) as end:
        main(["substitute", "12AX7", "12AU7", *asked])
    assert end.value.code == 2


def test_identify_ranks_with_figures(capsys):
    assert main(["identify", str(_DATA / "C1-12AX7-triode.csv")]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[0] == "C1-12AX7-triode (label: 12AX7)"
    assert lines[3].split()[:2] == ["12AX7", "100"]
    assert any("a type that it does not hold cannot be named" in line for line in lines)


def test_identify_as_json_and_a_file_that_cannot_be_read(capsys, tmp_path):
    gone = tmp_path / "gone.csv"
    assert main(["identify", str(_DATA / "C5-12AU7-triode.csv"), str(gone), "--json"]) == 3
    said = capsys.readouterr()
    content = json.loads(said.out)
    assert content["schema"] == "curvelab.identities/1"
    assert content["tubes"][0]["ranked"][0]["type_names"] == ["12AU7", "5814A"]
    assert content["errors"][0]["file"] == str(gone)
    assert "gone.csv" in said.err


def test_own_types_are_copied_listed_exported_and_imported(capsys, tmp_path):
    assert main(["own-types", "copy", "2A3", "1XC1"]) == 0
    said = capsys.readouterr()
    assert said.out == f"{own_folder() / 'types' / '1XC1.toml'}\n"
    assert "from memory until you find it printed" in said.err
    assert main(["own-types"]) == 0
    assert "1XC1  1XC1.toml" in capsys.readouterr().out
    away = tmp_path / "away.toml"
    assert main(["own-types", "export", "1XC1", str(away)]) == 0
    assert main(["own-types", "export", "1XC1", "-"]) == 0
    assert capsys.readouterr().out == away.read_text(encoding="utf-8")
    assert main(["own-types", "check", str(away)]) == 0
    assert "type 1XC1, " in capsys.readouterr().out
    assert main(["own-types", "import", str(away)]) == 2
    assert "you have a type '1XC1' already" in capsys.readouterr().err
    assert main(["own-types", "import", "--replace", str(away)]) == 0
    assert main(["types", "1XC1"]) == 0


def test_a_broken_own_file_is_named_and_the_work_goes_on(capsys):
    copy_type("2A3", "1XC1")
    write_type(own_folder() / "types", "name = 1", "broken.toml")
    for asked in (
        ["types", "1XC1"],
        ["characterize", str(_DATA / "C1-12AX7-triode.csv")],
        ["substitute", "2A3", "1XC1"],
        ["identify", str(_DATA / "C1-12AX7-triode.csv")],
        ["own-types"],
    ):
        assert main(asked) == 0
        assert "broken.toml" in capsys.readouterr().err


def test_check_says_place_and_key(capsys, tmp_path):
    path = write_type(tmp_path, type_text("1XC1").replace("plate_w", "plate_watt"))
    assert main(["own-types", "check", str(path)]) == 2
    assert "mine.toml, ratings 1, plate_watt: wanted one of" in capsys.readouterr().err


def characterized(capsys, *arguments: str):
    assert main(["characterize", *arguments, "--json", "-"]) == 0
    return json.loads(capsys.readouterr().out)["tubes"][0]


def test_reference_curves_of_one_s_own(capsys, tmp_path):
    sweep = str(_DATA / "C5-12AU7-triode.csv")
    plain = characterized(capsys, sweep)
    own = characterized(capsys, sweep, "--reference-curves", sweep)
    assert own["reference"]["type"] == "12AU7"
    assert own["reference"]["why"] == "own curves"
    assert "250 V, -8.5 V: Ip" in own["reference"]["family_residual_pct"]
    assert own["family_deviation_pct"] < min(3.0, plain["family_deviation_pct"] + 1.0)
    # A type the library does not hold gets a family too.
    nameless = tmp_path / "drawing.csv"
    text = Path(sweep).read_text(encoding="utf-8").replace("# type: 12AU7", "# type: 1XC9")
    nameless.write_text(text, encoding="utf-8")
    found = characterized(capsys, str(nameless), "--reference-curves", str(nameless))
    assert found["reference"]["type"] == "1XC9"
    assert found["family_deviation_pct"] < 3.0
    assert main(["characterize", str(nameless), "--reference-curves", str(nameless)]) == 0
    assert "by own curves of 1XC9" in capsys.readouterr().out.replace("\n", " ")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (None, "there is no such file"),
        ("plate_v,grid_v,plate_ma\n100,-2,1\n150,-2,3\n", "make no reference family"),
        (
            "# connection: pentode\nplate_v,grid_v,plate_ma\n100,-2,1\n150,-2,3\n",
            "does not say at what screen voltage",
        ),
        (
            "tube,plate_v,grid_v,plate_ma\nA,100,-2,1\nA,150,-2,3\nB,100,-2,1\nB,150,-2,3\n",
            "wanted the curves of one tube, got 2",
        ),
    ],
)
def test_reference_curves_that_are_none_are_refused(capsys, tmp_path, text, said):
    path = tmp_path / "curves.csv"
    if text is not None:
        path.write_text(text, encoding="utf-8")
    asked = ["characterize", str(_DATA / "C1-12AX7-triode.csv"), "--reference-curves", str(path)]
    assert main(asked) == 2
    assert said in capsys.readouterr().err


def test_reference_curves_with_a_screen(capsys, tmp_path):
    sweep = str(_DATA / "D4-6V6-tetrode.csv")
    own = characterized(capsys, sweep, "--reference-curves", sweep)
    assert (own["reference"]["type"], own["reference"]["why"]) == ("6V6", "own curves")
    assert "250 V, -12.5 V, screen 250 V: gm" in own["reference"]["family_residual_pct"]
    assert own["family_deviation_pct"] < 2.0
    nameless = tmp_path / "drawing.csv"
    text = Path(sweep).read_text(encoding="utf-8").replace("# type: 6V6", "# type: 1XC9")
    nameless.write_text(text, encoding="utf-8")
    found = characterized(capsys, str(nameless), "--reference-curves", str(nameless))
    assert found["reference"]["type"] == "1XC9"
    assert found["family_deviation_pct"] < 2.0


def test_reference_curves_of_another_connection_are_set_aside_and_that_is_said(capsys):
    triode, pentode = str(_DATA / "C3-EL84-triode.csv"), str(_DATA / "C4-EL84-pentode.csv")
    found = characterized(capsys, triode, "--reference-curves", pentode)
    assert found["reference"]["why"] == "same"
    assert main(["characterize", triode, "--reference-curves", pentode]) == 0
    assert "another connection of the screen" in " ".join(capsys.readouterr().out.split())


def test_curves_read_off_a_sheet_go_into_a_type_of_one_s_own(capsys):
    copy_type("EL84", "1XC3")
    said = ["--source", "Philips EL84 data sheets 1-6, page B", "--accuracy", "about 1 mA"]
    asked = ["own-types", "curves", "1XC3", str(_DATA / "C4-EL84-pentode.csv"), *said]
    assert main(asked) == 0
    assert "keeps the rules" in capsys.readouterr().out
    assert main(["types", "1XC3"]) == 0
    shown = " ".join(capsys.readouterr().out.split())
    assert "58 readings, screen at 250 V; accuracy about 1 mA" in shown
    assert "46 readings, as a triode" in shown  # of the type that was copied
    assert "Philips EL84 data sheets 1-6, page B (verified)" in shown
    assert main(["own-types", "curves", "EL84", *asked[3:]]) == 2
    assert "no type of your own: copy it first" in capsys.readouterr().err
