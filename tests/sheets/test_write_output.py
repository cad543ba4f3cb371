"""Behaviour and refusal: a result is the old file or the new one, and an error is one line."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from curvelab.errors import OutputError
from curvelab.sheets.output import write_output


def test_writes_and_replaces(tmp_path):
    target = tmp_path / "a.csv"
    write_output(target, b"old")
    write_output(target, b"new")
    assert target.read_bytes() == b"new"
    assert list(tmp_path.iterdir()) == [target]


def test_the_file_may_be_read_by_those_the_user_allows(tmp_path):
    target = tmp_path / "a.csv"
    write_output(target, b"x")
    ordinary = tmp_path / "b.csv"
    ordinary.write_bytes(b"x")
    assert target.stat().st_mode == ordinary.stat().st_mode


def _unwritable(tmp_path: Path, why: str) -> Path:
    if why == "missing":
        return tmp_path / "nowhere" / "a.csv"
    if why == "a file":
        (tmp_path / "file").write_text("x")
        return tmp_path / "file" / "a.csv"
    if why == "a folder of that name":
        (tmp_path / "a.csv" / "inside").mkdir(parents=True)
        return tmp_path / "a.csv"
    folder = tmp_path / "locked"
    folder.mkdir()
    folder.chmod(0o555)
    # The superuser writes anywhere but where the kernel itself refuses.
    return (Path("/proc") if os.geteuid() == 0 else folder) / "a.csv"


@pytest.mark.parametrize("why", ["missing", "a file", "a folder of that name", "read-only"])
def test_a_place_that_cannot_be_written_is_named_with_the_reason(tmp_path, why):
    target = _unwritable(tmp_path, why)
    with pytest.raises(OutputError) as caught:
        write_output(target, b"x")
    message = str(caught.value)
    assert message.startswith(f"cannot write {target}: ")
    assert "\n" not in message
    assert not list(tmp_path.rglob("*.part"))
