"""Curves and texts as bytes of a column: packed, and never anything that could run."""

from __future__ import annotations

import struct
import zlib

import numpy as np

from curvelab.catalog.curves import CurveGrid

__all__ = ["packed_curves", "packed_text", "unpacked_curves", "unpacked_text"]

_HEAD = struct.Struct("<II")  # nodes in plate voltage, nodes in grid voltage
_FLOAT = np.dtype("<f8")


def packed_text(text: str) -> bytes:
    """Return a text, compressed."""
    return zlib.compress(text.encode("utf-8"))


def unpacked_text(content: bytes) -> str:
    """Return the text that was packed."""
    return zlib.decompress(content).decode("utf-8")


def packed_curves(curves: CurveGrid) -> bytes:
    """Return the axes, the currents and what is covered, compressed."""
    head = _HEAD.pack(curves.plate_voltage.size, curves.grid_voltage.size)
    arrays = (curves.plate_voltage, curves.grid_voltage, curves.plate_current)
    body = b"".join(array.astype(_FLOAT).tobytes() for array in arrays)
    return zlib.compress(head + body + np.packbits(curves.covered).tobytes())


def unpacked_curves(content: bytes) -> CurveGrid:
    """Return the curves that were packed."""
    plain = zlib.decompress(content)
    plates, grids = _HEAD.unpack_from(plain)
    size = plates * grids
    numbers = np.frombuffer(plain, _FLOAT, plates + grids + size, _HEAD.size)
    bits = np.frombuffer(plain, np.uint8, offset=_HEAD.size + numbers.nbytes)
    return CurveGrid(
        plate_voltage=numbers[:plates],
        grid_voltage=numbers[plates : plates + grids],
        plate_current=numbers[plates + grids :].reshape(grids, plates),
        covered=np.unpackbits(bits, count=size).astype(bool).reshape(grids, plates),
    )
