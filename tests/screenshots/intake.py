"""Take pictures of the import preview, the watched folder and the sheet preview.

Run ``python tests/screenshots/intake.py FOLDER`` as one runs ``take.py``.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from PySide6.QtCore import QSettings  # noqa: E402
from PySide6.QtWidgets import QApplication, QWidget  # noqa: E402

from curvelab.paths import sample_folder  # noqa: E402
from curvelab.window.main_window import MainWindow  # noqa: E402
from curvelab.window.settings import Settings  # noqa: E402
from curvelab.window.theme import Scheme, Theme  # noqa: E402
from tests.screenshots.take import LONGEST_READ_S, SETTLE_S, wait  # noqa: E402

SIZES = ((1280, 800), (1920, 1080))
Shoot = Callable[[str, QWidget], None]


def main() -> None:
    """Open files that need a person, watch a folder, look at sheets."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    folder: Path = parser.parse_args().folder
    folder.mkdir(parents=True, exist_ok=True)
    application = QApplication(["curvelab"])
    with tempfile.TemporaryDirectory() as scratch:
        store = QSettings(str(Path(scratch) / "settings.ini"), QSettings.Format.IniFormat)
        theme = Theme(application)
        window = MainWindow(theme, Settings(store))
        window.show()

        def shoot(what: str, part: QWidget) -> None:
            for width, height in SIZES:
                for scheme in (Scheme.LIGHT, Scheme.DARK):
                    theme.use(scheme)
                    window.resize(width, height)
                    if part is not window:
                        part.resize(min(width - 80, 1500), height - 60)
                    wait(application, SETTLE_S)
                    part.grab().save(str(folder / f"{what}-{width}x{height}-{scheme.value}.png"))

        walk(application, window, Path(scratch), shoot)
        window.close()


def walk(application: QApplication, window: MainWindow, scratch: Path, shoot: Shoot) -> None:
    """Go through what a person meets when files come in."""
    good = sorted(sample_folder().glob("*.csv"))[:4]
    window.open_paths(good)
    rest(application, window)
    preview = window.intake.preview
    window.intake.import_paths([*write_odd(scratch / "odd"), *good[:2]])
    rest(application, window)
    for row, what in enumerate(("reversed", "positive", "asks", "wide", "rows", "unknown")):
        preview.files.setCurrentRow(row)
        preview.panel.tabs.setCurrentIndex(1 if what == "rows" else 2 if what == "unknown" else 0)
        shoot(f"preview-{what}", preview)
    preview.close()
    bench = scratch / "bench"
    bench.mkdir()
    begun: list[int] = []
    window.intake.watch.begun.connect(begun.append)
    window.intake.watch.start(bench)
    wait(application, LONGEST_READ_S, until=lambda: bool(begun))
    (bench / "new.csv").write_bytes(good[0].read_bytes() + b"# end\n")
    (bench / "next.csv").write_text("Vp,Vg,Ip\n100,-2,3\n", encoding="utf-8")
    wait(application, LONGEST_READ_S, until=lambda: len(window.lot.entries) > len(good))
    shoot("watch", window)
    window.intake.watch.stop()
    window.lot.choose([entry.key for entry in window.lot.entries])
    window.actions_.preview_sheets.trigger()
    wait(application, SETTLE_S)
    sheets = [part for part in application.topLevelWidgets() if part.windowTitle() == "Sheets"]
    shoot("sheets", sheets[0])


def rest(application: QApplication, window: MainWindow) -> None:
    """Wait until nothing is read any more."""
    tasks = (window.tasks, window.intake.preview.tasks)
    wait(application, LONGEST_READ_S, until=lambda: not any(one.busy for one in tasks))
    wait(application, SETTLE_S)


def write_odd(folder: Path) -> list[Path]:
    """Write files in which something is guessed, asked, set aside or not known."""
    folder.mkdir()
    curves = [
        (vp, vg, max(vg + vp / 20, 0) ** 1.5) for vg in range(-2, -9, -2) for vp in (100, 150, 200)
    ]
    steps = range(-2, -9, -2)
    wide = [[f"{vp}", *(f"{max(vg + vp / 20, 0) ** 1.5:.3f}" for vg in steps)] for vp in (100, 200)]
    texts = {
        "STALLS-11.csv": ["Vp (V),Vg (V),Ip", *(f"{p},{-g},{i:.3f}" for p, g, i in curves)],
        "STALLS-12.csv": ["Vp (V),Vg (V),Ip", *(f"{p},{g},{i / 30:.4f}" for p, g, i in curves)],
        "STALLS-13.csv": ["Vp;" + ";".join(f"{vg} V" for vg in steps), *map(";".join, wide)],
        "STALLS-14.csv": [
            "# type: 6SN7GTB",
            "Vp (V),Vg (V),Ip (mA),Ig (uA)",
            *(f"{p},{g},{i:.3f},0.01" for p, g, i in curves),
            "200,-2,OL,0.02",
            "lamp flickered,-2,3,",
            "17,,x,",
        ],
        "STALLS-15.csv": [
            "chan 1,chan 2,chan 3,spare",
            *(f"{p},{g},{i:.3f},7" for p, g, i in curves),
        ],
    }
    paths = []
    for name, lines in texts.items():
        path = folder / name
        path.write_text("\n".join(lines) + "\n", encoding="utf-8")
        paths.append(path)
    return paths


if __name__ == "__main__":
    main()
