"""Identity: every plot of the window says what there is to be seen of it."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

import curvelab.window.view_pages  # noqa: F401 (brings in every plot there is)
from curvelab.window.plots import control_plot  # noqa: F401
from curvelab.window.plots.cursor_plot import CursorPlot


def below(kind: type) -> Iterator[type]:
    for each in kind.__subclasses__():
        yield each
        yield from below(each)


@pytest.mark.parametrize("method", ["whole", "of_readings"])
def test_no_plot_leaves_out_what_the_base_cannot_know(method):
    plots = [kind for kind in below(CursorPlot) if kind.__module__.startswith("curvelab.")]
    assert len(plots) >= 3
    for kind in plots:
        assert getattr(kind, method) is not getattr(CursorPlot, method), kind
