"""Published: colours against the formulas of their standards.

Relative luminance and contrast ratio as in W3C, Web Content Accessibility Guidelines 2.1
(2018), definitions and success criterion 1.4.11, which asks 3:1 of graphical objects.
"""

from __future__ import annotations

import pytest

from curvelab.drawing.palette import ACCENT, BLACK, GREY, step_colours


def luminance(colour: str) -> float:
    linear = []
    for at in (1, 3, 5):
        share = int(colour[at : at + 2], 16) / 255
        linear.append(share / 12.92 if share <= 0.03928 else ((share + 0.055) / 1.055) ** 2.4)
    red, green, blue = linear
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.parametrize("count", [2, 5, 8, 12, 20])
def test_lightness_rises_with_every_step_so_that_no_hue_need_be_seen(count):
    for dark in (False, True):
        levels = [luminance(colour) for colour in step_colours(count, dark=dark)]
        assert levels == sorted(levels)
        assert len(set(step_colours(count, dark=dark))) == count


@pytest.mark.parametrize("count", [1, 2, 5, 8, 12])
def test_every_curve_stands_out_from_its_background(count):
    assert all(contrast(colour, "#ffffff") >= 3.0 for colour in step_colours(count))
    assert all(contrast(colour, "#1e1e1e") >= 3.0 for colour in step_colours(count, dark=True))


@pytest.mark.parametrize("colour", [ACCENT, BLACK, GREY])
def test_text_reaches_the_ratio_for_text(colour):
    assert contrast(colour, "#ffffff") >= 4.5  # success criterion 1.4.3
