"""Behaviour and refusal: the bench and its accuracy as a file's metadata state them."""

from __future__ import annotations

import pytest

from curvelab.sweep.bench import MeterAccuracy

ROWS = "plate_v,grid_v,plate_ma\n250,-8,9.0\n250,-6,12.9\n200,-6,8.1\n"


def bench_of(read, *lines):
    """Return the bench of a file with these metadata."""
    (sweep,) = read("".join(f"# {line}\n" for line in lines) + ROWS).sweeps
    return sweep.bench


def test_each_meter_takes_its_own_figures(read):
    bench = bench_of(
        read,
        "bench: back room",
        "accuracy: plate current 0.5 % + 0.02 mA, resolution 0.01 mA; "
        "Vp 0.3 %; Vg ±(0.2 % + 10 mV)",
    )
    assert (bench.name, bench.assumed) == ("back room", False)
    assert bench.plate_current == MeterAccuracy(0.005, 20e-6, 10e-6)
    assert bench.plate_voltage == MeterAccuracy(0.003)
    assert bench.grid_voltage == MeterAccuracy(0.002, 0.01)
    assert bench.grid_current == MeterAccuracy()


@pytest.mark.parametrize("text", ["1 %", "1%", "± 1 % of reading", "+/-1 per cent", "1,0 %"])
def test_a_share_alone_holds_for_every_meter(read, text):
    bench = bench_of(read, f"accuracy: {text}")
    assert {bench.plate_current.gain, bench.plate_voltage.gain, bench.grid_voltage.gain} == {0.01}
    assert not bench.assumed


def test_a_name_alone_says_nothing_of_the_accuracy(read):
    bench = bench_of(read, "bench: back room")
    assert (bench.name, bench.assumed) == ("back room", True)
    assert bench_of(read) is None


@pytest.mark.parametrize(
    "text",
    [
        "good",
        "about +/-2 V of plate voltage, +/-0.01 mA",
        "0.5 % of full scale",
        "Ip 0.5",
        "Ip 0.5 V",
        "Ip 80 %",
        "+/-0.15 mA; the 2.75 W line reads back within 1 %",
    ],
)
def test_what_is_not_a_meters_figure_is_kept_in_words_only(read, text):
    (sweep,) = read(f"# accuracy: {text}\n{ROWS}").sweeps
    assert sweep.bench is None
    assert sweep.metadata["accuracy"] == text
    assert any("not understood" in remark.text for remark in sweep.remarks)
