"""Harmonics of a plate current from five points of the load line."""

from __future__ import annotations

from dataclasses import dataclass

from curvelab.sweep.records import FloatArray

__all__ = ["Harmonics", "five_point"]


@dataclass(frozen=True, slots=True)
class Harmonics:
    """Amplitudes of a plate current driven by a sine [A].

    ``shift`` is by how much the mean current rises with the signal.
    """

    shift: float
    first: float
    second: float
    third: float
    fourth: float


def five_point(current: FloatArray) -> Harmonics:
    """Return the harmonics of the current that a cosine of grid voltage draws.

    Parameters
    ----------
    current : ndarray, shape (5,)
        At full positive signal, half positive, none, half negative, full negative [A].

    Notes
    -----
    Exact for currents up to the fourth power of the signal.

    References
    ----------
    Espley, "The calculation of harmonic production in thermionic valves with resistive
    loads", Proceedings of the IRE 21 (1933) 1439; Radiotron Designer's Handbook, 4th
    edition, chapter 13, five selected ordinates. Both from memory; the tests hold the
    formulas against a discrete Fourier transform.
    """
    top, upper, middle, lower, bottom = (float(value) for value in current)
    return Harmonics(
        shift=(top + 2 * upper + 2 * lower + bottom) / 6 - middle,
        first=(top + upper - lower - bottom) / 3,
        second=(top - 2 * middle + bottom) / 4,
        third=(top - 2 * upper + 2 * lower - bottom) / 6,
        fourth=(top - 4 * upper + 6 * middle - 4 * lower + bottom) / 12,
    )
