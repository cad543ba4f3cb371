"""Published: readings of printed curves, each file with its source in its first lines."""

from __future__ import annotations

from pathlib import Path

import pytest

from curvelab.ingest import read_file
from curvelab.sweep import SweepKind

FOLDER = Path(__file__).parents[1] / "data" / "outside"

# File, readings, type, connection, screen volts, and its largest printed current [mA].
FILES = [
    ("C1-12AX7-triode.csv", 45, "12AX7", "triode", None, 2.025),
    ("C3-EL84-triode.csv", 46, "EL84", "triode-connected", None, 176.3),
    ("C4-EL84-pentode.csv", 58, "EL84", "pentode", 250.0, 154.3),
    ("C5-12AU7-triode.csv", 28, "12AU7", "triode", None, 24.82),
    ("C6-6SL7GT-triode.csv", 24, "6SL7GT", "triode", None, 5.0),
    ("D1-6SN7GT-triode.csv", 139, "6SN7GT", "triode", None, 19.5),
    ("D4-6V6-tetrode.csv", 153, "6V6", "pentode", 250.0, 110.1),
    ("textbook-family.csv", 17, "textbook triode", None, None, 21.5),
]


@pytest.mark.parametrize(("name", "count", "kind", "connection", "screen", "largest"), FILES)
def test_published_readings(name, count, kind, connection, screen, largest):
    result = read_file(FOLDER / name)
    (sweep,) = result.sweeps
    assert len(sweep.readings) == count
    assert (sweep.type_label, sweep.kind) == (kind, SweepKind.CURVES)
    assert sweep.conditions.connection == connection
    assert sweep.conditions.screen_voltage == screen
    assert sweep.readings.plate_current.max() == pytest.approx(largest * 1e-3)
    assert sweep.metadata["source"]
    assert result.set_aside == ()
    assert not any(remark.guessed for remark in result.remarks)


def test_every_file_of_the_folder_is_checked():
    assert {path.name for path in FOLDER.glob("*.csv")} == {item[0] for item in FILES}
