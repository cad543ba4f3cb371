"""What the window remembers from one run to the next."""

from __future__ import annotations

from dataclasses import asdict, fields
from pathlib import Path

from PySide6.QtCore import QByteArray, QSettings

from curvelab.window.theme import Scheme
from curvelab.workbench.session import Display
from curvelab.workbench.views import View

__all__ = ["Settings"]

_MOST_RECENT = 10


class Settings:
    """A thin cover over Qt's settings, with the types of what is kept."""

    def __init__(self, store: QSettings) -> None:
        self._store = store

    @property
    def recent(self) -> list[Path]:
        """Files and folders opened lately, the last one first, be they there or not."""
        return [Path(path) for path in self._strings("recent")]

    def add_recent(self, path: Path) -> None:
        """Put a file or folder at the head of the recent ones."""
        here = str(path.absolute())
        rest = [kept for kept in self._strings("recent") if kept != here]
        self._store.setValue("recent", [here, *rest][:_MOST_RECENT])

    def clear_recent(self) -> None:
        """Forget the recent files."""
        self._store.remove("recent")

    @property
    def person(self) -> str:
        """Who set a verdict last, empty at first."""
        return str(self._store.value("person", "") or "")

    @person.setter
    def person(self, name: str) -> None:
        self._store.setValue("person", name)

    @property
    def go_on(self) -> bool:
        """Whether to begin with what lay on the table last."""
        return str(self._store.value("go_on", "true")).casefold() == "true"

    @go_on.setter
    def go_on(self, on: bool) -> None:
        self._store.setValue("go_on", on)

    @property
    def columns(self) -> str:
        """The layout of the table's columns, empty at first."""
        return str(self._store.value("columns", "") or "")

    @columns.setter
    def columns(self, state: str) -> None:
        self._store.setValue("columns", state)

    @property
    def last_folder(self) -> str:
        """The folder a file was last chosen from, empty at first."""
        return str(self._store.value("last_folder", "") or "")

    @last_folder.setter
    def last_folder(self, folder: str) -> None:
        self._store.setValue("last_folder", folder)

    @property
    def bench(self) -> Path | None:
        """The bench description in force, if any."""
        kept = str(self._store.value("bench", "") or "")
        return Path(kept) if kept else None

    @bench.setter
    def bench(self, path: Path | None) -> None:
        self._store.setValue("bench", "" if path is None else str(path))

    @property
    def watched(self) -> tuple[Path, int] | None:
        """The folder that was watched last, and what time its watch had reached [ns]."""
        folder = str(self._store.value("watched/folder", "") or "")
        reached = str(self._store.value("watched/reached", "0"))
        return (Path(folder), int(reached)) if folder and reached.isdigit() else None

    @watched.setter
    def watched(self, watched: tuple[Path, int] | None) -> None:
        folder, reached = watched or ("", 0)
        self._store.setValue("watched/folder", str(folder))
        self._store.setValue("watched/reached", str(reached))  # more than 32 bits

    @property
    def at_once(self) -> bool:
        """Whether each tube is shown as it comes in."""
        return str(self._store.value("at_once", "false")).casefold() == "true"

    @at_once.setter
    def at_once(self, on: bool) -> None:
        self._store.setValue("at_once", on)

    @property
    def scheme(self) -> Scheme:
        """Light, dark, or as the system."""
        kept = str(self._store.value("scheme", Scheme.SYSTEM.value))
        return Scheme(kept) if kept in set(Scheme) else Scheme.SYSTEM

    @scheme.setter
    def scheme(self, scheme: Scheme) -> None:
        self._store.setValue("scheme", scheme.value)

    @property
    def growth(self) -> int:
        """Points the text is larger than the system's."""
        kept = str(self._store.value("text_growth", 0))
        return int(kept) if kept.lstrip("-").isdigit() else 0

    @growth.setter
    def growth(self, points: int) -> None:
        self._store.setValue("text_growth", points)

    @property
    def display(self) -> Display:
        """What of a plot is shown."""
        names = [item.name for item in fields(Display)]
        kept = {name: self._store.value(f"display/{name}") for name in names}
        known = {name: str(value) for name, value in kept.items() if value is not None}
        return Display(**{name: value.casefold() == "true" for name, value in known.items()})

    @display.setter
    def display(self, display: Display) -> None:
        for name, on in asdict(display).items():
            self._store.setValue(f"display/{name}", on)

    @property
    def view(self) -> View:
        """The view last looked at."""
        kept = str(self._store.value("view", View.PLATE.value))
        return View(kept) if kept in set(View) else View.PLATE

    @view.setter
    def view(self, view: View) -> None:
        self._store.setValue("view", view.value)

    @property
    def geometry(self) -> QByteArray | None:
        """Place and size of the window."""
        return self._bytes("geometry")

    @geometry.setter
    def geometry(self, geometry: QByteArray) -> None:
        self._store.setValue("geometry", geometry)

    @property
    def panels(self) -> QByteArray | None:
        """Place and size of the panels that can be moved."""
        return self._bytes("panels")

    @panels.setter
    def panels(self, state: QByteArray) -> None:
        self._store.setValue("panels", state)

    @property
    def dividers(self) -> dict[str, QByteArray]:
        """Where the parts of the window meet."""
        self._store.beginGroup("dividers")
        names = self._store.childKeys()
        self._store.endGroup()
        kept = {name: self._bytes(f"dividers/{name}") for name in names}
        return {name: state for name, state in kept.items() if state is not None}

    @dividers.setter
    def dividers(self, dividers: dict[str, QByteArray]) -> None:
        for name, state in dividers.items():
            self._store.setValue(f"dividers/{name}", state)

    def _bytes(self, key: str) -> QByteArray | None:
        kept = self._store.value(key)
        return kept if isinstance(kept, QByteArray) else None

    def _strings(self, key: str) -> list[str]:
        kept = self._store.value(key)
        if isinstance(kept, str):  # a list of one comes back as the one
            return [kept]
        return [str(item) for item in kept] if isinstance(kept, list) else []
