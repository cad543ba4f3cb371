"""Behaviour: what the file states of leakage, shorts and warm-up, and what its reader turned.

Limits: 20 uA between heater and cathode and 180 s of warm-up are common practice, no source.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from curvelab.health import heater_cathode, off_sign, short, swapped, warm_up
from curvelab.health.case import Case
from curvelab.health.records import FindingCode, Severity
from curvelab.sweep.records import Conditions, Remark, RemarkCode
from helpers.cases import case_of, sweep_of
from simulator.records import as_sweep
from simulator.tubes import healthy_tube

SWEEP = sweep_of(healthy_tube("6SN7GTB", np.random.default_rng(1)))


def stated(**conditions: object) -> Case:
    """Return a case whose file states these conditions."""
    return case_of(SWEEP, conditions=Conditions(**conditions))


def remarked(code: RemarkCode, *, guessed: bool = True) -> Case:
    """Return a case whose reader left a remark."""
    remark = Remark(code, "The reader turned something.", guessed=guessed)
    return case_of(SWEEP, sweep=replace(as_sweep(SWEEP), remarks=(remark,)))


@pytest.mark.parametrize(
    ("leakage", "severity"),
    [(25e-6, Severity.CAUTION), (-25e-6, Severity.CAUTION), (150e-6, Severity.REJECT)],
)
def test_heater_cathode_leakage(leakage: float, severity: Severity) -> None:
    case = stated(heater_cathode_leakage=leakage, heater_cathode_voltage=100.0)
    (found,) = heater_cathode.find(case)
    assert (found.code, found.severity) == (FindingCode.HEATER_CATHODE, severity)
    assert found.value == pytest.approx(abs(leakage) * 1e6)
    assert "100 V" in found.evidence


@pytest.mark.parametrize("leakage", [None, 0.0, 15e-6])
def test_little_heater_cathode_leakage_raises_nothing(leakage: float | None) -> None:
    assert list(heater_cathode.find(stated(heater_cathode_leakage=leakage))) == []


def test_a_stated_short_rejects() -> None:
    (found,) = short.find(stated(shorts="grid to cathode"))
    assert (found.code, found.severity) == (FindingCode.SHORT, Severity.REJECT)
    assert "grid to cathode" in found.evidence


@pytest.mark.parametrize("shorts", [None, "", "none", "None.", "no"])
def test_no_short_raises_nothing(shorts: str | None) -> None:
    assert list(short.find(stated(shorts=shorts))) == []


def test_a_short_warm_up_is_a_note() -> None:
    (found,) = warm_up.find(stated(warm_up=60.0))
    assert (found.code, found.severity) == (FindingCode.SHORT_WARM_UP, Severity.NOTE)
    assert (found.value, found.limit, found.unit) == (60.0, 180.0, "s")


@pytest.mark.parametrize("seconds", [None, 180.0, 600.0])
def test_a_full_warm_up_raises_nothing(seconds: float | None) -> None:
    assert list(warm_up.find(stated(warm_up=seconds))) == []


@pytest.mark.parametrize(
    "code", [RemarkCode.GRID_SIGN, RemarkCode.GRID_CURRENT_SIGN, RemarkCode.REVERSED]
)
def test_a_turned_sign_is_a_note(code: RemarkCode) -> None:
    (found,) = off_sign.find(remarked(code))
    assert (found.code, found.severity) == (FindingCode.OFF_SIGN, Severity.NOTE)
    assert found.evidence == "The reader turned something."


def test_a_grid_current_sign_that_the_file_states_is_no_finding() -> None:
    assert list(off_sign.find(remarked(RemarkCode.GRID_CURRENT_SIGN, guessed=False))) == []
    assert list(off_sign.find(remarked(RemarkCode.LAYOUT))) == []


def test_swapped_columns_are_a_caution() -> None:
    (found,) = swapped.find(remarked(RemarkCode.SWAPPED))
    assert (found.code, found.severity) == (FindingCode.SWAPPED, Severity.CAUTION)
    assert list(swapped.find(remarked(RemarkCode.REVERSED))) == []
