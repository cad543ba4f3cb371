"""Use case: what the golden tubes' history in a lot file says of a bench."""

from __future__ import annotations

from pathlib import Path

from curvelab.bench_check.history import BenchHistory, judge_history
from curvelab.catalog.lot_file import open_lot
from curvelab.workbench.bench_check import load_check_limits
from curvelab.workbench.lot_bench import bench_name, golden_history

__all__ = ["bench_history"]


def bench_history(
    path: Path, bench: Path | None = None, against: str | None = None
) -> BenchHistory:
    """Return how well a bench repeats itself and whether it agrees.

    Parameters
    ----------
    bench : Path or None
        Its description; the bench without a name by default.
    against : str or None
        Name of another bench of the history; the bench itself of an earlier day by default.

    Raises
    ------
    CatalogError
        If the file cannot be read.
    BenchCheckError
        If it holds no golden reading of a bench, or what it keeps cannot be read.
    BenchDescriptionError
        If the bench description or the limits cannot be read.
    """
    name, limits = bench_name(bench), load_check_limits()
    with open_lot(path, write=False) as opened:
        return judge_history(golden_history(opened), name, against, limits)
