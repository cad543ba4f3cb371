"""Kills a process that writes to a lot file, again and again, and looks at what is left.

Run as a process of its own: it forks, which a process with a window toolkit must not. Each
run, a child writes for ever and says through a pipe what has been saved; it is killed (SIGKILL)
at a random moment; then the file must open and hold all that was said to be saved.

``python killing.py FOLDER RUNS SEED`` prints one JSON object: runs, saved, problems.
"""

from __future__ import annotations

import json
import os
import random
import signal
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parents[1]))

from curvelab.catalog.hand_tests import add_hand_test
from curvelab.catalog.kept import keep, kept_versions
from curvelab.catalog.listing import list_tubes, lot_content, tube_history
from curvelab.catalog.lot_file import LotFile, create_lot, open_lot
from curvelab.catalog.migration import backup_path
from curvelab.catalog.records import HandTest, TubeIdentity
from curvelab.catalog.results import file_results
from curvelab.catalog.schema import VERSION
from curvelab.health.records import Verdict
from curvelab.sweep.records import Conditions
from helpers import lots

_MOST_UNITS = 6  # of work that a child is seen to do before it is killed in the next one
_SWEPT = lots.measured(lots.swept("A1", "A1"))


@dataclass(frozen=True)
class _Moment:
    """When to kill: so many units of work after the start, and then a part of the next [s]."""

    units: int
    seconds: float


@dataclass
class Tally:
    """What came of the runs."""

    runs: int = 0
    saved: int = 0
    problems: list[str] = field(default_factory=list)


def main(folder: Path, runs: int, seed: int) -> Tally:
    """Kill ``runs`` children in all, a third of them at each kind of work."""
    chance, tally = random.Random(seed), Tally()
    unit = _pace(folder)
    for work in (_importing, _saving, _bringing_up):
        for turn in range(runs // 3):
            work(
                folder,
                turn,
                _Moment(chance.randint(0, _MOST_UNITS), chance.uniform(0, unit)),
                tally,
            )
            tally.runs += 1
    return tally


def _pace(folder: Path) -> float:
    """Return how long a unit of work takes on this machine now [s]."""
    path = folder / "pace.lot"
    lots.version_one(path)
    begin = time.perf_counter()
    with open_lot(path, write=True) as opened:
        for number in range(_MOST_UNITS):
            _file(opened, f"P{number}")
    return (time.perf_counter() - begin) / (1 + _MOST_UNITS)


def _file(opened: LotFile, serial: str) -> None:
    file = lots.source(serial)
    file_results(opened, file, [(TubeIdentity(serial), replace(_SWEPT, sha256=file.sha256))])


def _killed(child: Callable[[Callable[[str], None]], None], moment: _Moment) -> list[str]:
    """Run ``child`` in a process, kill it at a moment, and return what it had said."""
    reading, writing = os.pipe()
    process = os.fork()
    if process == 0:
        os.close(reading)
        try:
            os.write(writing, b"ready\n")
            child(lambda word: os.write(writing, f"{word}\n".encode()))
        finally:
            os._exit(1)
    os.close(writing)
    with os.fdopen(reading) as pipe:
        said = [pipe.readline().strip() for _ in range(1 + moment.units)]
        time.sleep(moment.seconds)
        os.kill(process, signal.SIGKILL)
        os.waitpid(process, 0)
        said += pipe.read().split()
    return [word for word in said if word not in ("", "ready")]


def _importing(folder: Path, turn: int, moment: _Moment, tally: Tally) -> None:
    """File one sweep after another, into a file that grows over the runs."""
    path = folder / "import.lot"
    if not path.exists():
        create_lot(path)

    def child(say: Callable[[str], None]) -> None:
        with open_lot(path, write=True) as opened:
            for number in range(1000):
                _file(opened, f"T{turn}-{number}")
                say(f"T{turn}-{number}")

    said = _killed(child, moment)
    tally.saved += len(said)
    with open_lot(path, write=True) as opened:
        there = {tube.identity.serial for tube in list_tubes(opened) if tube.results}
        content = lot_content(opened) if turn % 10 == 0 else None
    if missing := set(said) - there:
        tally.problems.append(f"import {turn}: lost {sorted(missing)}")
    if content is not None and not all(item.content for item in content.sources):
        tally.problems.append(f"import {turn}: bytes lost")


def _saving(folder: Path, turn: int, moment: _Moment, tally: Tally) -> None:
    """Save hand tests and kept records."""
    path = folder / "save.lot"
    if not path.exists():
        create_lot(path)
        with open_lot(path, write=True) as opened:
            lots.file_tube(opened, "A1")
    test = HandTest(lots.LATER, None, Conditions(warm_up=600.0), None, (), Verdict.ACCEPT)

    def child(say: Callable[[str], None]) -> None:
        with open_lot(path, write=True) as opened:
            for _ in range(1000):
                add_hand_test(opened, 1, test)
                say("by-hand")
                keep(opened, "correction", "", "{}", lots.LATER)
                say("kept")

    with open_lot(path, write=False) as opened:
        before = len(tube_history(opened, 1).hand_tests), len(kept_versions(opened, "correction"))
    said = _killed(child, moment)
    tally.saved += len(said)
    with open_lot(path, write=True) as opened:
        after = len(tube_history(opened, 1).hand_tests), len(kept_versions(opened, "correction"))
    for word, old, new in zip(("by-hand", "kept"), before, after, strict=True):
        if new not in (old + said.count(word), old + said.count(word) + 1):
            tally.problems.append(f"save {turn}: {word} {old} + {said.count(word)} is {new}")


def _bringing_up(folder: Path, turn: int, moment: _Moment, tally: Tally) -> None:
    """Open an old file with a program that is killed while it brings it up."""
    path = folder / f"old-{turn}.lot"
    lots.version_one(path)

    def child(say: Callable[[str], None]) -> None:
        with open_lot(path, write=True):
            say("up")
        time.sleep(1)

    said = _killed(child, replace(moment, units=0))
    tally.saved += len(said)
    copy = backup_path(path, 1)
    if said and not copy.exists():
        tally.problems.append(f"old {turn}: brought up without a copy")
    if copy.exists():
        with open_lot(copy, write=False) as opened:
            if len(list_tubes(opened)) != 2:
                tally.problems.append(f"old {turn}: the copy is not whole")
    with open_lot(path, write=True) as opened:
        version = opened.rows("PRAGMA user_version")[0][0]
        if version != VERSION or [t.identity.serial for t in list_tubes(opened)] != ["A1", "A2"]:
            tally.problems.append(f"old {turn}: version {version}, tubes lost")


if __name__ == "__main__":
    told = main(Path(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3]))
    sys.stdout.write(json.dumps(vars(told)) + "\n")
