"""A bench check as lines of text, with the cautions that belong to it."""

from __future__ import annotations

from curvelab.bench_check.empty_socket import EMPTY_SOCKET_CAUTION
from curvelab.bench_check.resistor import RESISTOR_CAUTION
from curvelab.bench_check.verdict import BenchCheck
from curvelab.sheets.text import plain
from curvelab.sheets.wording import CAUTIONS
from curvelab.sweep.bench import UNSTATED_BENCH

__all__ = ["bench_check_lines"]


def bench_check_lines(check: BenchCheck) -> tuple[str, ...]:
    """Return what a person reads: the standing, every sentence, the cautions."""
    cautions = [*CAUTIONS]
    cautions += [RESISTOR_CAUTION] if check.resistor is not None else []
    cautions += [EMPTY_SOCKET_CAUTION] if check.empty_socket is not None else []
    return (
        f"Bench check of {_bench(check.bench)}, {check.date}: {check.standing.value}",
        *(plain(sentence) for sentence in check.sentences),
        *cautions,
    )


def _bench(name: str) -> str:
    return "a bench without a name" if name == UNSTATED_BENCH.name else plain(name)
