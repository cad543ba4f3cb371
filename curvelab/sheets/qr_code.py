"""QR codes (ISO/IEC 18004) as squares to paint, no finer than a camera can read."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

__all__ = ["LEAST_MODULE", "QUIET_ZONE", "QrCode", "fitting_code", "qr_code"]

QUIET_ZONE = 4  # modules of white round the code (ISO/IEC 18004)
_KEPT = 2048  # codes that are not made again when labels are laid out otherwise
LEAST_MODULE = 0.33  # [mm] a side: what a telephone reads with ease (common practice, no source)


@dataclass(frozen=True, slots=True)
class QrCode:
    """A code: its text, and its rows of modules, true where one is dark."""

    text: str
    rows: tuple[tuple[bool, ...], ...]

    @property
    def modules(self) -> int:
        """Modules a side, the quiet zone included."""
        return len(self.rows) + 2 * QUIET_ZONE


@lru_cache(maxsize=_KEPT)
def qr_code(text: str) -> QrCode:
    """Return the smallest code of a text, with as much error correction as its size has room for.

    On a label the size of a module decides whether a code can be read, so that comes first.

    Raises
    ------
    ValueError
        If the text is longer than any code holds.
    """
    # Imported here: it takes long beside everything else that a command needs.
    import segno  # noqa: PLC0415

    made = segno.make_qr(text, error="l")
    return QrCode(text, tuple(tuple(bool(module) for module in row) for row in made.matrix))


def fitting_code(texts: Sequence[str], side: float) -> QrCode | None:
    """Return the code of the first of ``texts`` whose modules are large enough in ``side`` [mm]."""
    for text in texts:
        try:
            code = qr_code(text)
        except ValueError:  # no code holds it
            continue
        if side / code.modules >= LEAST_MODULE:
            return code
    return None
