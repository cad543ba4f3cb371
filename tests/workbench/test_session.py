"""Behaviour: what a person can do to the lot on the table, without a screen."""

from __future__ import annotations

from dataclasses import replace

import pytest

from curvelab.health.records import Verdict
from curvelab.workbench.characterize import Batch, FileError, Request
from curvelab.workbench.session import Display, Problem, ProblemKind, Session, Wish
from helpers import assessments


def tube(name: str, section: str | None = None, *, path: str = "", content: str = ""):
    made = assessments.healthy()
    source = replace(made.sweep.source, path=path or f"lot/{name}.csv", sha256=content or name)
    return replace(made, sweep=replace(made.sweep, tube=name, section=section, source=source))


def batch(*tubes, **fields) -> Batch:
    return Batch(tubes, fields.pop("set_aside", ()), fields.pop("errors", ()), **fields)


@pytest.fixture
def session() -> Session:
    made = Session()
    made.take_in(batch(tube("A"), tube("B"), tube("C")))
    return made


def names(session: Session) -> list[str]:
    return [entry.assessment.sweep.tube for entry in session.entries]


def test_a_file_opened_again_takes_its_own_place(session):
    keys = [entry.key for entry in session.entries]
    session.take_in(batch(replace(tube("B", content="new"), verdict=Verdict.REJECT)))
    assert [entry.key for entry in session.entries] == keys
    assert session.entries[1].assessment.verdict is Verdict.REJECT


def test_a_tube_no_longer_in_its_file_goes(session):
    session.take_in(batch(tube("D", "1", path="lot/D.csv"), tube("D", "2", path="lot/D.csv")))
    session.take_in(batch(tube("D", "2", path="lot/D.csv")))
    assert names(session) == ["A", "B", "C", "D"]


def test_the_same_bytes_under_another_name_are_told_and_not_counted_twice(session):
    session.take_in(batch(tube("copy", content="A")))
    assert names(session) == ["A", "B", "C"]
    (problem,) = session.problems
    assert problem.kind is ProblemKind.NOTICE
    assert "A.csv" in problem.reason


def test_one_tube_swept_twice_in_one_file_stays_two(session):
    twice = tube("E", path="lot/E.csv", content="E")
    session.take_in(batch(twice, twice))
    assert names(session).count("E") == 2


def test_what_is_asked_for_replaces_only_the_chosen_tubes(session):
    key = session.entries[0].key
    session.choose([key])
    wish = Wish(compared_with="12AT7")
    request = session.request_for([key], wish)
    assert [source.path for source in request.sources] == ["lot/A.csv"]
    assert (request.type_name, request.reference) == (None, "12AT7")
    session.replace([key], batch(replace(tube("A"), verdict=Verdict.HOLD)), wish)
    assert [entry.wish for entry in session.entries] == [wish, Wish(), Wish()]
    assert session.entries[0].assessment.verdict is Verdict.HOLD


def test_the_other_section_goes_along_with_a_request():
    session = Session()
    keys = session.take_in(
        batch(tube("F", "1", path="lot/F1.csv"), tube("F", "2", path="lot/F2.csv", content="F2")),
    )
    request = session.request_for(keys[:1], Wish())
    assert [source.path for source in request.sources] == ["lot/F1.csv", "lot/F2.csv"]


def test_what_was_taken_off_comes_back_in_its_place(session):
    key = session.entries[1].key
    session.choose([key])
    gone = session.remove([key])
    assert names(session) == ["A", "C"]
    assert session.current is None
    assert session.put(gone) == (key,)
    assert names(session) == ["A", "B", "C"]


def test_of_a_tube_swept_twice_in_one_file_each_comes_back(session):
    twice = tube("E", path="lot/E.csv", content="E")
    first, second = session.take_in(batch(twice, twice))
    for key in (first, second):
        gone = session.remove([key])
        assert names(session).count("E") == 1
        assert session.put(gone) == (key,)
        assert names(session).count("E") == 2
    both = session.remove([first, second])
    session.take_in(batch(twice, twice))
    assert session.put(both) == ()


def test_a_tube_opened_again_meanwhile_does_not_come_back_twice(session):
    gone = session.remove([session.entries[1].key])
    session.take_in(batch(tube("B")))
    assert session.put(gone) == ()
    assert sorted(names(session)) == ["A", "B", "C"]


def test_another_tube_has_no_finding_pointed_out(session):
    first, second, _ = (entry.key for entry in session.entries)
    session.choose([first])
    session.point_out(0)
    session.choose([first, second])
    assert session.finding == 0
    session.choose([second])
    assert session.finding is None


def test_the_unit_changes_what_the_sheet_on_screen_says(session):
    key = session.entries[0].key
    before = session.document(key).table.rows[1].cells
    session.show(Display(micromho=True))
    after = session.document(key).table.rows[1].cells
    assert before[1:3] == ("1.630", "0.020")  # mA/V
    assert after[1:3] == ("1630", "20")  # micromho
    assert session.document(key) is session.document(key)


def test_problems_stand_once_and_go_when_their_file_is_read_again(session):
    error = FileError("G.csv", "no table found")
    session.take_in(batch(errors=(error,), not_read=2))
    session.take_in(batch(errors=(error,)))
    reasons = [problem.reason for problem in session.problems]
    assert reasons.count("no table found") == 1
    assert any("2 files are not named" in reason for reason in reasons)
    session.take_in(batch(tube("G", path="G.csv")))
    assert not any(problem.file == "G.csv" for problem in session.problems)


def test_a_row_set_aside_keeps_its_line_and_text():
    session = Session()
    gassy = assessments.gassy()
    session.take_in(batch(gassy, set_aside=gassy.sweep.set_aside))
    expected = Problem(ProblemKind.SET_ASIDE, "B02.csv", 17, "a cell is not a number", "oops,,")
    assert session.problems == (expected,)


def test_a_file_with_two_meanings_is_read_again_as_a_person_picks(session, tmp_path):
    path = tmp_path / "H.csv"
    error = FileError(str(path), "the unit is not stated", ("current in mA", "current in A"))
    session.take_in(batch(errors=(error,)))
    (problem,) = session.problems
    assert problem.choices == error.choices
    request = session.request_with_answer(problem, "current in A")
    assert request == Request((path,), answers=("current in A",))
    made = tube("H", path=str(path))
    (key,) = session.take_in(batch(made))
    assert session.problems == ()
    assert session.request_for([key], Wish()).answers == ("current in A",)


def test_a_file_of_the_same_name_in_another_folder_keeps_its_problem(session):
    for folder in ("monday", "tuesday"):
        session.take_in(batch(errors=(FileError(f"{folder}/x.csv", "the file is empty"),)))
    assert [str(one.path) for one in session.problems] == ["monday/x.csv", "tuesday/x.csv"]
    session.take_in(batch(tube("X", path="monday/x.csv")))
    assert [str(one.path) for one in session.problems] == ["tuesday/x.csv"]
