"""The fixed sentences of a sheet."""

from __future__ import annotations

from types import MappingProxyType

from curvelab.health.records import Verdict

__all__ = ["CAUTIONS", "NOT_SAID", "SET_BY_PERSON", "VERDICT_MEANING"]

VERDICT_MEANING = MappingProxyType(
    {
        Verdict.ACCEPT: "nothing found that speaks against it",
        Verdict.HOLD: "a person must decide",
        Verdict.REJECT: "not fit for use as it is",
    }
)

SET_BY_PERSON = "set by a person; reason below"

CAUTIONS = (
    "Lethal voltage: a tube bench kills, and its capacitors hold their charge after it is "
    "switched off; discharge them and measure before touching anything.",
    "Glass stays hot enough to burn long after a test; a worn socket or clip can arc.",
    "The bench's own interlocks, local codes and licensed practice go before anything said here. "
    "No figure here is advice to exceed a rating.",
)

NOT_SAID = (
    "Noise, microphony and life were not tested. The figures hold for this bench, on the day of "
    "the readings, at the conditions stated."
)
