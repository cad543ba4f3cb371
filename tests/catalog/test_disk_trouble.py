"""Refusal: a full disk, a folder that may not be written, a disk that is gone.

The process that meets the trouble is one of its own: its file size is limited by the system,
or its folder is a read-only mount in a name space of its own.
"""

from __future__ import annotations

import os
import sys

import pytest

from curvelab.catalog.listing import list_tubes, lot_content
from curvelab.catalog.lot_file import open_lot
from helpers import lots
from helpers.checkout import ROOT, run_command
from helpers.mounts import mounted

FILL = """
import resource, sys
from pathlib import Path
from curvelab.catalog.lot_file import open_lot
from curvelab.errors import CatalogError
from helpers import lots
path, limit = Path(sys.argv[1]), int(sys.argv[2])
resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit))
with open_lot(path, write=True) as opened:
    for number in range(500):
        try:
            lots.file_tube(opened, f"A{number:03}")
        except CatalogError as error:
            print(number, error, sep="|")
            break
"""
TMPFS = 'mount -t tmpfs -o size=600k tmpfs "$1" && shift && exec "$@"'
FILL_DISK = """
import sys
from pathlib import Path
from curvelab.catalog.listing import list_tubes
from curvelab.catalog.lot_file import create_lot, open_lot
from curvelab.errors import CatalogError
from helpers import lots
path = Path(sys.argv[1]) / "a.lot"
create_lot(path)
with open_lot(path, write=True) as opened:
    for number in range(500):
        try:
            lots.file_tube(opened, f"A{number:03}")
        except CatalogError as error:
            print(number, error, sep="|")
            break
with open_lot(path, write=False) as opened:
    print(len(list_tubes(opened)), all(tube.results for tube in list_tubes(opened)), sep="|")
"""
READ_ONLY = 'mount --bind "$1" "$1" && mount -o remount,ro,bind "$1" && shift && exec "$@"'


def run(code: str, *arguments: object, within: tuple[str, ...] = ()):
    found = run_command(
        *within, sys.executable, "-c", code, *map(str, arguments),
        environment={**os.environ, "PYTHONPATH": os.pathsep.join((str(ROOT), str(ROOT / "tests")))},
    )  # fmt: skip
    assert found.returncode == 0, found.stderr
    return found.stdout.strip().splitlines()


@pytest.mark.parametrize("limit", [400_000, 900_000])
def test_where_no_more_can_be_written_what_was_saved_stays(path, limit):
    pytest.importorskip("resource")
    (line,) = run(FILL, path, limit)
    saved, told = line.split("|")
    assert "spring.lot: " in told
    assert "allows no more to be written" in told or "the disk is full" in told
    with open_lot(path, write=True) as opened:
        tubes = list_tubes(opened)
        assert len(tubes) == int(saved) > 5
        assert all(tube.results for tube in tubes)
        assert all(source.content for source in lot_content(opened).sources)
        lots.file_tube(opened, "later")


def test_a_full_disk_is_told_and_loses_nothing(tmp_path):
    failed, found = run(FILL_DISK, tmp_path, within=mounted(tmp_path, TMPFS))
    saved, told = failed.split("|")
    assert told.endswith("the disk is full; nothing of this change was kept, and all that was in "
                         "the file still is")  # fmt: skip
    assert found == f"{saved}|True"
    assert int(saved) > 5


READ = """
import sys
from pathlib import Path
from curvelab.catalog.listing import list_tubes
from curvelab.catalog.lot_file import create_lot, open_lot
from curvelab.errors import CatalogError
from helpers import lots
path = Path(sys.argv[1])
with open_lot(path, write=False) as opened:
    print([tube.identity.serial for tube in list_tubes(opened)])
try:
    with open_lot(path, write=True) as opened:
        lots.file_tube(opened, "A2")
except CatalogError as error:
    print(error)
try:
    create_lot(path.with_name("new.lot"))
except CatalogError as error:
    print(error)
"""


def test_in_a_read_only_folder_a_lot_is_read_and_not_written(path):
    with open_lot(path, write=True) as opened:
        lots.file_tube(opened, "A1")
    listed, written, created = run(READ, path, within=mounted(path.parent, READ_ONLY))
    assert listed == "['A1']"
    assert "spring.lot: it may not be written" in written
    assert "new.lot: it may not be written" in created


OLDER = """
import sys
from pathlib import Path
from curvelab.catalog.lot_file import open_lot
from curvelab.errors import CatalogVersionError
try:
    open_lot(Path(sys.argv[1]), write=False)
except CatalogVersionError as error:
    print(error)
"""


def test_an_older_file_in_a_read_only_folder_says_what_to_do(tmp_path):
    lots.version_one(tmp_path / "old.lot")
    within = mounted(tmp_path, READ_ONLY)
    (told,) = run(OLDER, tmp_path / "old.lot", within=within)
    assert "copy it to a folder that may be written" in told
