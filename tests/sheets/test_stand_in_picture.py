"""Behaviour: two families laid over one another; what no published figure backs is drawn apart."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from curvelab.sheets.plot_records import Role
from curvelab.workbench.stand_in import StandInQuestion, ask_stand_in
from curvelab.workbench.type_library import shipped_families

LOUD = (Role.FITTED, Role.EXTRAPOLATED)
QUIET = (Role.REFERENCE, Role.REFERENCE_EXTRAPOLATED)


@pytest.mark.parametrize(("old", "new"), [("12AX7", "12AU7"), ("EL84", "6V6")])
def test_each_curve_is_whole_and_says_what_backs_it(old, new):
    answer = ask_stand_in(StandInQuestion(old, new))
    picture, families = answer.picture, shipped_families()
    screen = answer.found.in_circuit.old.screen_voltage
    for name, (backed, beyond) in ((new, LOUD), (old, QUIET)):
        family = families.families[name] if screen is None else families.pentodes[name]
        family = family if screen is None else family.at_screen(screen)
        lines = [line for line in picture.series if line.role in (backed, beyond)]
        assert {line.role for line in lines} == {backed, beyond}
        for step in {line.step for line in lines}:
            own = [line for line in lines if line.step == step]
            assert own[-1].x[-1] == picture.x.high
            assert [line.end_label for line in own[:-1]] == [False] * (len(own) - 1)
            assert own[-1].end_label is (backed is Role.FITTED)
            for before, after in itertools.pairwise(own):
                assert before.x[-1] == after.x[0]
                assert before.role is not after.role
            for line in own:
                grid = np.full(line.x.size, float(line.label.removesuffix(" V")))
                told = family.covers(line.x, grid)[1:-1]
                assert (told == (line.role is backed)).all()
