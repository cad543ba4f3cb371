"""Behaviour: the library on the command line, every figure with how well it is known."""

from __future__ import annotations

import json

import pytest

from curvelab.cli import main
from curvelab.reference.loader import load_library


def said(capsys, *arguments: str) -> str:
    assert main(["types", *arguments]) == 0
    return capsys.readouterr().out


def test_the_list_holds_every_type(capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "200")
    lines = said(capsys).splitlines()
    for name in load_library().names:
        assert any(line.startswith(f"{name} ") for line in lines), name


def test_the_list_marks_what_is_from_memory(capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "200")
    for line in said(capsys).splitlines():
        if line.endswith("from memory"):
            continue
        if line.endswith("  verified"):
            bogey = line.split("  ")
            assert not any(part.strip().endswith("mA m") for part in bogey)


@pytest.mark.parametrize("name", load_library().names)
def test_a_type_in_full_cites_only_sources_that_it_lists(capsys, name):
    text = said(capsys, name)
    body, _, sources = text.partition("\nSources\n")
    listed = {line.split()[0] for line in sources.splitlines() if line.startswith("  [")}
    cited = {word.strip(",:;") for word in body.split() if word.strip(",:;") in listed}
    assert text.startswith(name)
    assert listed
    assert cited == listed


def test_another_name_finds_the_type(capsys):
    assert said(capsys, "e88cc").startswith("6922 (also E88CC, CV2492)")


def test_json_has_si_units_source_and_status(capsys):
    content = json.loads(said(capsys, "6922", "--json"))
    assert (content["schema"], content["units"]) == ("curvelab.types/1", "SI")
    (one,) = content["types"]
    bogey = next(point for point in one["points"] if point["bogey"])
    assert bogey["plate_current"]["value"] == 0.015
    assert bogey["plate_current"]["status"] == "verified"
    assert bogey["plate_current"]["source"]


def test_json_of_the_whole_library_holds_every_type(capsys):
    content = json.loads(said(capsys, "--json"))
    assert tuple(item["name"] for item in content["types"]) == load_library().names


def test_an_unknown_type_is_wrong_usage(capsys):
    assert main(["types", "6SN7"]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith("curvelab: no type named '6SN7'")
    assert "6SN7GT" in err
