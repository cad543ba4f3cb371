"""Tubes and sets for the tests of papers: invented, made by hand, no file behind them."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, date, datetime
from decimal import Decimal

import numpy as np

from curvelab.assessment.records import OperatingPoint
from curvelab.catalog.curves import CurveGrid
from curvelab.catalog.records import (
    Figures,
    FindingMark,
    SetMember,
    SetState,
    StoredResult,
    StoredTube,
    TubeIdentity,
)
from curvelab.fitting.records import Constant, Constants, Outcome
from curvelab.grading.grade import Grade
from curvelab.health.records import Finding, FindingCode, Severity, Verdict
from curvelab.sheets.paper_records import Basis, Found, PaperSet, PaperTube
from curvelab.sweep.records import SweepKind
from helpers.assessments import AnalyticFamily

__all__ = ["CAUTION", "GAS", "POINT", "curves", "grade", "paper_set", "paper_tube", "result"]

POINT = OperatingPoint(250.0, -8.0, None, "handbook")
GAS = Finding(
    FindingCode.GAS,
    Severity.REJECT,
    "An ion current goes with the plate current.",
    6.2,
    0.4,
    "uA",
    1.0,
    "common practice, no source",
)
CAUTION = Finding(FindingCode.CONTACT, Severity.CAUTION, "Isolated readings fell toward zero.")
_DAY = datetime(2031, 3, 1, 9, 30, tzinfo=UTC)


def constants(
    plate_ma: float | None = 9.0, gm: float | None = 2.6, *, spread: float | None = 0.01
) -> Constants:
    """Return constants of a small triode; ``spread`` is each one's U95 as a fraction."""

    def constant(value: float | None, unit: float) -> Constant:
        if value is None:
            return Constant(None, None, Outcome.NOT_COVERED, "The sweep ends below it.")
        si = value * unit
        return Constant(si, None if spread is None else spread * si)

    resistance = None if gm is None else 20.0 / gm
    return Constants(
        constant(plate_ma, 1e-3),
        constant(gm, 1e-3),
        constant(resistance, 1e3),
        constant(None if gm is None else 20.0, 1.0),
    )


def result(
    figures: Constants | None = None,
    *,
    section: str | None = None,
    found: Sequence[Finding] = (),
    point: OperatingPoint | None = POINT,
    of_bogey: dict[str, float] | None = None,
    type_name: str | None = "6SN7GTB",
) -> StoredResult:
    """Return the newest sweep of a section."""
    shares = {"plate_current": 1.0, "transconductance": 1.0} if of_bogey is None else of_bogey
    return StoredResult(
        key=1,
        section=section,
        kind=SweepKind.CURVES,
        file="a.csv",
        sha256="ab" * 32,
        made_at=_DAY,
        made_with="curvelab 9.9",
        bench="back room",
        figures=Figures(
            type_name=type_name,
            type_label=type_name,
            operating_point=point,
            constants=figures or constants(),
            of_bogey=shares,
            family_deviation=0.02,
            findings=tuple(FindingMark(item.code.value, item.severity.value) for item in found),
            verdict=Verdict.of(tuple(found)),
        ),
    )


def grade(word: str = "fresh") -> Grade:
    """Return a grade of that word."""
    return Grade(word, "as new", True, (f"Keeps {word}: it does.",), (), "house grades, edition 7")


def curves(scale: float = 1.0) -> CurveGrid:
    """Return the curves of an invented tube, its current times ``scale``; all of it covered."""
    plate, grid = np.arange(20.0, 301.0, 20.0), np.arange(-3.5, 0.1, 0.5)
    across, down = np.meshgrid(plate, grid)
    current = scale * AnalyticFamily().current(across, down)
    return CurveGrid(plate, grid, current, np.ones(current.shape, dtype=bool))


def paper_tube(
    serial: str = "PIT-01",
    *results: StoredResult,
    found: Sequence[Finding] = (),
    graded: Grade | None = None,
    stand_in: bool = False,
    **identity: object,
) -> PaperTube:
    """Return a tube; without results it has one good sweep with what was ``found``."""
    swept = results or (result(found=found),)
    given: dict = {"lot": "spring", "cost": Decimal("7.50"), "return_by": date(2031, 4, 1)}
    in_set = identity.pop("set_name", None)
    return PaperTube(
        stored=StoredTube(
            key=1,
            identity=TubeIdentity(serial, **(given | identity)),
            results=swept,
            set_name=in_set,
            set_state=SetState.LOCKED if in_set else None,
        ),
        found=tuple(Found(swept[0].section, finding) for finding in found),
        grade=graded,
        not_graded="" if graded else "it was not asked for",
        curves={item.section: curves() for item in swept},
        bases={item.section: Basis("6SN7GTB", stand_in) for item in swept},
    )


def paper_set(name: str, *serials: str, spare: str | None = None, **fields: object) -> PaperSet:
    """Return a set of tubes of one lot."""
    members = tuple(SetMember(serial, "spring", serial == spare) for serial in serials)
    return PaperSet(name, members, **fields)
