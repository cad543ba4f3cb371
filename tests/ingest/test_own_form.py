"""Round trip: what the program writes it reads back to the same numbers."""

from __future__ import annotations

from dataclasses import fields

import numpy as np
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from curvelab.ingest import read_file, write_sweep
from curvelab.sweep import Conditions, Readings, SourceFile, Sweep, SweepKind

SOURCE = SourceFile(name="x.csv", path="x.csv", sha256="", content=b"")


def assert_same(first, second):
    for item in fields(Readings):
        if item.name == "line":
            continue
        one, two = getattr(first.readings, item.name), getattr(second.readings, item.name)
        assert (one is None) == (two is None), item.name
        if one is not None:
            np.testing.assert_array_equal(one, two, err_msg=item.name)
    assert first.conditions == second.conditions
    for name in ("tube", "section", "type_label", "kind"):
        assert getattr(first, name) == getattr(second, name)


def back(sweep, tmp_path):
    path = tmp_path / "out.csv"
    path.write_text(write_sweep(sweep), encoding="utf-8")
    result = read_file(path)
    assert result.set_aside == ()
    assert not any(remark.guessed for remark in result.remarks)
    (found,) = result.sweeps
    return found


def test_a_file_in_milliamperes_is_written_in_milliamperes(read, tmp_path):
    (sweep,) = read(
        "# tube: A17\n# type: 6SN7GTB\n# lot: 4\nplate_v,grid_v,plate_ma,grid_ua\n"
        "100,-3,5.123,-0.05\n150,-3,9.9,-0.09\n"
    ).sweeps
    text = write_sweep(sweep)
    assert "plate_v,grid_v,plate_ma,grid_ua\n100.0,-3.0,5.123,-0.05\n" in text
    assert "# lot: 4" in text
    assert_same(sweep, back(sweep, tmp_path))


def test_signs_and_corrections_are_not_applied_twice(read, tmp_path):
    (sweep,) = read(
        "# plate resistor: 1k\n# grid current sign: reverse positive\n"
        "plate_v,grid_v,plate_ma,grid_ua,direction\n100,2,5,0.05,up\n150,2,9,0.09,up\n"
        "100,3,4,0.04,down\n150,3,8,0.08,\n"
    ).sweeps
    assert sweep.readings.plate_voltage[0] == 95 and sweep.readings.grid_voltage[0] == -2
    assert_same(sweep, back(sweep, tmp_path))


def test_all_conditions(tmp_path):
    conditions = Conditions(
        connection="triode-connected",
        filament="DC",
        filament_return="negative end",
        screen_voltage=250.0,
        heater_voltage=6.3,
        heater_current=0.1 + 0.2,
        warm_up=312.5,
        plate_resistor=100.0,
        cathode_resistor=0.5,
        grid_resistor=470e3,
        heater_cathode_leakage=1.2e-5,
        heater_cathode_voltage=100.0,
        shorts="g-k",
        tap_test="quiet",
    )
    readings = Readings(np.array([100.0]), np.array([-2.0]), np.array([5e-3]), np.array([1]))
    sweep = Sweep("A 1", "2", "2A3", SweepKind.CURVES, readings, SOURCE, conditions)
    assert_same(sweep, back(sweep, tmp_path))


def test_a_name_with_line_ends_stays_one_line(tmp_path):
    readings = Readings(np.array([100.0]), np.array([-2.0]), np.array([5e-3]), np.array([1]))
    sweep = Sweep(
        "A\n# type: X\n1", None, None, SweepKind.CURVES, readings, SOURCE,
        metadata={"no\nte": "a\r\nplate_v = 3", "grid_v": "-9"},
    )  # fmt: skip
    found = back(sweep, tmp_path)
    assert found.tube == "A # type: X 1" and found.type_label is None
    assert found.readings.grid_voltage.tolist() == [-2.0]


def test_blanks_within_a_name_are_kept(tmp_path):
    readings = Readings(np.array([100.0]), np.array([-2.0]), np.array([5e-3]), np.array([1]))
    sweep = Sweep("A  1", None, None, SweepKind.CURVES, readings, SOURCE)
    assert back(sweep, tmp_path).tube == "A  1"


VOLTS = st.floats(-1e4, 1e4, allow_subnormal=False)
AMPERES = st.floats(-1e3, 1e3, allow_subnormal=False)


@st.composite
def sweeps(draw):
    """Draw a sweep of up to eight readings with any of the optional columns."""
    size = draw(st.integers(1, 8))

    def column(values):
        return np.array(draw(st.lists(values, min_size=size, max_size=size)))

    def optional(values):
        if not draw(st.booleans()):
            return None
        found = column(st.one_of(values, st.just(np.nan)))
        return None if np.isnan(found).all() else found

    ways = draw(st.lists(st.sampled_from([-1, 0, 1]), min_size=size, max_size=size))
    readings = Readings(
        plate_voltage=column(VOLTS),
        grid_voltage=column(VOLTS),
        plate_current=column(AMPERES),
        line=np.arange(size),
        grid_current=optional(AMPERES),
        screen_voltage=optional(VOLTS),
        screen_current=optional(AMPERES),
        heater_voltage=optional(VOLTS),
        time=optional(st.floats(0, 1e7, allow_subnormal=False)),
        direction=np.array(ways) if any(ways) and draw(st.booleans()) else None,
    )
    names = st.from_regex(r"[A-Za-z0-9][A-Za-z0-9 .\-]{0,8}[A-Za-z0-9]", fullmatch=True)
    return Sweep(
        tube=draw(names),
        section=draw(st.one_of(st.none(), names)),
        type_label=draw(st.one_of(st.none(), names)),
        kind=draw(st.sampled_from(SweepKind)),
        readings=readings,
        source=SOURCE,
        metadata={"lot": draw(names)},
    )


@settings(
    max_examples=120,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(sweeps())
def test_any_sweep_comes_back_exactly(tmp_path, sweep):
    found = back(sweep, tmp_path)
    assert_same(sweep, found)
    assert found.metadata["lot"] == sweep.metadata["lot"]
