"""Refusal: currents and voltages that no tube bench can have made are never taken as read."""

from __future__ import annotations

import numpy as np
import pytest

from curvelab.errors import AmbiguousFileError, SweepFileError


def rows(scale: float = 1.0, top: float = 0.0) -> str:
    lines = [
        f"{plate},{grid},{scale * 0.88 * max(grid + plate / 20 + 0.5, 0) ** 1.5 + top:.6g}"
        for grid in (0, -4, -8)
        for plate in range(50, 301, 25)
    ]
    return "\n".join(lines) + "\n"


def test_milliamperes_under_a_heading_of_amperes_are_asked_about(read):
    text = "plate_v,grid_v,Ip (A)\n" + rows()
    with pytest.raises(AmbiguousFileError, match=r"stated in A and reaches 53\.7 A") as caught:
        read(text)
    assert caught.value.choices == (
        "plate current in mA", "plate current in µA", "plate current in A",
    )  # fmt: skip
    (sweep,) = read(text, answers=("plate current in mA",)).sweeps
    assert sweep.readings.plate_current.max() == pytest.approx(53.7e-3, rel=1e-3)
    (sweep,) = read(text, answers=("plate current in A",)).sweeps
    assert sweep.readings.plate_current.max() == pytest.approx(53.7, rel=1e-3)


def test_a_large_tube_in_amperes_is_believed(read):
    (sweep,) = read("plate_v,grid_v,Ip (A)\n" + rows(0.015)).sweeps
    assert sweep.readings.plate_current.max() == pytest.approx(0.81, rel=1e-2)


def test_single_slips_are_set_aside_with_their_reason(read):
    text = "plate_v,grid_v,plate_ma\n" + rows() + "250,-8,1e9\n9e7,-8,9\n250,-80000,9\n"
    found = read(text)
    (sweep,) = found.sweeps
    assert len(sweep.readings) == 33
    assert [item.line for item in found.set_aside] == [35, 36, 37]
    assert "plate current 1e+06 A is beyond any tube bench" in found.set_aside[0].reason
    assert found.set_aside[1].text == "9e7,-8,9"
    assert np.isfinite(sweep.readings.plate_current).all()


def test_a_file_of_nothing_but_slips_is_refused(read):
    with pytest.raises(
        SweepFileError, match=r"none of its 33 rows.*beyond any tube bench"
    ) as caught:
        read("plate_v,grid_v,plate_ma\n" + rows(top=1e12))
    assert caught.value.line == 2


def test_a_tube_of_nothing_but_slips_leaves_the_others(read):
    text = "tube,plate_v,grid_v,plate_ma\nB,250,-8,1e12\nB,240,-8,1e12\n"
    text += "".join(f"A,{line}\n" for line in rows().splitlines())
    found = read(text)
    assert [sweep.tube for sweep in found.sweeps] == ["A"]
    assert [item.line for item in found.set_aside] == [2, 3]
