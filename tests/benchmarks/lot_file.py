"""A lot file of many tubes: ``python tests/benchmarks/lot_file.py [tubes] [kills]``.

Prints how long it takes to file tubes one by one, to open and list them, and to take out their
curves, in seconds and as a ratio to reading the same bytes from the disk; then kills programs
that write to a lot file (``tests/helpers/killing.py``) and says what was lost. Nothing here is
a test.
"""

from __future__ import annotations

import hashlib
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from curvelab.catalog.lot_file import create_lot, open_lot
from curvelab.catalog.records import TubeIdentity
from curvelab.catalog.results import curve_grids, file_results
from curvelab.paths import sample_folder
from curvelab.workbench.characterize import Request, characterize, settings_of
from curvelab.workbench.lot_file import list_lot
from curvelab.workbench.lot_records import measurement_of, settings_text
from helpers.lots import EARLY

_KILLING = Path(__file__).parents[1] / "helpers" / "killing.py"


def _seconds(action: Callable[[], object]) -> float:
    begin = time.perf_counter()
    action()
    return time.perf_counter() - begin


def _fill(path: Path, tubes: int) -> None:
    request = Request(paths=(sample_folder(),))
    settings = settings_text(settings_of(request), request)
    made = characterize(request).assessments
    stored = [measurement_of(item, settings, EARLY) for item in made]
    with open_lot(path, write=True) as opened:
        for number in range(tubes):
            source = made[number % len(made)].sweep.source
            content = source.content + f"# {number}\n".encode()
            fresh = replace(source, content=content, sha256=hashlib.sha256(content).hexdigest())
            measurement = replace(stored[number % len(made)], sha256=fresh.sha256)
            file_results(opened, fresh, [(TubeIdentity(f"T{number}"), measurement)])


def _say(what: str, seconds: float, base: float) -> None:
    sys.stdout.write(f"{what:<40} {seconds:8.3f} s  {seconds / base:8.1f} x reading the file\n")


def main() -> None:
    """Run the benchmark."""
    tubes = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
    kills = int(sys.argv[2]) if len(sys.argv) > 2 else 200
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "many.lot"
        create_lot(path)
        filling = _seconds(lambda: _fill(path, tubes))
        base = _seconds(path.read_bytes)
        sys.stdout.write(f"{tubes} tubes, {path.stat().st_size / 1e6:.0f} MB\n")
        _say("file one by one, judging included", filling, base)
        _say("open, check and list", _seconds(lambda: list_lot(path)), base)
        keys = [result.key for tube in list_lot(path).tubes for result in tube.results]
        with open_lot(path, write=False) as opened:
            _say("curves of all", _seconds(lambda: curve_grids(opened, keys)), base)
        command = (_KILLING, folder, kills, 1)
        subprocess.run([sys.executable, *map(str, command)], check=True)


if __name__ == "__main__":
    main()
