"""Refusal: a file that is no sweep is refused in one plain sentence, and nothing else happens."""

from __future__ import annotations

import os
import socket
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from curvelab.errors import AmbiguousFileError, SweepFileError
from curvelab.ingest import MAX_BYTES, read_file


def refused(read, content, *, line=None, match=""):
    with pytest.raises(SweepFileError, match=match) as caught:
        read(content)
    error = caught.value
    assert error.path.endswith("A17.csv") and error.line == line
    assert "\n" not in error.reason and len(error.reason) < 240
    return error


@pytest.mark.parametrize("content", [b"", b"\n\n", b"\xef\xbb\xbf", b"  \r\n\t", b"\xff\xfe\n\x00"])
def test_empty_file(read, content):
    refused(read, content, match="empty")


def test_binary_junk(read):
    for content in (
        bytes(range(256)) * 10,
        b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR" + b"\1" * 100,
        b"PK\3\4" + b"\x14\0\6\0" * 40,
        np.random.default_rng(4).bytes(5000),
    ):
        refused(read, content, match="binary")


def test_headings_only(read):
    refused(read, "# tube: A1\nplate_v,grid_v,plate_ma\n", line=2, match="no readings under")
    refused(read, "Vp;-2 V;-4 V\n", line=1, match="no readings under")


def test_metadata_only(read):
    refused(read, "# tube: A1\n# type: 2A3\n", match="no heading and no readings")


def test_prose(read):
    refused(read, "Dear customer,\nthe tubes are fine.\nRegards\n", match="no")


def test_no_row_can_be_read(read):
    refused(
        read,
        "plate_v,grid_v,plate_ma\n100,-2,OL\n150,-2,OL\n",
        line=2,
        match="none of its 2 rows.*over the meter",
    )


def test_decimal_commas_between_commas(read):
    refused(
        read, "Vp,Vg,Ip (mA)\n100,5,-2,0,9,1\n", line=2, match="6 cells where the heading has 3"
    )


@pytest.mark.parametrize(
    ("heading", "missing"),
    [
        ("plate_v,grid_v,room", "plate current"),
        ("plate_v,plate_ma,room", "grid voltage"),
        ("grid_v,plate_ma,room", "plate voltage"),
    ],
)
def test_a_heading_without_a_required_quantity(read, heading, missing):
    refused(read, f"\n{heading}\n1,2,3\n4,5,6\n", line=2, match=f"names no {missing}")


def test_numbers_without_a_heading(read):
    refused(read, "1,2,3,4\n5,6,7,8\n", line=1, match="no heading.*4 columns")
    refused(read, "x,y,z,w\n1,2,3,4\n5,6,7,8\n", line=2, match="no heading.*4 columns")


def test_wide_file_whose_axes_cannot_be_told(read):
    text = ";10;20\n5;1;2\n25;3;4\n"
    refused(read, text, line=1, match="plate from grid")
    with pytest.raises(AmbiguousFileError) as caught:
        read(text)
    (sweep,) = read(text, answers=(caught.value.choices[1],)).sweeps
    assert sorted(set(sweep.readings.plate_voltage)) == [10, 20]


def test_wide_file_of_screen_steps(read):
    refused(read, "Vp;Vg2=200 V;Vg2=250 V\n50;1;2\n", line=1, match="steps of screen voltage")


def test_too_large(write):
    path = write(b"plate_v,grid_v,plate_ma\n" + b"100,-2,5\n" * 200)
    with pytest.raises(SweepFileError, match=r"up to 0\.001 MB"):
        read_file(path, max_bytes=1000)
    assert 1_000_000 < MAX_BYTES < 2**31


def test_ten_million_rows_are_refused_for_their_size_without_being_loaded(tmp_path):
    path = tmp_path / "huge.csv"
    with path.open("wb") as file:
        file.truncate(10_000_000 * 12)  # a sparse file: no disk is used
    with pytest.raises(SweepFileError, match="120 MB"):
        read_file(path)


def test_a_missing_file(tmp_path):
    with pytest.raises(SweepFileError, match="no such file"):
        read_file(tmp_path / "none.csv")


def test_a_name_that_cannot_be_one(tmp_path):
    with pytest.raises(SweepFileError, match="name"):
        read_file(tmp_path / "a\0b.csv")


def test_a_folder(tmp_path):
    (tmp_path / "A17.csv").mkdir()
    with pytest.raises(SweepFileError, match="folder"):
        read_file(tmp_path / "A17.csv")


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no named pipes here")
def test_a_pipe(tmp_path):
    os.mkfifo(tmp_path / "A17.csv")
    with pytest.raises(SweepFileError, match="pipe"):
        read_file(tmp_path / "A17.csv")


@pytest.mark.skipif(not hasattr(socket, "AF_UNIX"), reason="no local sockets here")
def test_a_socket(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    with socket.socket(socket.AF_UNIX) as bound:
        bound.bind("A17.csv")
        with pytest.raises(SweepFileError, match="regular"):
            read_file(tmp_path / "A17.csv")


@pytest.mark.skipif(not hasattr(os, "geteuid"), reason="no users here")
@pytest.mark.skipif(os.name == "posix" and os.geteuid() == 0, reason="root may read everything")
def test_a_file_that_may_not_be_read(write):
    path = write("plate_v,grid_v,plate_ma\n100,-2,5\n")
    path.chmod(0)
    with pytest.raises(SweepFileError, match="permission"):
        read_file(path)


@pytest.mark.skipif(not Path("/proc/self/mem").exists(), reason="no such file here")
def test_a_file_that_fails_while_it_is_read():
    with pytest.raises(SweepFileError, match=r"^/proc/self/mem: the file cannot be opened"):
        read_file(Path("/proc/self/mem"))


WORDS = (
    'plate_v grid_v plate_ma Vp Vg=-2 -2V Ip(mA) time 12:30 100 -2 5.5 5,5 OL # : = ; , \t | " '
    "' sep=; tube section up 1e308 1e9 nan \u2212 \u00b5 \x0b \u3000 -- V mA 1'000 Rk 4k7 ( [ "
    "\\ / @ \ufeff conventions settled kind"
)
PIECES = st.sampled_from([*WORDS.split(" "), "\n", "\r", "\n\n", " "])


@settings(
    max_examples=120,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(st.binary(max_size=300))
def test_any_bytes_are_read_or_refused(tmp_path, content):
    path = tmp_path / "any.csv"
    path.write_bytes(content)
    try:
        read_file(path)
    except SweepFileError as error:
        assert error.path == str(path)


@settings(
    max_examples=200,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(st.lists(PIECES, max_size=60).map("".join), st.sampled_from(["utf-8", "utf-16", "cp1252"]))
def test_any_text_of_the_trade_is_read_or_refused(tmp_path, text, encoding):
    path = tmp_path / "any.csv"
    path.write_bytes(text.encode(encoding, errors="replace"))
    try:
        result = read_file(path)
    except SweepFileError as error:
        assert error.path == str(path)
    else:
        assert all(len(sweep.readings) for sweep in result.sweeps)


CELLS = st.one_of(
    st.floats(allow_nan=True, allow_infinity=True).map(repr),
    st.integers(-400, 400).map(str),
    st.sampled_from(["", "OL", "-", "x", "1,5", "12:00", "0", "250", "-8", "9e8"]),
)


@settings(
    max_examples=150,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(
    st.lists(st.lists(CELLS, min_size=1, max_size=6), max_size=12),
    st.sampled_from(
        [
            "plate_v,grid_v,plate_ma,grid_ua,screen_ma",
            "Vp,Vg,Ip,Ig,time",
            "Vp,-2 V,-4 V,Ig @ -2V,0",
            "",
            "# Rk: 1k\n# Rp: 10k\nVp,Vg,Ip,direction,tube",
        ]
    ),
)
def test_any_cells_under_a_heading_are_read_or_refused(tmp_path, rows, heading):
    path = tmp_path / "any.csv"
    path.write_text("\n".join([heading, *(",".join(row) for row in rows)]), encoding="utf-8")
    try:
        result = read_file(path, expected_current=lambda kind, vp, vg: np.abs(vp) * 1e-5)
    except SweepFileError as error:
        assert error.path == str(path)
    else:
        count = sum(len(sweep.readings) for sweep in result.sweeps)
        assert count + len(result.set_aside) > 0
