"""Behaviour and round trip: a dealer's day with one box, through the command line alone.

The box is simulated (`helpers.boxes_of_tubes`), so that it is known which tubes are bad and
which can make a set. Every figure is invented.
"""

from __future__ import annotations

import csv
import re
from itertools import pairwise
from pathlib import Path

import pytest
from openpyxl import load_workbook

from curvelab.health.records import FindingCode
from curvelab.paths import resource_folder
from helpers.boxes_of_tubes import Box, sweep_again, write_table
from helpers.lot_commands import RETURN_BY, as_json, lot
from helpers.pdf_pages import needs_poppler, page_count, page_texts

# What the code calls a fault that the simulator names otherwise.
CODES = {"leakage": "grid-leakage"}


def families(box: Box, document: dict) -> list[str | None]:
    """Return the family that every set comes from; None for one that mixes."""
    found = []
    for one in document["sets"]:
        of = {box.family_of(serial) for serial in (*one["tubes"], *one["spare"])}
        found.append(of.pop() if len(of) == 1 else None)
    return sorted(found, key=str)


# --- into the catalogue -----------------------------------------------------------------------


def test_every_bad_tube_is_found_and_no_sound_one_accused(day):
    box, _, added = day
    assert added["schema"] == "curvelab.characteristics/1"
    found: dict[str, set[str]] = {}
    for entry in added["tubes"]:
        grave = {f["code"] for f in entry["findings"] if f["severity"] != "note"}
        found.setdefault(entry["tube"], set()).update(grave)
    assert set(found) == box.serials
    for serial, codes in found.items():
        fault = box.faults.get(serial)
        assert codes == (set() if fault is None else {CODES.get(fault, fault)}), serial


def test_the_list_says_what_the_house_knows(day):
    box, path, _ = day
    document = as_json("list", path)
    assert {tube["serial"] for tube in document["tubes"]} == box.serials
    for tube in document["tubes"]:
        house = [tube[key] for key in ("lot", "supplier", "box", "shelf", "cost", "return_by")]
        assert house == ["spring", "a fair", "3", "north", "6.50", RETURN_BY.isoformat()]
        sound = tube["serial"] not in box.faults
        assert (tube["verdict"] == "accept") == sound, tube["serial"]
        assert all(len(result["sha256"]) == 64 for result in tube["results"])
    runaway = next(t for t in document["tubes"] if t["serial"] == box.bad("runaway"))
    assert {result["kind"] for result in runaway["results"]} == {"curves", "drift log"}
    assert lot("list", path)[1].count("drift log") == 1


def test_the_same_box_again_adds_nothing(day, filled):
    status, out, err = lot("add", filled, day[0].folder)
    assert (status, err) == (0, "")
    assert out == "filed: 0\nin the lot already, left as they are: 27\n"


def test_hand_tests_are_judged_and_kept_and_a_bad_row_is_named(day, filled, tmp_path):
    box = day[0]
    first, second, third = box.families["a"]
    table = write_table(
        tmp_path / "hand.csv",
        "tube,heater ma,heater-cathode leakage (uA),shorts,tap test,warm-up minutes,note",
        f"{first},600,0.4,none,quiet,12,",
        f"{second},600,0.4,plate to grid,,12,from the blue crate",
        f"{third},much,0.4,none,,12,",
        "NO-SUCH,600,0.4,none,,12,",
    )
    status, out, err = lot("add", filled, "--hand-tests", table)
    assert (status, out) == (0, "filed: 0\nhand tests entered: 2\n")
    assert "hand.csv, line 4: not entered" in err
    assert "hand.csv, line 5: not entered, it holds no tube 'NO-SUCH'" in err
    held = {tube["serial"]: tube for tube in as_json("list", filled)["tubes"]}
    assert [held[serial]["verdict"] for serial in (first, second, third)] == [
        "accept",
        "reject",
        "accept",
    ]
    (kept,) = held[second]["hand_tests"]
    assert (kept["conditions"]["shorts"], kept["note"]) == ("plate to grid", "from the blue crate")
    assert kept["conditions"]["warm_up_s"] == 720.0


# --- grades -----------------------------------------------------------------------------------


def test_each_tube_has_a_grade_with_its_reason_or_is_barred(day):
    box, path, _ = day
    document = as_json("grade", path)
    assert document["schema"] == "curvelab.grades/1"
    assert "edition" in document["rules"]
    for tube in document["tubes"]:
        assert set(tube) >= {
            "serial", "lot", "grade", "meaning", "decided", "reasons", "limits", "rules",
            "rests_on", "verdict",
        }  # fmt: skip
        assert tube["reasons"], tube["serial"]
        rejected = box.faults.get(tube["serial"], "section-imbalance") != "section-imbalance"
        assert (tube["grade"] == "barred") == rejected, tube["serial"]
    assert "new in the lot file: 0" in lot("grade", path)[1]


def test_grades_by_rules_of_the_house(day, filled, tmp_path):
    shipped = (resource_folder() / "grades.toml").read_text(encoding="utf-8")
    rules = tmp_path / "ours.toml"
    rules.write_text(shipped.replace('"fresh"', '"first pick"'), encoding="utf-8")
    document = as_json("grade", filled, "--rules", rules)
    words = {tube["grade"] for tube in document["tubes"]}
    assert "first pick" in words
    assert "fresh" not in words
    sets = as_json("match", filled, "--grade", "first pick")["sets"]
    graded = {tube["serial"] for tube in document["tubes"] if tube["grade"] == "first pick"}
    assert sets
    assert all(graded.issuperset(one["tubes"]) for one in sets)


# --- matching ---------------------------------------------------------------------------------


@pytest.mark.parametrize("by", ["point", "curve", "both"])
def test_a_pair_with_a_spare_of_every_family_that_has_three(day, by):
    box, path, _ = day
    document = as_json("match", path, "--spare", "--tolerance", 5, "--by", by)
    assert document["schema"] == "curvelab.matches/1"
    three = [name for name, held in box.families.items() if len(held) == 3]
    assert families(box, document) == sorted(three)
    rest = {s for name, held in box.families.items() if name not in three for s in held}
    assert set(document["left_over"]) == rest
    assert {one["tube"] for one in document["excluded"]} == set(box.faults)
    assert (document["proven"], document["gap_pct"]) == (True, 0.0)
    assert (document["size"], document["spares"], document["tolerance_pct"]) == (2, 1, 5.0)
    assert document["most_sets"] == len(three)
    for one in document["sets"]:
        assert (len(one["tubes"]), len(one["spare"])) == (2, 1)
        assert 0 < one["spread_pct"] < 3
        assert isinstance(one["distinguishable"], bool)
        assert (one["locked"], one["name"], one["against"]) == (False, None, [])
    spreads = [one["spread_pct"] for one in document["sets"]]
    assert all(narrow <= wide for narrow, wide in pairwise(spreads))


def test_a_pair_that_another_figure_tells_apart_is_explained(day):
    document = as_json("match", day[1])
    odd = [
        one
        for one in document["sets"]
        if one["distinguishable"] and one["spread_pct"] <= one["u95_pct"]
    ]
    said = "by another figure than the one that decides" in " ".join(
        lot("match", day[1])[1].split()
    )
    assert said == bool(odd)


def test_those_left_over_are_told_their_nearest(day):
    box, path, _ = day
    document = as_json("match", path, "--spare")
    nearest = {one["tube"]: one for one in document["nearest"]}
    twin, other = box.families["d"]
    assert nearest[twin]["partner"]["tube"] == other
    assert nearest[twin]["free_partner"]["tube"] == other
    assert nearest[twin]["partner"]["spread_pct"] < 3
    (alone,) = box.families["e"]
    assert nearest[alone]["partner"]["spread_pct"] > 5


def test_the_bad_twin_of_a_good_tube_takes_no_part_and_is_told_why(day):
    box, path, _ = day
    excluded = {one["tube"]: one["reasons"] for one in as_json("match", path)["excluded"]}
    assert any("reject, gas" in reason for reason in excluded[box.bad("gas")])
    assert any("reject, runaway" in reason for reason in excluded[box.bad("runaway")])


def test_what_other_tolerances_would_make(day):
    box, path, _ = day
    document = as_json("match", path, "--what-if")
    counts = {one["tolerance_pct"]: one["sets"] for one in document["what_if"]}
    assert list(counts) == [2.0, 5.0, 10.0]
    assert counts[5.0] == len(document["sets"])
    assert counts[5.0] == sum(len(held) // 2 for held in box.families.values())
    assert counts[2.0] <= counts[5.0] <= counts[10.0]
    assert "at 5 %: 7 sets" in lot("match", path, "--what-if")[1]


def test_one_type_alone(day):
    box, path, _ = day
    document = as_json("match", path, "--type", "12AU7")
    assert families(box, document) == ["f", "g", "h"]
    assert {one["tube"][:3] for one in document["excluded"]} == {"ROW"}
    document = as_json("match", path, "--type", "XZ-9")
    assert (document["sets"], document["excluded"]) == ([], [])


def test_quads_there_are_none_and_that_is_said(day):
    document = as_json("match", day[1], "--size", 4)
    assert document["sets"] == []
    assert document["most_sets"] == 0
    assert "sets: 0" in lot("match", day[1], "--size", 4)[1]


def test_sections_within_a_dual_tube(day):
    box, path, _ = day
    document = as_json("match", path, "--sections")
    duals = {s for held in box.families.values() for s in held if s.startswith("ROW")}
    assert {one["tubes"][0] for one in document["sets"]} == duals
    text = " ".join(lot("match", path, "--sections")[1].split())
    assert text.count("has not two sections") == 1  # one line for all of the single ones


def test_a_balance_bars_tubes_with_unlike_sections(day):
    loose = as_json("match", day[1], "--held", "--balance", "20")
    strict = as_json("match", day[1], "--balance", "0.5")
    barred = {
        one["tube"]: one["reasons"] for one in strict["excluded"] if one["tube"].startswith("ROW")
    }
    assert len(barred) == 9
    assert any("differ by" in reason for reason in barred["ROW-18"])
    assert {one["tube"] for one in loose["excluded"]} < {one["tube"] for one in strict["excluded"]}


def test_sets_are_kept_sold_undone_and_respected(day, filled):
    box = day[0]
    kept = as_json("match", filled, "--spare", "--keep", "stage")
    assert [one["name"] for one in kept["sets"]] == [f"stage {n:02d}" for n in range(1, 6)]
    by_name = {one["name"]: {*one["tubes"], *one["spare"]} for one in kept["sets"]}
    assert lot("sets", filled, "--sold", "stage 01")[0] == 0
    assert lot("sets", filled, "--undo", "stage 02")[0] == 0
    states = {one["name"]: one["state"] for one in as_json("sets", filled)["sets"]}
    assert list(states.values()) == ["sold", "dissolved", "locked", "locked", "locked"]
    again = as_json("match", filled)
    locked = {one["name"] for one in again["sets"] if one["locked"]}
    assert locked == {"stage 03", "stage 04", "stage 05"}
    new = [one for one in again["sets"] if not one["locked"]]
    assert len(new) == 3  # families d and h, and two of the three that were let go
    assert any(set(one["tubes"]) <= by_name["stage 02"] for one in new)
    sold = {one["tube"] for one in again["excluded"] if "sold" in one["reasons"]}
    assert sold == by_name["stage 01"]
    assert box.family_of(sold.pop()) is not None
    status, _, err = lot("sets", filled, "--lock", "mine", "--tube", by_name["stage 03"].pop())
    assert (status, "is in the set 'stage 03'" in err) == (1, True)


def test_a_locked_tube_that_fails_later_is_not_passed_over(day, filled, tmp_path):
    kept = as_json("match", filled, "--spare", "--keep", "stage")
    victim = kept["sets"][0]["tubes"][0]
    table = write_table(tmp_path / "hand.csv", "tube,shorts", f"{victim},grid to cathode")
    lot("add", filled, "--hand-tests", table)
    (first, *others) = as_json("match", filled)["sets"]
    (against,) = first["against"]
    assert against["tube"] == victim
    assert "reject, short" in against["reasons"][0]
    assert not any(one["against"] for one in others)
    assert f"stage 01 is locked, but {victim} would be in no set today" in lot("match", filled)[1]
    assert f"{victim} reject" in lot("sets", filled)[1]
    members = as_json("sets", filled)["sets"][0]["members"]
    assert {m["serial"]: m["verdict"] for m in members}[victim] == "reject"
    out = tmp_path / "shop"
    lot("listing", filled, out, "--no-grades")
    names = {path.name for path in out.glob("*.txt")}
    assert "set-stage-01.txt" not in names
    assert "set-stage-02.txt" in names


@pytest.fixture
def two_lots(day, tmp_path) -> Path:
    """Return a lot file with ARC-07 twice: family "c" parted over two lots, and "d" too."""
    box, path = day[0], tmp_path / "two.lot"
    one, other, third = box.families["c"]
    text = (box.folder / f"{third}.csv").read_text("utf-8").replace(third, one)
    (tmp_path / "again.csv").write_text(text, "utf-8")
    first, second = box.families["d"]
    lot("create", path)
    for name, serials in (("spring", (one, first)), ("autumn", (other, second))):
        lot("add", path, *(box.folder / f"{serial}.csv" for serial in serials), "--lot", name)
    lot("add", path, tmp_path / "again.csv", "--lot", "autumn")
    return path


def test_sets_across_two_lots(day, two_lots):
    one, other, _ = day[0].families["c"]
    free = {frozenset(pair["tubes"]) for pair in as_json("match", two_lots)["sets"]}
    assert free == {frozenset(day[0].families["d"]), frozenset((f"{one} (autumn)", other))}
    across = as_json("match", two_lots, "--across", "spring", "autumn")["sets"]
    spring = {f"{one} (spring)", day[0].families["d"][0]}
    assert len(across) == 2
    assert all(len(spring.intersection(pair["tubes"])) == 1 for pair in across)
    assert lot("match", two_lots, "--across", "spring", "winter")[0] == 1


def test_the_names_that_a_match_gives_are_understood_everywhere(day, two_lots, tmp_path):
    one, other, _ = day[0].families["c"]
    name = f"{one} (spring)"
    assert "stands in the lots 'autumn', 'spring'" in lot("mate", two_lots, one)[2]
    assert as_json("mate", two_lots, name)["tube"] == name
    assert as_json("returned", two_lots, name)["lot"] == "spring"
    assert lot("sets", two_lots, "--lock", "s", "--tube", name, "--tube", other)[0] == 0
    members = as_json("sets", two_lots)["sets"][0]["members"]
    assert [(m["serial"], m["lot"]) for m in members] == [(one, "spring"), (other, "autumn")]
    out = tmp_path / "r.csv"
    assert lot("report", two_lots, out, "--no-grades", "--tube", f"{one} (autumn)")[0] == 0
    with out.open(encoding="utf-8", newline="") as stream:
        assert [(row["tube"], row["lot"]) for row in csv.DictReader(stream)] == [(one, "autumn")]
    assert lot("overrule", two_lots, name, "hold", "--reason", "r", "--person", "p")[0] == 0
    assert lot("sets", two_lots, "--lock", " ", "--tube", one)[0] == 1
    assert lot("match", two_lots, "--keep", " ")[0] == 2


def test_a_mate_by_name_and_by_figures(day):
    box, path, _ = day
    one, other = box.families["d"]
    ranking = as_json("mate", path, one)
    assert ranking["schema"] == "curvelab.mates/1"
    first = ranking["mates"][0]
    assert (first["tube"], first["within_tolerance"]) == (other, True)
    assert not any(mate["within_tolerance"] for mate in ranking["mates"][1:])
    tube = next(t for t in as_json("list", path)["tubes"] if t["serial"] == one)
    constants = tube["results"][0]["constants"]
    current, gm = (constants[key]["value"] for key in ("plate_ma", "gm_ms"))
    letter = f"250,-8,{current:.4f}+-0.05,{gm:.4f}+-0.05"
    ranking = as_json("mate", path, "--figures", letter, "--type", "6J5")
    assert {mate["tube"] for mate in ranking["mates"][:2]} == {one, other}
    assert ranking["mates"][0]["spread_pct"] == pytest.approx(0, abs=0.01)
    assert ranking["mates"][0]["distinguishable"] is False
    bare = as_json("mate", path, "--figures", f"250,-8,{current:.4f}", "--type", "6J5")
    assert bare["by"] == ["plate current"]
    assert bare["mates"][0]["distinguishable"] is None


def test_a_customers_half_of_a_dual_tube_finds_sections(day):
    ranking = as_json("mate", day[1], "--figures", "250,-8.5,11.3,2.37", "--type", "12AU7")
    assert ranking["mates"][0]["tube"].endswith(("section 1", "section 2"))
    assert ranking["mates"][0]["tube"][:6] in day[0].families["h"]


# --- verdicts, suppliers, customers -----------------------------------------------------------


def test_rejects_go_back_with_their_reasons(day, filled):
    box = day[0]
    bad = {s for s, fault in box.faults.items() if fault != "section-imbalance"}
    claims = as_json("claims", filled)["claims"]
    assert {claim["serial"] for claim in claims} == bad
    for claim in claims:
        assert (claim["supplier"], claim["cost"], claim["days_left"]) == ("a fair", "6.50", 9)
        assert claim["reasons"], claim["serial"]
    assert as_json("claims", filled, "--supplier", "somebody else")["claims"] == []
    serial = box.bad("weak-emission")
    told = ("--reason", "sold as worn", "--person", "Ines")
    assert lot("overrule", filled, serial, "accept", *told)[0] == 0
    assert {claim["serial"] for claim in as_json("claims", filled)["claims"]} == bad - {serial}
    tube = next(t for t in as_json("list", filled)["tubes"] if t["serial"] == serial)
    assert (tube["verdict"], tube["measured_verdict"]) == ("accept", "reject")
    assert (tube["overruled"]["reason"], tube["overruled"]["person"]) == ("sold as worn", "Ines")
    good = box.families["a"][0]
    for nothing in (("--reason", " ", "--person", "p"), ("--reason", "r", "--person", "")):
        status, _, err = lot("overrule", filled, good, "reject", *nothing)
        assert (status, "it must say something" in err) == (2, True)
    assert lot("overrule", filled, good, "reject", *told)[0] == 0
    excluded = {one["tube"]: one["reasons"] for one in as_json("match", filled)["excluded"]}
    assert excluded[good] == ["reject, set by Ines: sold as worn"]
    assert serial not in excluded


def test_a_tube_comes_back_and_is_held_against_its_own_sheet(day, filled, tmp_path):
    box = day[0]
    as_json("match", filled, "--spare", "--keep", "stage")
    serial, twin, _ = box.families["c"]
    assert "swept once only" in lot("returned", filled, serial)[1]
    back = sweep_again(tmp_path / "back.csv", box, serial, 0.9)
    assert lot("add", filled, back)[0] == 0
    document = as_json("returned", filled, serial)
    assert (document["tube"], document["lot"]) == (serial, "spring")
    (section,) = document["sections"]
    assert section["same_point"]
    assert section["same_bench"]
    assert not section["another_tube"]
    changes = {change["constant"]: change for change in section["changes"]}
    assert changes["plate current"]["change_pct"] == pytest.approx(-10, abs=1)
    assert changes["plate current"]["normalised"] < -1
    assert abs(changes["amplification factor"]["normalised"]) < 1
    assert section["curve_distance_pct"] == pytest.approx(10, abs=1)
    text = lot("returned", filled, serial)[1]
    assert re.search(r"plate current: (8\.99\d|9\.0\d\d) to 8\.(0|1)\d\d mA, -10\.\d %", text)
    assert "more than the uncertainty" in text
    # What the match said of its set no longer holds, and nothing says that it does.
    name = next(
        one["name"]
        for one in as_json("sets", filled)["sets"]
        if serial in {member["serial"] for member in one["members"]}
    )
    out = tmp_path / "shop"
    lot("listing", filled, out, "--set", name, "--no-grades")
    said = " ".join((out / f"set-{name.replace(' ', '-')}.txt").read_text("utf-8").split())
    assert "Can our bench tell them apart? Yes" in said
    assert "They lie within 1" in said  # by the new figures: the pair is 10 % apart
    assert twin in said


# --- paper ------------------------------------------------------------------------------------


@needs_poppler
def test_a_sheet_of_every_set_that_a_match_proposes(day, tmp_path):
    box, path, _ = day
    out = tmp_path / "sets.pdf"
    status, said, err = lot("match", path, "--spare", "--by", "curve", "--sheets", out)
    assert (status, err) == (0, "")
    assert "sets: 5" in said
    text = " ".join(page_texts(out))
    assert text.count("Proposed only: the lot file does not keep these tubes together.") == 5
    for serial in box.families["a"]:
        assert serial in text
    assert "%, by curve." in text
    assert as_json("sets", path)["sets"] == []  # nothing was locked by it


@needs_poppler
def test_a_sheet_of_tubes_that_a_person_names(day, tmp_path):
    box, path, _ = day
    out = tmp_path / "two.pdf"
    one, other = box.families["d"]
    status, _, err = lot("set-sheets", path, out, "--together", one, other, "--no-grades")
    assert (status, err) == (0, "")
    (text,) = page_texts(out)
    assert f"6J5: {one}, {other}" in text
    assert "Proposed pair" in text
    for wrong, says in (((one,), "two tubes or more"), ((one, "X"), "no tube 'X'")):
        status, _, err = lot("set-sheets", path, out, "--together", *wrong)
        assert (status, says in err) == (1, True)


@needs_poppler
def test_report_labels_and_listings_agree_with_the_list(day, filled, tmp_path):
    box = day[0]
    as_json("match", filled, "--spare", "--keep", "stage")
    assert lot("report", filled, tmp_path / "r.pdf") == (0, "", "")
    text = " ".join(page_texts(tmp_path / "r.pdf"))
    assert "26 tubes; 2 types; 5 sets; lot spring; supplier a fair" in text
    assert f"{RETURN_BY.isoformat()} (9" in text
    for serial, fault in box.faults.items():
        assert serial in text
        assert FindingCode(CODES.get(fault, fault)).value in text
    assert lot("report", filled, tmp_path / "r.csv", "--no-grades")[0] == 0
    with (tmp_path / "r.csv").open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    held = {tube["serial"]: tube for tube in as_json("list", filled)["tubes"]}
    assert {row["tube"] for row in rows} == box.serials
    currents = {
        (serial, result["section"] or ""): result["constants"]["plate_ma"]["value"]
        for serial, tube in held.items()
        for result in tube["results"]
        if result["kind"] == "curves"
    }
    for row in rows:
        assert row["verdict"] == held[row["tube"]]["verdict"]
        current = currents[row["tube"], row["section"]]
        shown = float(row["Ip (mA)"]) if row["Ip (mA)"] else None
        assert shown == (None if current is None else pytest.approx(current))
    assert lot("report", filled, tmp_path / "r.xlsx", "--no-grades")[0] == 0
    book = load_workbook(tmp_path / "r.xlsx")
    assert {"counts", "rejects", "sets", "tubes"} <= set(book.sheetnames)
    assert lot("set-sheets", filled, tmp_path / "s.pdf", "--no-grades")[0] == 0
    assert " ".join(page_texts(tmp_path / "s.pdf")).count("Matched pair with a spare") == 5
    assert lot("labels", filled, tmp_path / "l.pdf", "--no-grades")[0] == 0
    assert page_count(tmp_path / "l.pdf") == 2  # 26 tubes on sheets of 24
    status, out, _ = lot("listing", filled, tmp_path / "shop", "--no-grades")
    assert status == 0
    offered = {Path(line).stem for line in out.splitlines()}
    loose = {s for name in "deh" for s in box.families[name]} | {box.bad("section-imbalance")}
    assert offered == loose | {f"set-stage-{n:02d}" for n in range(1, 6)}
