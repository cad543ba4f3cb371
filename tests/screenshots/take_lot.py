"""Take pictures of the work on a lot file: table, history, dialogs, recovery.

Run ``python tests/screenshots/take_lot.py FOLDER``; under ``xvfb-run`` with a window manager
the pictures are of the whole screen, so that the dialogs are on them.
"""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
from collections.abc import Callable
from datetime import UTC, datetime
from decimal import Decimal
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))

from PySide6.QtCore import QSettings
from PySide6.QtWidgets import QApplication, QDialog
from take import LONGEST_READ_S, SETTLE_S, SIZES, wait

from curvelab.catalog.records import Overrule
from curvelab.health.records import Verdict
from curvelab.paths import sample_folder
from curvelab.window.main_window import MainWindow
from curvelab.window.settings import Settings
from curvelab.window.theme import Scheme, Theme
from curvelab.workbench.lot_file import list_lot
from curvelab.workbench.lot_upkeep import change_identity

Shoot = Callable[[str], None]


def main() -> None:
    """Make a lot file of the samples and walk through what can be done with it."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    folder: Path = parser.parse_args().folder
    folder.mkdir(parents=True, exist_ok=True)
    application = QApplication(["curvelab"])
    with tempfile.TemporaryDirectory() as scratch:
        os.environ["XDG_DATA_HOME"] = scratch
        store = QSettings(str(Path(scratch) / "settings.ini"), QSettings.Format.IniFormat)
        theme = Theme(application)
        window = MainWindow(theme, Settings(store))
        window.show()

        def rest() -> None:
            wait(application, SETTLE_S)
            wait(application, LONGEST_READ_S, until=lambda: not window.lot.busy)
            wait(application, SETTLE_S)

        def shoot(what: str) -> None:
            for width, height in SIZES:
                for scheme in (Scheme.LIGHT, Scheme.DARK):
                    theme.use(scheme)
                    window.move(0, 0)
                    window.resize(width, height)
                    rest()
                    picture = application.primaryScreen().grabWindow(0, 0, 0, width, height + 30)
                    picture.save(str(folder / f"{what}-{width}x{height}-{scheme.value}.png"))

        walk(window, Path(scratch) / "spring.lot", rest, shoot)
        window.close()


def walk(window: MainWindow, path: Path, rest: Callable[[], None], shoot: Shoot) -> None:
    """Show the table of a lot file, and every dialog that changes it."""
    lot, actions = window.lot, window.actions_
    lot.file.create(path)
    rest()
    shoot("empty")
    window.open_paths([sample_folder()])
    rest()
    for number, tube in enumerate(list_lot(path).tubes):
        identity = tube.identity
        facts = {"box": f"B {number // 6 + 1}", "shelf": "cinema, left", "price": Decimal(12)}
        change_identity(path, tube.key, _with(identity, facts))
    lot.file.open(path)
    rest()
    shoot("table")
    lot.choose_rows([row.key for row in lot.rows][2:3])
    rest()
    now = datetime(2031, 3, 1, 9, 30, tzinfo=UTC)
    lot.overrule(Overrule(now, Verdict.HOLD, "hums in the preamplifier of bay 2", "R. Okafor"))
    rest()
    window.words.tabs.setCurrentWidget(window.words.history)
    shoot("history")
    window.words.tabs.setCurrentIndex(0)
    for name in ("box", "shelf", "findings"):
        window.tubes._switch_column(name, True)
    window.tubes._switch_column("type", False)
    window.tubes.verdict_box.setCurrentIndex(2)
    shoot("filtered")
    window.tubes.verdict_box.setCurrentIndex(0)
    window.tubes.hovered.emit(lot.rows[6].key)
    rest()
    shoot("hover")
    for name in ("overrule", "house", "hand_test", "columns", "all_actions"):
        getattr(actions, name).trigger()
        rest()
        shoot(name)
        for dialog in window.findChildren(QDialog):
            dialog.reject()
    window._offer_recovery(12, "spring.lot")
    shoot("recovery")


def _with(identity, facts):
    from dataclasses import replace  # noqa: PLC0415

    return replace(identity, **facts)


if __name__ == "__main__":
    main()
