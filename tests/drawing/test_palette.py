"""Published: colours against the formulas of their standards.

Relative luminance and contrast ratio as in W3C, Web Content Accessibility Guidelines 2.1
(2018), definitions and success criterion 1.4.11, which asks 3:1 of graphical objects.
"""

from __future__ import annotations

import numpy as np
import pytest

from curvelab.drawing.palette import (
    ACCENT,
    BLACK,
    GREY,
    PAPER,
    diverging_colours,
    ink_on,
    step_colours,
    text_ink,
)
from helpers.colours import contrast, luminance


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


@pytest.mark.parametrize("ground", [PAPER, "#1a1c1f", "#808080"])
def test_a_text_in_the_colour_of_its_curve_is_readable_and_near_that_colour(ground):
    for colour in (*step_colours(9), *step_colours(9, dark=True)):
        ink = text_ink(colour, ground)
        assert contrast(ink, ground) >= 4.5
        if contrast(colour, ground) >= 4.5:
            assert ink == colour
        else:  # no farther than it must
            assert contrast(ink, ground) < 4.9


def as_text(colour) -> str:
    return "#{:02x}{:02x}{:02x}".format(*(int(part) for part in colour))


@pytest.mark.parametrize("dark", [False, True])
def test_both_arms_of_a_scale_leave_zero_steadily_in_lightness(dark):
    colours = [as_text(colour) for colour in diverging_colours(np.linspace(-1, 1, 41), dark=dark)]
    levels = np.array([luminance(colour) for colour in colours])
    away = levels if dark else -levels
    assert (np.diff(away[20:]) > 0).all()
    assert (np.diff(away[:21]) < 0).all()


@pytest.mark.parametrize("dark", [False, True])
def test_the_arms_differ_on_the_axis_from_blue_to_yellow(dark):
    """Which red-green blindness leaves alone: blue less the mean of red and green."""
    low, high = diverging_colours(np.array([-1.0, 1.0]), dark=dark).astype(float)
    assert low[2] - low[:2].mean() > 40
    assert high[:2].mean() - high[2] > 40


@pytest.mark.parametrize("dark", [False, True])
def test_figures_on_any_colour_of_the_scale_are_readable(dark):
    """WCAG 2.1, success criterion 1.4.3: 4.5:1 for text."""
    for colour in diverging_colours(np.linspace(-1.2, 1.2, 121), dark=dark):
        assert contrast(as_text(colour), ink_on(colour)) >= 4.5


def test_beyond_its_ends_a_scale_keeps_the_colour_of_the_end():
    ends = diverging_colours(np.array([-7.0, -1.0, 1.0, 9.0]))
    assert (ends[0] == ends[1]).all()
    assert (ends[2] == ends[3]).all()
