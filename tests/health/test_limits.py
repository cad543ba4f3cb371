"""Behaviour and refusal: the house limits as a user edits them."""

from __future__ import annotations

import tomllib
from dataclasses import fields

import pytest

from curvelab.errors import BenchDescriptionError
from curvelab.health.limits import COMMON_PRACTICE, HOUSE_RULE, HouseLimits
from helpers.checkout import ROOT

FILE = ROOT / "resources" / "house_limits.toml"


def test_the_file_names_every_limit_with_the_value_built_in() -> None:
    values = tomllib.loads(FILE.read_text(encoding="utf-8"))
    assert set(values) == {item.name for item in fields(HouseLimits)}
    assert HouseLimits.from_mapping(values) == HouseLimits()


def test_values_are_printed_units_outside_and_si_inside() -> None:
    limits = HouseLimits()
    assert limits.reverse_grid_current.value == pytest.approx(1e-4)
    assert limits.heater_cathode_leakage.value == pytest.approx(20e-6)
    assert limits.heater_cathode_leakage.printed == 20
    assert limits.drift_band.value == pytest.approx(0.02)


def test_a_changed_limit_becomes_a_house_rule() -> None:
    limits = HouseLimits.from_mapping({"heater_cathode_leakage": 10, "warm_up": 180})
    assert limits.heater_cathode_leakage.value == pytest.approx(10e-6)
    assert limits.heater_cathode_leakage.source == HOUSE_RULE
    assert limits.warm_up.source == COMMON_PRACTICE
    assert limits.noise == HouseLimits().noise


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"warmup": 60}, "no limit is named 'warmup'"),
        ({"warm_up": "long"}, "must be a number"),
        ({"warm_up": True}, "must be a number"),
        ({"warm_up": float("nan")}, "must be a number"),
        ({"warm_up": -60}, "must be above 0"),
        ({"electron_grid_voltage": 1.0}, "must be below 0"),
    ],
)
def test_senseless_limits_are_refused(values: dict[str, object], words: str) -> None:
    with pytest.raises(BenchDescriptionError, match=words):
        HouseLimits.from_mapping(values)
