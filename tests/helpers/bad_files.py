"""Files that a bench, a logger or a person may spoil, with a good one among them."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path

from helpers.sweeps import write_sweep

__all__ = ["HELD", "PASSED", "REFUSED", "REJECTED", "write_bad_files"]

_PLATES, _GRIDS = range(50, 301, 25), (0, -4, -8)
_HEAD = "# type: 6SN7GTB\nplate_v,grid_v,plate_ma\n"
_LOG = "# type: 6SN7GTB\ntime_s,plate_v,grid_v,plate_ma\n"


def _triode(plate: float, grid: float) -> float:
    return float(0.88 * max(grid + plate / 20 + 0.5, 0.0) ** 1.5)


def _rows(
    current: Callable[[float, float], float] = _triode,
    plates: Iterable[float] = _PLATES,
    grids: Iterable[float] = _GRIDS,
) -> str:
    plates = list(plates)
    return "".join(f"{vp},{vg},{current(vp, vg):.9g}\n" for vg in grids for vp in plates)


# Whole files that cannot be read.
REFUSED: dict[str, bytes] = {
    "binary": bytes(range(256)) * 20,
    "empty": b"",
    "headings-only": b"plate_v,grid_v,plate_ma\n",
    "nothing-but-nan": (_HEAD + "250,-8,NaN\n" * 30).encode(),
    "no-current": (_HEAD.replace("plate_ma", "rp (kohm)") + _rows()).encode(),
    "ma-as-a": (_HEAD.replace("plate_ma", "Ip (A)") + _rows()).encode(),
    "no-unit": ("Vp,Vg,Ip\n" + _rows(lambda vp, vg: 0.02 * _triode(vp, vg))).encode(),
    "beyond-any-tube": (_HEAD + _rows(lambda vp, vg: 1e12)).encode(),
    "prose": b"Dear customer,\nthe tubes are fine.\n",
}
# Files that can be read and hold too little, or nonsense: a person must decide.
HELD: dict[str, bytes] = {
    "three-points": (_HEAD + "250,-8,9\n240,-8,8.2\n250,-7,11\n").encode(),
    "one-point": (_HEAD + "250,-8,9\n" * 30).encode(),
    "zeros-everywhere": (_HEAD + "0,0,0\n" * 30).encode(),
    "never-moves": (_HEAD + _rows(lambda vp, vg: 5.0)).encode(),
    "falls-as-it-should-rise": (_HEAD + _rows(lambda vp, vg: _triode(350 - vp, vg))).encode(),
    "log-of-nothing": (_LOG + "".join(f"{t},250,-8,0\n" for t in range(50))).encode(),
    "log-of-three": (_LOG + "0,250,-8,9\n1,250,-8,9\n2,250,-8,9\n").encode(),
}
REJECTED: dict[str, bytes] = {
    "no-current-flows": (_HEAD + _rows(lambda vp, vg: 0.0)).encode(),
}
# Odd, but nothing is wrong with the tube.
PASSED: dict[str, bytes] = {
    "one-curve": (_HEAD + _rows(grids=(-8,))).encode(),
    "unknown-type": (_HEAD.replace("6SN7GTB", "ZZ99") + _rows()).encode(),
    "some-nan": (_HEAD + _rows() + "250,-8,NaN\n" * 3).encode(),
    "one-slip": (_HEAD + _rows() + "250,-8,1e9\n").encode(),
    "line-of-a-megabyte": (_HEAD + "9" * 1_000_000 + "\n" + _rows()).encode(),
}


def write_bad_files(folder: Path) -> None:
    """Write every file above into a folder, with a good one, a folder and a dead link."""
    for name, content in {**REFUSED, **HELD, **REJECTED, **PASSED}.items():
        (folder / f"{name}.csv").write_bytes(content)
    write_sweep(folder / "good.csv")
    (folder / "a-folder.csv").mkdir()
    (folder / "a-dead-link.csv").symlink_to("nowhere")
