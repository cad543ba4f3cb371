"""The sets of a lot file as plain values for JSON, schema ``curvelab.sets/1``."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

from curvelab import __version__
from curvelab.catalog.records import TubeSet
from curvelab.sheets.text import plain

__all__ = ["sets_document"]


def sets_document(sets: Sequence[TubeSet]) -> dict[str, Any]:
    """Return every set there ever was, oldest first."""
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
                    }
                    for member in one.members
                ],
                "matched": json.loads(one.payload),
            }
            for one in sets
        ],
    }
