"""Records as plain values for JSON."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from typing import Any

import numpy as np

from curvelab.cli.console import show_bytes

__all__ = ["plain_values", "show_json"]


def plain_values(value: Any) -> Any:
    """Return a record as plain values, its fields as keys."""
    if is_dataclass(value):
        return {item.name: plain_values(getattr(value, item.name)) for item in fields(value)}
    if isinstance(value, Mapping):
        return {key: plain_values(item) for key, item in value.items()}
    if isinstance(value, tuple | list):
        return [plain_values(item) for item in value]
    if isinstance(value, np.ndarray):
        return plain_values(value.tolist())
    return float(f"{value:.10g}") if isinstance(value, float) else value


def show_json(content: Mapping[str, Any]) -> None:
    """Write strict JSON on standard output."""
    text = json.dumps(content, ensure_ascii=False, allow_nan=False, indent=2)
    show_bytes(f"{text}\n".encode())
