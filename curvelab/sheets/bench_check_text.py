"""A bench check as lines of text, with the cautions that belong to it."""

from __future__ import annotations

from datetime import datetime, timedelta

from curvelab.bench_check.empty_socket import EMPTY_SOCKET_CAUTION
from curvelab.bench_check.resistor import RESISTOR_CAUTION
from curvelab.bench_check.verdict import BenchCheck
from curvelab.sheets.text import plain
from curvelab.sheets.wording import CAUTIONS

__all__ = ["bench_check_lines"]


def bench_check_lines(check: BenchCheck) -> tuple[str, ...]:
    """Return what a person reads: the standing, every sentence, the cautions."""
    cautions = [*CAUTIONS]
    cautions += [RESISTOR_CAUTION] if check.resistor is not None else []
    cautions += [EMPTY_SOCKET_CAUTION] if check.empty_socket is not None else []
    return (
        f"Check of {_moment(check.date)}, bench {plain(check.bench)}: {check.standing.value}",
        *(plain(sentence) for sentence in check.sentences),
        *cautions,
    )


def _moment(date: str) -> str:
    """Return a date, or to the minute a moment, as a person writes it."""
    try:
        moment = datetime.fromisoformat(date)
    except ValueError:
        return plain(date)
    zone = " UTC" if moment.utcoffset() == timedelta(0) else ""
    return f"{moment:%Y-%m-%d %H:%M}{zone}" if "T" in date else date
