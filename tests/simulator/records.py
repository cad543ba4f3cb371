"""From a simulated sweep straight to curvelab's record, without a file between."""

from __future__ import annotations

import hashlib

import numpy as np

from curvelab.sweep.records import Conditions, Readings, SourceFile, Sweep, SweepKind

from .bench import SimulatedSweep

__all__ = ["as_sweep"]


def as_sweep(
    sweep: SimulatedSweep,
    tube: str = "SIM-1",
    *,
    section: str | None = None,
    conditions: Conditions | None = None,
    kind: SweepKind = SweepKind.CURVES,
) -> Sweep:
    """Return the record that the reader would make of a clean long file of this sweep."""
    content = f"simulated {tube} {section or ''}".encode()
    readings = Readings(
        plate_voltage=sweep.plate_voltage,
        grid_voltage=sweep.grid_voltage,
        plate_current=sweep.plate_current,
        line=np.arange(2, len(sweep) + 2),
        grid_current=sweep.grid_current,
        heater_voltage=sweep.heater_voltage,
        time=sweep.time,
        direction=sweep.direction,
    )
    return Sweep(
        tube=tube,
        section=section,
        type_label=sweep.type_label,
        kind=kind,
        readings=readings,
        source=SourceFile(
            name=f"{tube}.csv",
            path=f"{tube}.csv",
            sha256=hashlib.sha256(content).hexdigest(),
            content=content,
        ),
        conditions=conditions or Conditions(),
        metadata=dict(sweep.metadata),
    )
