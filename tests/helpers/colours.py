"""Colours as eyes see them: contrast, difference, and the eyes of the colour-blind.

Relative luminance and contrast ratio: W3C, Web Content Accessibility Guidelines 2.1 (2018),
definitions. Colours from sRGB to CIELAB: IEC 61966-2-1 and ISO/CIE 11664-4, for D65.
Difference: CIEDE2000, ISO/CIE 11664-6; formulas as in Sharma, Wu, Dalal, "The CIEDE2000
Color-Difference Formula: Implementation Notes", Color Research and Application 30(1), 2005.
Dichromats: Machado, Oliveira, Fernandes, "A Physiologically-based Model for Simulation of
Color Vision Deficiency", IEEE TVCG 15(6), 2009, table of matrices, severity 1.0; figures from
memory, found the same in the package colorspacious 1.1.2.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

__all__ = ["EYES", "contrast", "difference", "lab", "luminance", "seen"]

Array = NDArray[np.float64]

EYES: dict[str, Array] = {
    "usual": np.eye(3),
    "protanope": np.array(
        [
            [0.152286, 1.052583, -0.204868],
            [0.114503, 0.786281, 0.099216],
            [-0.003882, -0.048116, 1.051998],
        ]
    ),
    "deuteranope": np.array(
        [
            [0.367322, 0.860646, -0.227968],
            [0.280085, 0.672501, 0.047413],
            [-0.011820, 0.042940, 0.968881],
        ]
    ),
    "tritanope": np.array(
        [
            [1.255528, -0.076749, -0.178779],
            [-0.078411, 0.930809, 0.147602],
            [0.004733, 0.691367, 0.303900],
        ]
    ),
}
_XYZ = np.array(
    [
        [0.4124564, 0.3575761, 0.1804375],
        [0.2126729, 0.7151522, 0.0721750],
        [0.0193339, 0.1191920, 0.9503041],
    ]
)
_WHITE = _XYZ.sum(axis=1)  # of the screen: equal parts of red, green and blue


def _linear(colour: str) -> Array:
    share = np.array([int(colour[at : at + 2], 16) for at in (1, 3, 5)]) / 255
    return np.where(share <= 0.04045, share / 12.92, ((share + 0.055) / 1.055) ** 2.4)


def luminance(colour: str) -> float:
    """Return the relative luminance of a colour ``#rrggbb``."""
    return float(_linear(colour) @ np.array([0.2126, 0.7152, 0.0722]))


def contrast(one: str, other: str) -> float:
    """Return the contrast ratio of two colours, 1 to 21."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def seen(colour: str, eyes: str = "usual") -> Array:
    """Return L*, a*, b* of a colour as eyes of ``EYES`` see it."""
    return lab(_XYZ @ np.clip(EYES[eyes] @ _linear(colour), 0.0, 1.0) / _WHITE)


def lab(relative: Array) -> Array:
    """Return L*, a*, b* of X, Y, Z relative to the white."""
    limit = (6 / 29) ** 3
    root = np.where(relative > limit, np.cbrt(relative), relative * (29 / 6) ** 2 / 3 + 4 / 29)
    return np.array([116 * root[1] - 16, 500 * (root[0] - root[1]), 200 * (root[1] - root[2])])


def difference(one: Array, other: Array) -> float:
    """Return how far two colours L*, a*, b* differ, by CIEDE2000; 1 is just to be seen."""
    (light1, a1, b1), (light2, a2, b2) = one, other
    chroma = (np.hypot(a1, b1) + np.hypot(a2, b2)) / 2
    stretch = 1.5 - 0.5 * np.sqrt(chroma**7 / (chroma**7 + 25.0**7))
    a1, a2 = a1 * stretch, a2 * stretch
    chroma1, chroma2 = np.hypot(a1, b1), np.hypot(a2, b2)
    hue1, hue2 = (np.degrees(np.arctan2(b, a)) % 360 for a, b in ((a1, b1), (a2, b2)))
    grey = chroma1 * chroma2 == 0
    turn = 0.0 if grey else (hue2 - hue1 + 180) % 360 - 180
    hue = hue1 + hue2 if grey else (hue1 + turn / 2) % 360
    across = 2 * np.sqrt(chroma1 * chroma2) * np.sin(np.radians(turn / 2))
    light, chroma = (light1 + light2) / 2, (chroma1 + chroma2) / 2
    weight = (
        1
        - 0.17 * np.cos(np.radians(hue - 30))
        + 0.24 * np.cos(np.radians(2 * hue))
        + 0.32 * np.cos(np.radians(3 * hue + 6))
        - 0.20 * np.cos(np.radians(4 * hue - 63))
    )
    by_light = (light2 - light1) / (1 + 0.015 * (light - 50) ** 2 / np.sqrt(20 + (light - 50) ** 2))
    by_chroma = (chroma2 - chroma1) / (1 + 0.045 * chroma)
    by_hue = across / (1 + 0.015 * chroma * weight)
    twist = -np.sin(np.radians(60 * np.exp(-(((hue - 275) / 25) ** 2)))) * (
        2 * np.sqrt(chroma**7 / (chroma**7 + 25.0**7))
    )
    return float(np.sqrt(by_light**2 + by_chroma**2 + by_hue**2 + twist * by_chroma * by_hue))
