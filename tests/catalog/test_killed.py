"""Behaviour: a program killed while it writes loses nothing that was saved.

``CURVELAB_KILLS`` in the environment sets how many processes are killed.
"""

from __future__ import annotations

import json
import os
import sys

import pytest

from helpers.checkout import ROOT, run_command

KILLS = int(os.environ.get("CURVELAB_KILLS", "60"))


@pytest.mark.skipif(not hasattr(os, "fork"), reason="this system has no processes to fork")
@pytest.mark.timeout(60 + KILLS)
def test_nothing_saved_is_lost_to_kills_at_random_moments(tmp_path):
    result = run_command(
        sys.executable, str(ROOT / "tests" / "helpers" / "killing.py"),
        str(tmp_path), str(KILLS), "20310301",
        environment={**os.environ, "PYTHONPATH": str(ROOT)},
    )  # fmt: skip
    assert result.returncode == 0, result.stderr
    told = json.loads(result.stdout)
    assert told["problems"] == []
    assert told["runs"] == KILLS // 3 * 3
    assert told["saved"] > KILLS  # they were killed in the midst of work, not before it
