"""Take pictures of the work on a lot file: table, history, dialogs, sets, papers, bench.

Run ``python tests/screenshots/take_lot.py FOLDER``; under ``xvfb-run`` with a window manager
the pictures are of the whole screen, so that the dialogs are on them.
"""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import numpy as np
from PySide6.QtCore import QSettings
from PySide6.QtWidgets import QApplication, QDialog, QInputDialog
from take import LONGEST_READ_S, SETTLE_S, SIZES, wait

from curvelab.catalog.records import Overrule
from curvelab.health.records import Verdict
from curvelab.paths import sample_folder
from curvelab.window.main_window import MainWindow
from curvelab.window.paper.paper_dialog import PaperDialog
from curvelab.window.settings import Settings
from curvelab.window.theme import Scheme, Theme
from curvelab.workbench.bench_check import CheckRequest
from curvelab.workbench.lot_bench import check_for_lot
from curvelab.workbench.lot_file import list_lot
from curvelab.workbench.lot_upkeep import change_identity
from helpers.sweeps import write_sweep

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
        facts = {
            "box": f"B {number // 6 + 1}",
            "shelf": "cinema, left",
            "supplier": ("house clearance, Mill Road", "estate of a cinema")[number % 2],
            "cost": Decimal(4),
            "price": Decimal(12),
            "return_by": date.today() + timedelta(days=number - 5),
        }
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
    window.tubes.hovered.emit(None)
    for name in ("overrule", "house", "hand_test", "columns", "all_actions"):
        getattr(actions, name).trigger()
        rest()
        shoot(name)
        close_dialogs(window)
    window._offer_recovery(12, "spring.lot")
    shoot("recovery")
    window.notice.hide()
    tools(window, path, rest, shoot)


def tools(window: MainWindow, path: Path, rest: Callable[[], None], shoot: Shoot) -> None:
    """Show what is done with a whole lot: grades, sets, mates, papers, the bench."""
    matching(window, rest, shoot)
    returned(window, rest, shoot)
    papers(window, rest, shoot)
    bench(window, path, rest, shoot)


def matching(window: MainWindow, rest: Callable[[], None], shoot: Shoot) -> None:
    """Show grades, sets and mates."""
    actions = window.actions_
    actions.grade.trigger()
    rest()
    shoot("grades")
    actions.matching.trigger()
    panel = window.tools.matching.panel
    panel.form.held.setChecked(True)
    panel.form.seek.click()
    rest()
    shoot("sets")
    panel.form.sections.setCurrentIndex(2)
    panel.form.seek.click()
    rest()
    panel.tabs.setCurrentIndex(1)
    shoot("sections")
    panel.form.sections.setCurrentIndex(0)
    panel.form.seek.click()
    rest()
    panel.sheets.click()
    rest()
    shoot("set-sheets")
    close_dialogs(window)
    window.workspace._across.handle(1).setFocus()
    shoot("divider")
    panel.sets_view.selectAll()
    panel.lock.click()
    rest()
    shoot("lock")
    asked = next(one for one in window.findChildren(QInputDialog) if one.isVisible())
    asked.accept()
    rest()
    panel.tabs.setCurrentIndex(1)
    shoot("left-over")
    window.lot.choose_called(["PIT-01"])
    rest()
    actions.mate.trigger()
    rest()
    shoot("mates")
    actions.mate_of_figures.trigger()
    rest()
    shoot("figures")
    close_dialogs(window)
    actions.matching.setChecked(False)


def returned(window: MainWindow, rest: Callable[[], None], shoot: Shoot) -> None:
    """Show a tube that has come back weaker."""
    folder = window.lot.kept.path.parent / "back"
    folder.mkdir()
    window.open_paths([write_sweep(folder / "PIT-01.csv", strength=0.85)])
    rest()
    window.lot.choose_called(["PIT-01"])
    rest()
    window.actions_.returned.trigger()
    rest()
    shoot("returned")
    close_dialogs(window)


def papers(window: MainWindow, rest: Callable[[], None], shoot: Shoot) -> None:
    """Show what asks for papers, and labels on their sheet."""
    actions = window.actions_
    actions.lot_report.trigger()
    rest()
    shoot("report")
    close_dialogs(window)
    actions.labels.trigger()
    rest()
    asked = next(one for one in window.findChildren(PaperDialog) if one.isVisible())
    asked.all.setChecked(True)
    asked.button.click()
    rest()
    shoot("labels")
    close_dialogs(window)
    actions.claims.trigger()
    rest()
    shoot("claims")
    close_dialogs(window)


def bench(window: MainWindow, path: Path, rest: Callable[[], None], shoot: Shoot) -> None:
    """Show a check of the bench that has a history."""
    for day in range(1, 12):
        check_for_lot(path, CheckRequest(f"2024-03-{day:02d}", golden=golden(path.parent, day)))
    window.actions_.check_bench.trigger()
    rest()
    shoot("bench")
    dialog = window.tools.bench.dialog
    dialog.form.take_golden(list(golden(path.parent, 20, gain=1.06)))
    dialog.form.check.click()
    rest()
    shoot("bench-shifted")
    dialog.refuse_button.click()
    rest()
    shoot("bench-refuse")
    close_dialogs(window)


def golden(folder: Path, day: int, gain: float = 1.0) -> tuple[Path, ...]:
    """Write what a bench of some gain measures of two golden tubes on a day."""
    here = folder / f"golden-{day}"
    here.mkdir()
    seated = np.random.default_rng(day)
    return tuple(
        write_sweep(
            here / f"LAMP-{number + 1}.csv",
            seed=10 * day + number,
            strength=gain * (1 + 0.04 * number) * (1 + seated.normal(0, 0.003)),
        )
        for number in range(2)
    )


def close_dialogs(window: MainWindow) -> None:
    """Close whatever dialogs are open."""
    for dialog in window.findChildren(QDialog):
        dialog.reject()


def _with(identity, facts):
    from dataclasses import replace  # noqa: PLC0415

    return replace(identity, **facts)


if __name__ == "__main__":
    main()
