"""The sets of a lot file as plain values for JSON, schema ``curvelab.sets/1``."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import Any

from curvelab import __version__
from curvelab.catalog.records import TubeSet
from curvelab.health.records import Verdict
from curvelab.sheets.text import plain

__all__ = ["sets_document"]


def sets_document(
    sets: Sequence[TubeSet], verdicts: Mapping[tuple[str, str], Verdict | None]
) -> dict[str, Any]:
    """Return every set there ever was, oldest first.

    Parameters
    ----------
    verdicts : mapping of (str, str) to Verdict or None
        How the tubes stand today, by serial and lot.
    """
    return {
        "schema": "curvelab.sets/1",
        "made_with": f"curvelab {__version__}",
        "sets": [
            {
                "name": plain(one.name),
                "state": one.state.value,
                "made_at": one.made_at.isoformat(),
                "members": [
                    {
                        "serial": plain(member.serial),
                        "lot": plain(member.lot),
                        "spare": member.spare,
                        "verdict": verdicts.get((member.serial, member.lot)),
                    }
                    for member in one.members
                ],
                "matched": json.loads(one.payload),
            }
            for one in sets
        ],
    }
