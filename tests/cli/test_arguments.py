"""Behaviour and refusal: what may be written on the command line."""

from __future__ import annotations

from pathlib import Path

import pytest

from curvelab.cli.arguments import parse


def refusal(capsys, *arguments: str) -> str:
    with pytest.raises(SystemExit) as end:
        parse(arguments)
    assert end.value.code == 2
    return capsys.readouterr().err


def test_nothing_at_all_names_no_command():
    assert parse([]).command is None


def test_every_option_of_the_main_job_is_understood():
    arguments = parse(
        "characterize a.csv lot --type 6J5 --reference 6SN7GT --reference-curves drawn.csv "
        "--at 250,-8 --predict 300,-10 "
        "--predict 100,0,90 --bench bench.toml --json - --csv lot.csv --sheets out "
        "--workers 2".split()
    )
    assert arguments.paths == [Path("a.csv"), Path("lot")]
    assert (arguments.type, arguments.reference) == ("6J5", "6SN7GT")
    assert arguments.reference_curves == Path("drawn.csv")
    assert arguments.at == (250.0, -8.0)
    assert arguments.predict == [(300.0, -10.0), (100.0, 0.0, 90.0)]
    assert arguments.bench == Path("bench.toml")
    assert (arguments.json, arguments.csv, arguments.sheets) == ("-", "lot.csv", Path("out"))
    assert arguments.workers == 2


def test_what_is_not_given_is_left_to_the_job():
    arguments = parse(["characterize", "a.csv"])
    assert arguments.predict == []
    assert arguments.workers is None
    left = ("type", "reference", "reference_curves", "at", "bench", "json", "csv", "sheets")
    assert all(getattr(arguments, name) is None for name in left)


@pytest.mark.parametrize("point", ["250", "250,-8,90,1", "250;-8", "a,b", "nan,-8", "inf,-8", ""])
def test_what_is_no_point_is_refused(capsys, point):
    assert "is not a point" in refusal(capsys, "characterize", "a.csv", "--at", point)


@pytest.mark.parametrize("number", ["0", "two", "1.5", "²"])
def test_workers_are_whole_and_at_least_one(capsys, number):
    assert "whole number" in refusal(capsys, "characterize", "a.csv", "--workers", number)


def test_two_results_cannot_share_standard_output(capsys):
    said = refusal(capsys, "characterize", "a.csv", "--json", "-", "--csv", "-")
    assert "only one of --json and --csv" in said


@pytest.mark.parametrize("wrong", [["characterize"], ["characterise", "a"], ["types", "--js"]])
def test_wrong_usage_has_status_two_and_no_traceback(capsys, wrong):
    said = refusal(capsys, *wrong)
    assert said.startswith("usage: curvelab")
    assert "Traceback" not in said


def test_help_gives_exit_statuses_and_cautions(capsys):
    with pytest.raises(SystemExit) as end:
        parse(["characterize", "--help"])
    said = " ".join(capsys.readouterr().out.split())
    assert end.value.code == 0
    assert "Exit status: 0 done" in said
    assert "Lethal voltage" in said


@pytest.mark.parametrize(
    ("words", "name", "wanted"),
    [
        (["lot", "add", "a.lot", "--lot", "spring", "x.csv", "y.csv"], "paths", ["x.csv", "y.csv"]),
        (["lot", "add", "a.lot", "x.csv", "--again", "y.csv"], "paths", ["x.csv", "y.csv"]),
        (["lot", "mate", "a.lot", "--tolerance", "5", "A17"], "tube", "A17"),
        (["window", "--bench", "b.toml", "x.csv"], "paths", ["x.csv"]),
    ],
)
def test_options_may_stand_before_what_is_repeated(words, name, wanted):
    given = getattr(parse(words), name)
    assert (given if isinstance(given, str) else list(map(str, given))) == wanted


@pytest.mark.parametrize(
    "words",
    [
        ["lot", "add", "a.lot", "--lott", "spring", "x.csv"],
        ["lot", "mate", "a.lot", "A17", "--held", "A18"],
        ["lot", "list", "a.lot", "b.lot"],
    ],
)
def test_what_nothing_takes_is_wrong_usage(words, capsys):
    assert "unrecognized arguments" in refusal(capsys, *words)
