"""Published: the colours of plots as people without red, green or blue cones see them.

The formulas and their sources are in `helpers.colours`. How far is far enough is a house rule:
a CIEDE2000 difference of 1 is just to be seen with both colours side by side (common practice,
no source); curves are thin, apart, and have their grid voltage at their ends.
"""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from curvelab.drawing.palette import PAPER, diverging_colours, step_colours
from curvelab.window.theme import DARK, LIGHT, Colours
from helpers.colours import EYES, contrast, difference, seen

NEIGHBOURS = 5.0  # of up to eight steps, side by side in the family
TOGETHER = 10.0  # inks of which any two may meet in one picture, without an order
SCHEMES = pytest.mark.parametrize("colours", [LIGHT, DARK], ids=["light", "dark"])
EACH_EYES = pytest.mark.parametrize("eyes", EYES)


@pytest.mark.parametrize(
    ("one", "other", "wanted"),
    [
        ((50.0, 2.6772, -79.7751), (50.0, 0.0, -82.7485), 2.0425),
        ((50.0, 3.1571, -77.2803), (50.0, 0.0, -82.7485), 2.8615),
        ((50.0, -1.1848, -84.8006), (50.0, 0.0, -82.7485), 1.0000),
        ((50.0, 2.4900, -0.0010), (50.0, -2.4900, 0.0009), 7.1792),
        ((50.0, 2.5, 0.0), (73.0, 25.0, -18.0), 27.1492),
        ((50.0, 2.5, 0.0), (61.0, -5.0, 29.0), 22.8977),
        ((60.2574, -34.0099, 36.2677), (60.4626, -34.1751, 39.4387), 1.2644),
        ((2.0776, 0.0795, -1.1350), (0.9033, -0.0636, -0.5514), 0.9082),
    ],
)
def test_differences_are_those_of_the_published_pairs(one, other, wanted):
    """Sharma, Wu, Dalal 2005, table 1; from memory."""
    assert difference(np.array(one), np.array(other)) == pytest.approx(wanted, abs=5e-5)


@EACH_EYES
def test_grey_stays_grey_for_all_eyes(eyes):
    for grey in ("#000000", "#7f7f7f", "#ffffff"):
        assert np.allclose(seen(grey, eyes)[1:], 0.0, atol=0.02)


def test_eyes_without_red_or_green_cones_mix_up_what_they_are_known_to():
    """Red and green of one lightness; common practice, no source."""
    red, green = "#c06a4a", "#7f8a3a"
    usual = difference(seen(red), seen(green))
    assert difference(seen(red, "deuteranope"), seen(green, "deuteranope")) < usual / 2
    blue, teal = "#2a6fd0", "#1f8a8a"
    assert difference(seen(blue, "tritanope"), seen(teal, "tritanope")) < difference(
        seen(blue), seen(teal)
    )


@EACH_EYES
@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
@pytest.mark.parametrize("count", [2, 3, 5, 8])
def test_each_grid_step_differs_from_the_next(count, dark, eyes):
    steps = [seen(colour, eyes) for colour in step_colours(count, dark=dark)]
    assert min(itertools.starmap(difference, itertools.pairwise(steps))) >= NEIGHBOURS


@EACH_EYES
@SCHEMES
def test_each_curve_differs_from_its_ground_and_from_the_reference(colours: Colours, eyes):
    paper, reference = seen(colours.base, eyes), seen(colours.reference, eyes)
    for colour in map(lambda one: seen(one, eyes), colours.steps(8)):
        assert difference(colour, paper) >= 2 * TOGETHER
        assert difference(colour, reference) >= NEIGHBOURS  # which is dashed as well


@EACH_EYES
@SCHEMES
def test_lines_without_a_colour_are_seen_and_are_more_than_one_grey(colours: Colours, eyes):
    """They have dashes of their own too; 3:1 is WCAG 2.1, success criterion 1.4.11."""
    greys = (colours.other, colours.reference, colours.rating)
    assert min(contrast(grey, colours.base) for grey in greys) >= 3.0
    sights = [seen(grey, eyes) for grey in greys]
    assert min(difference(*pair) for pair in itertools.combinations(sights, 2)) >= NEIGHBOURS


@EACH_EYES
@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
def test_more_and_less_differ_on_the_scale_and_so_does_each_from_zero(dark, eyes):
    shares = np.linspace(-1.0, 1.0, 9)
    scale = [
        seen("#{:02x}{:02x}{:02x}".format(*colour), eyes)
        for colour in diverging_colours(shares, dark=dark).tolist()
    ]
    assert min(itertools.starmap(difference, itertools.pairwise(scale))) >= TOGETHER
    for less, more in zip(scale[:4], reversed(scale[5:]), strict=True):
        assert difference(less, more) >= 2 * TOGETHER


@EACH_EYES
@SCHEMES
def test_tubes_laid_over_each_other_and_verdicts_are_told_apart(colours: Colours, eyes):
    for inks in (colours.compared, dict.fromkeys(colours.weight.values())):
        sights = [seen(ink, eyes) for ink in inks]
        assert len(sights) >= 3
        for one, other in itertools.combinations(sights, 2):
            assert difference(one, other) >= TOGETHER


def test_a_sheet_of_paper_is_the_ground_of_the_light_scheme():
    assert LIGHT.base == PAPER
