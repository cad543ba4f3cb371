"""The fit of those readings that belong together, set back among all readings of the file."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from curvelab.assessment.connection import fit_as_connected, has_screen_grid, screen_known
from curvelab.assessment.set_ups import changed_rows
from curvelab.fitting.records import FitResult, LeftOut
from curvelab.fitting.sparse_screen import look_again
from curvelab.sweep.records import BoolArray, Sweep, SweepKind

__all__ = ["fit_parts"]


def fit_parts(sweeps: Sequence[Sweep]) -> tuple[FitResult, ...]:
    """Fit each sweep's readings under its usual set-up.

    A sweep of few readings a curve, or with a screen grid, is looked through for bench faults a
    second time, against its own fit, and fitted again without them.
    """
    chosen = [~changed_rows(sweep) for sweep in sweeps]
    fits = _fit(sweeps, chosen)
    again: dict[int, tuple[LeftOut, ...]] = {}
    for place, (sweep, fit) in enumerate(zip(sweeps, fits, strict=True)):
        if sweep.kind is not SweepKind.CURVES:
            continue
        if has_screen_grid(sweep) and not screen_known(sweep):
            continue
        spoilt = look_again(sweep.readings, chosen[place], fit)
        if spoilt:
            again[place] = spoilt
    if not again:
        return tuple(fits)
    for place, spoilt in again.items():
        chosen[place] = _without(chosen[place], spoilt)
    refits = _fit([sweeps[place] for place in again], [chosen[place] for place in again])
    for place, fit in zip(again, refits, strict=True):
        fits[place] = replace(fit, left_out=_joined(fit.left_out, again[place]))
    return tuple(fits)


def _without(chosen: BoolArray, spoilt: Sequence[LeftOut]) -> BoolArray:
    kept = chosen.copy()
    for item in spoilt:
        kept[item.readings] = False
    return kept


def _joined(first: Sequence[LeftOut], second: Sequence[LeftOut]) -> tuple[LeftOut, ...]:
    """Return one entry a reason."""
    reasons = dict.fromkeys(item.reason for item in (*first, *second))
    return tuple(
        LeftOut(
            reason,
            np.unique(
                np.concatenate([i.readings for i in (*first, *second) if i.reason is reason])
            ),
        )
        for reason in reasons
    )


def _fit(sweeps: Sequence[Sweep], chosen: Sequence[BoolArray]) -> list[FitResult]:
    parts = [
        sweep.readings if rows.all() else sweep.readings.take(rows)
        for sweep, rows in zip(sweeps, chosen, strict=True)
    ]
    fits = fit_as_connected(sweeps, parts)
    return [
        fit if rows.all() else _set_back(fit, rows) for fit, rows in zip(fits, chosen, strict=True)
    ]


def _set_back(fit: FitResult, rows: BoolArray) -> FitResult:
    """Return the fit of a part with its arrays as long as all readings of the file."""
    places = np.flatnonzero(rows)
    used = np.zeros(rows.size, dtype=bool)
    used[places] = fit.used
    residual, noise = np.full(rows.size, np.nan), np.full(rows.size, np.nan)
    residual[places], noise[places] = fit.residual, fit.noise
    for array in (used, residual, noise):
        array.setflags(write=False)
    left_out = tuple(LeftOut(item.reason, places[item.readings]) for item in fit.left_out)
    return replace(fit, used=used, residual=residual, noise=noise, left_out=left_out)
