"""Behaviour: a watched folder gives every complete sweep once, whatever happens to its files."""

from __future__ import annotations

import os
import shutil
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from curvelab.ingest.decode import MAX_BYTES
from curvelab.workbench.watched_folder import Look, WatchedFolder

HEAD = "plate_v,grid_v,plate_ma\n"


@dataclass
class Bench:
    """A bench that writes into a folder, and a clock of its own."""

    folder: Path
    now: float = 100.0
    written: int = 0
    watch: WatchedFolder = field(init=False)

    def __post_init__(self) -> None:
        self.watch = WatchedFolder(self.folder)

    def write(self, name: str, text: str, *, add: bool = False) -> Path:
        """Write a file with a time of change that differs from every one before."""
        path = self.folder / name
        with path.open("a" if add else "w", encoding="utf-8") as file:
            file.write(text)
        self.written += 1
        os.utime(path, (self.written, self.written))
        return path

    def look(self, after: float = 1.0) -> Look:
        self.now += after
        return self.watch.look(self.now)

    def arrivals(self, seconds: float = 10.0) -> list[str]:
        """Return the names of what arrives in some seconds, a look a second."""
        return [item.name for _ in range(int(seconds)) for item in self.look().arrived]


@pytest.fixture
def bench(tmp_path) -> Bench:
    folder = tmp_path / "out"
    folder.mkdir()
    return Bench(folder)


def rows(first: int, count: int = 3) -> str:
    return "".join(f"{100 + 10 * at},-2,{first + at}\n" for at in range(count))


def test_a_file_is_given_once_when_it_has_stayed_as_it_is(bench):
    bench.write("a.csv", HEAD + rows(1))
    first = bench.look()
    assert (first.there, first.arrived, first.waiting) == (True, (), ("a.csv",))
    arrived = [source for _ in range(20) for source in bench.look().arrived]
    (source,) = arrived
    assert source.content == (HEAD + rows(1)).encode()
    assert bench.look().waiting == ()


def test_a_file_that_grows_is_waited_for(bench):
    bench.write("a.csv", HEAD)
    for at in range(8):
        bench.write("a.csv", rows(at, 1), add=True)
        look = bench.look()
        assert look.waiting == ("a.csv",) and not look.arrived
    assert bench.arrivals() == ["a.csv"]


def test_an_empty_file_is_never_complete(bench):
    bench.write("a.csv", "")
    assert bench.arrivals(30) == []
    bench.write("a.csv", HEAD + rows(1))
    assert bench.arrivals() == ["a.csv"]


@pytest.mark.parametrize("ending", ["# end\n", "% END of sweep", "// end\r\n\r\n"])
def test_a_last_line_that_says_end_completes_a_file_at_once(bench, ending):
    bench.write("a.csv", HEAD + rows(1) + ending)
    assert [item.name for item in bench.look().arrived] == ["a.csv"]


@pytest.mark.parametrize("text", ["# end of warm-up\n" + HEAD + rows(1), "# endless\n", "x # end"])
def test_other_lines_complete_nothing(bench, text):
    bench.write("a.csv", text)
    assert not bench.look().arrived


def test_what_is_there_already_is_left_alone_even_under_another_name(bench):
    old = bench.write("old.csv", HEAD + rows(1))
    assert bench.watch.begin(bench.now) == 1
    assert bench.arrivals() == []
    old.rename(bench.folder / "renamed.csv")
    shutil.copy(bench.folder / "renamed.csv", bench.folder / "copied.csv")
    assert bench.arrivals() == []
    bench.write("new.csv", HEAD + rows(2))
    assert bench.arrivals() == ["new.csv"]


def test_a_file_renamed_when_it_is_complete_is_given_under_that_name(bench):
    draft = bench.write("a.csv.part", HEAD + rows(1))
    assert bench.arrivals() == []
    draft.rename(bench.folder / "a.csv")
    assert bench.arrivals() == ["a.csv"]


def test_a_file_renamed_after_it_was_taken_is_not_given_again(bench):
    path = bench.write("a.csv", HEAD + rows(1))
    assert bench.arrivals() == ["a.csv"]
    path.rename(bench.folder / "b.csv")
    assert bench.arrivals() == []


def test_a_file_touched_or_written_again_with_the_same_bytes_is_not_given_again(bench):
    bench.write("a.csv", HEAD + rows(1))
    assert bench.arrivals() == ["a.csv"]
    bench.write("a.csv", HEAD + rows(1))
    assert bench.arrivals() == []
    (bench.folder / "a.csv").unlink()
    bench.look()
    bench.write("a.csv", HEAD + rows(1))
    assert bench.arrivals() == []


def test_a_file_written_anew_is_another_sweep_with_a_number(bench):
    for number, name in ((1, "a.csv"), (2, "a (2).csv"), (3, "a (3).csv")):
        path = bench.write("a.csv", HEAD + rows(10 * number))
        (source,) = [item for _ in range(10) for item in bench.look().arrived]
        assert (source.name, source.path) == (name, str(path.with_name(name)))
    (bench.folder / "a.csv").unlink()
    bench.look()
    bench.write("a.csv", HEAD + rows(50))
    assert bench.arrivals() == ["a (4).csv"]


def test_a_number_never_makes_the_name_of_another_file(bench):
    bench.write("a (2).csv", HEAD + rows(1))
    bench.write("a.csv", HEAD + rows(2))
    assert bench.arrivals() == ["a (2).csv", "a.csv"]
    bench.write("a.csv", HEAD + rows(3))
    assert bench.arrivals() == ["a (3).csv"]


def test_a_file_that_goes_on_is_the_same_sweep_and_gets_more_time(bench):
    bench.write("log.csv", HEAD + rows(1))
    assert bench.arrivals(5) == ["log.csv"]
    before = bench.watch.patience
    bench.write("log.csv", rows(4), add=True)
    assert bench.arrivals(5) == ["log.csv"]
    assert bench.watch.patience == 2 * before
    for _ in range(10):
        bench.write("log.csv", rows(7, 1), add=True)
        bench.arrivals(61)
    assert bench.watch.patience == 60.0


def test_the_folder_may_go_and_come_back(bench):
    bench.write("a.csv", HEAD + rows(1))
    assert bench.arrivals() == ["a.csv"]
    away = bench.folder.with_name("away")
    bench.folder.rename(away)
    assert not bench.look().there
    assert not bench.look().there
    away.rename(bench.folder)
    bench.write("b.csv", HEAD + rows(2))
    assert bench.arrivals() == ["b.csv"]
    shutil.rmtree(bench.folder)
    assert not bench.look().there
    bench.folder.mkdir()
    bench.write("a.csv", HEAD + rows(1))
    bench.write("c.csv", HEAD + rows(3))
    assert bench.arrivals() == ["c.csv"]


def test_only_regular_files_with_a_sweep_s_name_are_given(bench):
    bench.write("notes.pdf", "x")
    bench.write(".hidden.csv", HEAD + rows(1))
    (bench.folder / "folder.csv").mkdir()
    (bench.folder / "dead.csv").symlink_to(bench.folder / "nowhere")
    os.mkfifo(bench.folder / "pipe.csv")
    bench.write("LAST.TXT", HEAD + rows(2))
    assert bench.arrivals() == ["LAST.TXT"]


def test_a_file_that_cannot_be_read_is_told_once_and_read_when_it_can(bench):
    path = bench.folder / "huge.csv"
    with path.open("wb") as file:
        file.truncate(MAX_BYTES + 1)
    looks = [bench.look() for _ in range(20)]
    errors = [error for look in looks for error in look.errors]
    assert [(error.file, "MB" in error.reason) for error in errors] == [(str(path), True)]
    assert not [item for look in looks for item in look.arrived]
    bench.write("huge.csv", HEAD + rows(1))
    assert bench.arrivals() == ["huge.csv"]


def test_many_files_at_once_are_all_given(bench):
    for at in range(200):
        bench.write(f"{at:03}.csv", HEAD + rows(at))
    assert bench.arrivals() == [f"{at:03}.csv" for at in range(200)]


def test_a_later_watch_goes_on_where_the_first_one_stopped(bench):
    bench.write("old.csv", HEAD + rows(1))
    bench.watch.begin(bench.now)
    bench.write("taken.csv", HEAD + rows(2))
    assert bench.arrivals() == ["taken.csv"]
    reached = bench.look().reached
    bench.write("meanwhile.csv", HEAD + rows(3))
    bench.watch = WatchedFolder(bench.folder)
    assert bench.watch.begin(bench.now, reached) == 2
    assert bench.arrivals() == ["meanwhile.csv"]


def test_what_was_being_written_when_a_watch_stopped_is_not_lost(bench):
    bench.write("slow.csv", HEAD + rows(1))
    bench.write("quick.csv", HEAD + rows(2) + "# end\n")
    look = bench.look()
    assert [item.name for item in look.arrived] == ["quick.csv"]
    assert look.waiting == ("slow.csv",)
    bench.watch = WatchedFolder(bench.folder)
    bench.watch.begin(bench.now, look.reached)
    assert "slow.csv" in bench.arrivals()


def test_of_an_empty_folder_everything_is_new_later(bench):
    bench.watch.begin(bench.now)
    reached = bench.look().reached
    bench.write("first.csv", HEAD + rows(1))
    bench.watch = WatchedFolder(bench.folder)
    assert bench.watch.begin(bench.now, reached) == 0
    assert bench.arrivals() == ["first.csv"]
