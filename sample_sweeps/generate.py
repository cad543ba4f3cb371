"""Write the sample lot: the invented tubes of an invented workshop.

    python generate.py [FOLDER]

Every sweep file beside this script comes from it, byte for byte the same on each run.
STORY.md tells what each file shows.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from random import Random

from invented_bench import (
    KINDS,
    Reading,
    Take,
    Tube,
    block_rows,
    clip,
    drop_contact,
    exchanged_rows,
    log,
    long_rows,
    sag,
    section_rows,
    sweep,
    table_rows,
)
from invented_pentodes import (
    SCREEN_KINDS,
    ScreenReading,
    ScreenTube,
    screen_rows,
    sweep_screen,
)

__all__ = ["write_lot"]

_OCTAL, _LINE, _SMALL, _OUTPUT, _BIG = (
    KINDS[name] for name in ("6SN7GTB", "12AX7", "2A3", "300B", "211")
)
_USUAL = Take()
_AC = {"filament": "AC", "return": "centre tap"}

Shape = Callable[[Sequence[Reading]], Iterable[str]]


@dataclass(frozen=True, slots=True)
class Paper:
    """How a file is written."""

    shape: Shape = long_rows
    encoding: str = "utf-8"
    newline: str = "\n"


class Lot:
    """The folder being filled."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def write(self, name: str, rows: Iterable[str], paper: Paper, **about: str) -> None:
        """Write one file: a few lines about the tube, then its rows."""
        lines = [f"# tube: {name}"]
        lines += [f"# {key.replace('_', ' ')}: {value}" for key, value in about.items()]
        if paper.encoding == "utf-16-le":
            lines[0] = "\ufeff" + lines[0]
        text = paper.newline.join([*lines, *rows]) + paper.newline
        (self.folder / f"{name}.csv").write_bytes(text.encode(paper.encoding))

    def sweep(
        self, name: str, tube: Tube, take: Take = _USUAL, paper: Paper = Paper(), **about: str
    ) -> None:
        """Sweep a tube with its own seed and write the file."""
        readings = sweep(tube, Random(name), take)
        said = {**_about(tube), **about}
        self.write(name, paper.shape(readings), paper, **said)


def _about(tube: Tube) -> dict[str, str]:
    about = {"type": tube.kind.label, "bench": "workshop bench", "warm-up minutes": "10"}
    return {**about, **_AC} if tube.kind.label in ("2A3", "300B", "211") else about


def _pit(lot: Lot) -> None:
    """Fill in the octal driver tubes from the orchestra-pit amplifiers."""
    lot.sweep("PIT-01", Tube(_OCTAL, 1.02, 0.99))
    lot.sweep("PIT-02", Tube(_OCTAL, 1.13, 1.02), note="strong")
    lot.sweep("PIT-03", Tube(_OCTAL, 0.97, emission=14.0), note="hard-run for years")
    coarse, random = replace(_OCTAL, plates=(20, 360, 18)), Random("PIT-04")
    pair = {
        "1": sweep(Tube(coarse, 1.05), random),
        "2": sweep(Tube(coarse, 0.62, 0.96), random),
    }
    lot.write("PIT-04", section_rows(pair), Paper(), **_about(Tube(coarse)))
    lot.sweep("PIT-05", Tube(_OCTAL, 0.98), Take(spoil=drop_contact), note="socket 2, crackles")
    lot.sweep("PIT-06", Tube(_OCTAL, 1.01, 1.01), Take(stuck=4), Paper(table_rows))
    lot.sweep("PIT-07", Tube(KINDS["6SL7GT"], 1.03), type="6SN7GTB", note="print half gone")
    lot.sweep("PIT-08", Tube(_OCTAL, 0.99), heater_cathode_leakage="38 uA at 100 V")


def _foyer(lot: Lot) -> None:
    """Fill in the small preamplifier tubes from the foyer announcement desk."""

    def continental(readings: Sequence[Reading]) -> Iterable[str]:
        return table_rows(readings, comma=";", point=",")

    def sideways(readings: Sequence[Reading]) -> Iterable[str]:
        return table_rows(readings, across="plate")

    lot.sweep("FOYER-01", Tube(_LINE, 1.03), paper=Paper(continental, newline="\r\n"))
    lot.sweep("FOYER-02", Tube(_LINE, 0.98, leak=3.0), note="base sticky with old polish")
    lot.sweep("FOYER-03", Tube(_LINE, 1.0), Take(noise=0.05), note="bench lead frayed")
    lot.sweep("FOYER-04", Tube(_LINE, 0.97), **{"warm-up minutes": "0.3"})
    lot.sweep("FOYER-05", Tube(_LINE, 1.02), shorts="grid to cathode when tapped")
    lot.sweep("FOYER-06", Tube(_LINE, 0.96, 1.01), paper=Paper(sideways, "utf-16-le"))
    lot.sweep("FOYER-07", Tube(_LINE, emission=2e-3))


def _booth(lot: Lot) -> None:
    """Fill in the 2A3s from the projection-booth monitor amplifiers."""

    def flat_top(readings: list[Reading], random: Random) -> list[Reading]:
        return clip(readings, random, 80.0)

    def mains_dip(readings: list[Reading], _random: Random) -> list[Reading]:
        return sag(readings, -45.0, 200.0, 0.17)

    # The handbook's point of this type lies at the rated dissipation itself.
    full = Take(load=1.0)
    lot.sweep("BOOTH-01", Tube(_SMALL, 0.99), full, Paper(block_rows))
    lot.sweep("BOOTH-02", Tube(_SMALL, 0.98, gas=8e-4), full)
    limited = replace(full, spoil=flat_top)
    lot.sweep("BOOTH-03", Tube(_SMALL, 0.97), limited, note="supply limit at 80 mA")
    lot.sweep("BOOTH-04", Tube(_SMALL, 0.97), paper=Paper(exchanged_rows))
    hand = replace(_SMALL, plates=(150, 250, 6), grids=(-45, -10, 3))
    lot.sweep("BOOTH-05", Tube(hand, 0.98), Take(load=1.0), note="by hand, two meters")
    lot.sweep("BOOTH-06", Tube(_SMALL, 1.01), Take(highest=180.0), note="low supply that day")
    lot.sweep("BOOTH-07", Tube(_SMALL, 0.98), Take(spoil=mains_dip), note="lights dimmed")


def _balcony(lot: Lot) -> None:
    """Fill in the 300Bs from the balcony loudspeaker amplifiers."""

    def leads_reversed(readings: Sequence[Reading]) -> Iterable[str]:
        return long_rows(readings, flipped=True)

    every_other = replace(_OUTPUT, plates=(30, 435, 14))
    lot.sweep("BALCONY-01", Tube(_OUTPUT, 1.01))
    lot.sweep("BALCONY-02", Tube(_OUTPUT, 1.0, cold=8.0))
    lot.sweep("BALCONY-03", Tube(_OUTPUT, 0.99), Take(load=1.7), note="bench limit left off")
    lot.sweep("BALCONY-04", Tube(_OUTPUT, 1.03), paper=Paper(leads_reversed))
    lot.sweep("BALCONY-05", Tube(every_other, 1.05, warming=3.5), Take(both_ways=True))
    lot.sweep("BALCONY-06", Tube(_OUTPUT, 0.62))


def _stage(lot: Lot) -> None:
    """Fill in the big triodes from the stage horn amplifiers, and the logs of their soak."""
    lot.sweep("STAGE-01", Tube(_BIG, 1.0))
    lot.sweep("STAGE-02", Tube(_BIG, 1.22, 0.98), type="PROSCENIUM-L", note="uprated twin")
    courses: dict[str, tuple[Tube, Callable[[float], float]]] = {
        "STAGE-03": (Tube(_BIG, 1.02), lambda s: 1.0 - 0.06 * math.exp(-s / 110.0)),
        "STAGE-04": (Tube(_BIG, 0.96), lambda s: 1.0 - 0.09 * s / 780.0),
        "STAGE-05": (Tube(_BIG, 1.05, gas=2e-4), lambda s: 1.0 + 0.012 * math.expm1(s / 240.0)),
        "STAGE-06": (Tube(_BIG, 1.01), lambda s: 1.0),
    }
    for name, (tube, course) in courses.items():
        rows = long_rows(log(tube, Random(name), course, minutes=13))
        lot.write(name, rows, Paper(), **{**_about(tube), "warm-up minutes": "2"})


def _bar(lot: Lot) -> None:
    """Fill in the small output pentodes and beam tubes from the bar's loudspeaker amplifiers."""

    def take(name: str, tube: ScreenTube, readings: Sequence[ScreenReading], note: str) -> None:
        about = {"type": tube.kind.label, "connection": "pentode", "bench": "workshop bench"}
        about |= {"warm-up minutes": "10"} | ({"note": note} if note else {})
        metered = tube.kind.label == "EL84"
        lot.write(name, screen_rows(readings, metered=metered), Paper(), **about)

    pentode, beam = SCREEN_KINDS["EL84"], SCREEN_KINDS["6V6"]
    good = ScreenTube(pentode, 0.97)
    take("BAR-01", good, sweep_screen(good, Random("BAR-01")), "")
    hot = ScreenTube(replace(pentode, grids=(-3.3, -0.5, 15)), 1.02)
    loaded = sweep_screen(hot, Random("BAR-02"), screen_load=2.6)
    take("BAR-02", hot, loaded, "screen limit left off")
    twice = ScreenTube(beam, 0.98)
    take("BAR-03", twice, sweep_screen(twice, Random("BAR-03"), (180.0, 250.0)), "")


def write_lot(folder: Path) -> None:
    """Write every file of the lot into ``folder``."""
    lot = Lot(folder)
    for part in (_pit, _foyer, _booth, _balcony, _stage, _bar):
        part(lot)


if __name__ == "__main__":
    write_lot(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent)
