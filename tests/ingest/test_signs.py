"""Behaviour: signs, exchanged columns and supply volts, and near misses of each."""

from __future__ import annotations

import numpy as np
import pytest

from curvelab.errors import AmbiguousFileError
from curvelab.sweep import RemarkCode


def text_of(rows, heading="plate_v,grid_v,plate_ma", head=""):
    return head + heading + "\n" + "".join(",".join(map(str, row)) + "\n" for row in rows)


def family(type_name, plate_voltage, grid_voltage):
    """Return an invented type's current [A]."""
    if type_name != "T9":
        return None
    drive = np.maximum(np.asarray(grid_voltage) + np.asarray(plate_voltage) / 20.0, 0.0)
    return 0.8e-3 * drive**1.5


def codes(result):
    return {item.code for item in result.remarks}


def test_positive_grid_volts_that_mean_negative_bias(read, readings, same_family):
    result = read(text_of([(vp, -vg, ip) for vp, vg, ip in readings]))
    same_family(result.sweeps[0])
    assert result.sweeps[0].has_remark(RemarkCode.GRID_SIGN)
    assert not np.signbit(result.sweeps[0].readings.grid_voltage[0])


def test_a_positive_grid_that_draws_more_current_is_left(read):
    rows = [(vp, vg, round(vp / 10 + 3 * vg, 3)) for vg in (0, 2, 4) for vp in (50, 100, 150)]
    result = read(text_of(rows))
    assert RemarkCode.GRID_SIGN not in codes(result)
    assert result.sweeps[0].readings.grid_voltage.max() == 4


def test_a_single_positive_grid_step_is_told_by_the_type(read):
    rows = [(vp, 6, round(0.8 * max(vp / 20 - 6, 0) ** 1.5, 4)) for vp in (150, 200, 250, 300)]
    assert RemarkCode.GRID_SIGN not in codes(read(text_of(rows)))
    result = read(text_of(rows, head="# type: T9\n"), expected_current=family)
    assert RemarkCode.GRID_SIGN in codes(result)
    assert result.sweeps[0].readings.grid_voltage.tolist() == [-6] * 4


def test_exchanged_plate_and_grid(read, readings, same_family):
    result = read(text_of([(vg, vp, ip) for vp, vg, ip in readings]))
    same_family(result.sweeps[0])
    assert result.sweeps[0].has_remark(RemarkCode.SWAPPED)


def test_exchanged_with_positive_grid_volts_is_told_by_the_type(read, readings, same_family):
    rows = [(-vg, vp, ip) for vp, vg, ip in readings]
    result = read(text_of(rows, head="# type: T9\n"), expected_current=family)
    same_family(result.sweeps[0])
    assert {RemarkCode.SWAPPED, RemarkCode.GRID_SIGN} <= codes(result)


def test_a_right_file_is_not_exchanged(read, readings, same_family):
    for head in ("", "# type: T9\n"):
        result = read(text_of(readings, head=head), expected_current=family)
        same_family(result.sweeps[0])
        assert not codes(result) & {
            RemarkCode.SWAPPED,
            RemarkCode.GRID_SIGN,
            RemarkCode.REVERSED,
        }


def test_negative_plate_current_throughout(read, readings, same_family):
    result = read(text_of([(vp, vg, -ip) for vp, vg, ip in readings]))
    same_family(result.sweeps[0])
    assert result.sweeps[0].has_remark(RemarkCode.REVERSED)


def test_a_few_negative_currents_near_cut_off_are_left(read):
    rows = [(100, -2, 5), (150, -2, 9), (50, -8, -0.002), (100, -8, -0.001), (150, -8, 0.3)]
    result = read(text_of(rows))
    assert RemarkCode.REVERSED not in codes(result)
    assert result.sweeps[0].readings.plate_current.min() < 0


def with_grid_current(readings, sign, share=0.01):
    """Return rows whose reverse grid current [uA] follows the plate current."""
    rows = [(vp, vg - 4, ip) for vp, vg, ip in readings]
    return [(*row, round(sign * share * row[2], 5)) for row in rows]


GRID_HEADING = "plate_v,grid_v,plate_ma,grid_ua"


def test_reverse_grid_current_logged_positive(read, readings):
    result = read(text_of(with_grid_current(readings, 1), GRID_HEADING))
    assert result.sweeps[0].has_remark(RemarkCode.GRID_CURRENT_SIGN)
    assert result.sweeps[0].readings.grid_current.max() <= 0


def test_reverse_grid_current_logged_negative_is_left(read, readings):
    result = read(text_of(with_grid_current(readings, -1), GRID_HEADING))
    assert RemarkCode.GRID_CURRENT_SIGN not in codes(result)
    assert result.sweeps[0].readings.grid_current.max() <= 0


def test_electron_current_near_zero_grid_is_left(read):
    rows = [(vp, vg, vp / 20 + vg, max(0, 1 + vg)) for vg in (0, -1) for vp in (50, 100, 150)]
    result = read(text_of(rows, GRID_HEADING))
    assert RemarkCode.GRID_CURRENT_SIGN not in codes(result)


def test_a_constant_positive_grid_current_is_left(read, readings):
    rng = np.random.default_rng(1)
    rows = [(vp, vg - 4, ip, round(0.5 + 0.01 * rng.normal(), 5)) for vp, vg, ip in readings]
    result = read(text_of(rows, GRID_HEADING))
    assert RemarkCode.GRID_CURRENT_SIGN not in codes(result)
    assert result.sweeps[0].readings.grid_current.min() > 0


def test_magnitudes_keep_electrons_at_zero_grid(read, readings):
    rows = [*with_grid_current(readings, 1), (100, 0, 9, 6.0), (150, 0, 17, 7.0)]
    readings_found = read(text_of(rows, GRID_HEADING)).sweeps[0].readings
    assert readings_found.grid_current[-2:].tolist() == pytest.approx([6e-6, 7e-6])
    assert readings_found.grid_current[:-2].max() <= 0


@pytest.mark.parametrize(
    ("word", "sign"),
    [
        ("reverse positive", -1),
        ("reverse is positive", -1),
        ("positive = reverse", -1),
        ("electrons positive", 1),
        ("reverse negative", 1),
    ],
)
def test_the_files_own_word_on_grid_current(read, readings, word, sign):
    head = f"# grid current sign: {word}\n"
    result = read(text_of(with_grid_current(readings, 1), GRID_HEADING, head))
    found = result.sweeps[0].readings.grid_current
    assert (found * sign >= 0).all()
    remarks = [item for item in result.remarks if item.code is RemarkCode.GRID_CURRENT_SIGN]
    assert bool(remarks) is (sign < 0) and not any(item.guessed for item in remarks)


def test_supply_volts_are_corrected_to_electrode_volts(read):
    # Kirchhoff's voltage law by hand: 5 mA through 10 kohm and 1 kohm drop 55 V.
    head = "# plate resistor: 10k\n# cathode resistor: 1 kohm\n# grid resistor: 470k\n"
    (sweep,) = read(text_of([(200, 0, 5), (300, 0, 10)], head=head)).sweeps
    np.testing.assert_allclose(sweep.readings.plate_voltage, [145, 190])
    np.testing.assert_allclose(sweep.readings.grid_voltage, [-5, -10])
    assert sweep.has_remark(RemarkCode.SUPPLY)
    assert sweep.conditions.plate_resistor == 10e3


def test_a_grid_resistor_alone_corrects_nothing(read):
    (sweep,) = read(text_of([(200, -2, 5)], head="# grid resistor: 470k\n")).sweeps
    assert sweep.readings.plate_voltage.tolist() == [200]
    assert not sweep.has_remark(RemarkCode.SUPPLY)


def test_screen_current_flows_in_the_cathode_resistor_too(read):
    heading = "plate_v,grid_v,plate_ma,screen_v,screen_ma"
    text = text_of([(260, 0, 40, 260, 10)], heading, "# cathode resistor: 200\n")
    readings = read(text).sweeps[0].readings
    np.testing.assert_allclose(readings.grid_voltage, [-10])
    np.testing.assert_allclose(readings.plate_voltage, [250])
    np.testing.assert_allclose(readings.screen_voltage, [250])


def test_a_drop_larger_than_the_supply_is_asked_for(read):
    text = text_of([(200, -2, 5)], head="# plate resistor: 100k\n")
    with pytest.raises(AmbiguousFileError) as caught:
        read(text)
    (sweep,) = read(text, answers=(caught.value.choices[1],)).sweeps
    assert sweep.readings.plate_voltage.tolist() == [200]


def test_columns_without_heading_that_two_ways_would_fit_are_asked_for(read):
    with pytest.raises(AmbiguousFileError) as caught:
        read("100,50,5\n150,50,9\n200,50,14\n250,50,20\n")
    choice = "columns are plate voltage, grid voltage, plate current"
    assert choice in caught.value.choices
    (sweep,) = read("100,-2,5\n", answers=(choice,)).sweeps
    assert sweep.readings.grid_voltage.tolist() == [-2]


def test_a_zero_a_little_below_nothing_is_not_reversed(read):
    rng = np.random.default_rng(5)
    rows = [
        (vp, vg, round(-0.003 + 0.0003 * rng.normal(), 5))
        for vg in (0, -2, -4, -6)
        for vp in range(20, 260, 10)
    ]
    result = read(text_of(rows))
    assert RemarkCode.REVERSED not in codes(result)
    assert result.sweeps[0].readings.plate_current.max() < 0


def test_reversed_ammeter_in_a_log(read):
    result = read("time_s,plate_v,grid_v,plate_ma\n0,250,-8,-9\n60,250,-8,-8.9\n90,250,-8,-8.8\n")
    assert RemarkCode.REVERSED in codes(result)
    assert result.sweeps[0].readings.plate_current.min() > 0


def test_reversed_plate_voltage(read, readings):
    result = read(text_of([(-vp, vg, ip) for vp, vg, ip in readings]))
    assert RemarkCode.REVERSED in codes(result)
    assert result.sweeps[0].readings.plate_voltage.min() > 0


def test_exchanged_columns_of_a_single_zero_grid_curve(read, readings):
    result = read(text_of([(vg, vp, ip) for vp, vg, ip in readings if vg == 0]))
    assert RemarkCode.SWAPPED in codes(result)
    assert result.sweeps[0].readings.plate_voltage.max() == 250


def test_two_tubes_that_disagree_on_the_sign_of_grid_current_are_left(read, readings):
    rows = [("A1", *row) for row in with_grid_current(readings, 1)]
    rows += [("A2", *row) for row in with_grid_current(readings, -1)]
    result = read(text_of(rows, "tube," + GRID_HEADING))
    assert RemarkCode.GRID_CURRENT_SIGN not in codes(result)


@pytest.mark.parametrize(
    ("grid", "microamperes", "turned"),
    [(-8, 0.05, True), (-2, 0.05, True), (-8, -0.05, False), (-0.5, 0.05, False), (-8, 0.0, False)],
)
def test_a_logs_positive_grid_current_below_minus_2_v_is_reverse(read, grid, microamperes, turned):
    rng = np.random.default_rng(6)
    rows = "".join(
        f"{10 * k},250,{grid},{9 + 0.01 * rng.normal():.4f},"
        f"{microamperes + 0.002 * rng.normal():.4f}\n"
        for k in range(40)
    )
    result = read("time_s,plate_v,grid_v,plate_ma,grid_ua\n" + rows)
    assert (RemarkCode.GRID_CURRENT_SIGN in codes(result)) is turned
    if turned:
        assert np.median(result.sweeps[0].readings.grid_current) < 0
