"""How list, plot and words share the window, wide or narrow."""

from __future__ import annotations

from PySide6.QtCore import QByteArray, Qt
from PySide6.QtGui import QResizeEvent, QShowEvent
from PySide6.QtWidgets import QVBoxLayout, QWidget

from curvelab.window.dividers import DividedParts

__all__ = ["Workspace"]

_PROBLEMS_HEIGHT = 150
_WIDE = 1600  # from this width [px] on, the words stand right of the plot


class Workspace(QWidget):
    """List left, plot in the middle; the words right of it, or under the list."""

    def __init__(
        self,
        tubes: QWidget,
        plot: QWidget,
        words: QWidget,
        problems: QWidget,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self._words = words
        self._left = DividedParts(Qt.Orientation.Vertical)
        self._left.addWidget(tubes)
        self._left.addWidget(words)
        self._across = DividedParts(Qt.Orientation.Horizontal)
        self._across.addWidget(self._left)
        self._across.addWidget(plot)
        self._down = DividedParts(Qt.Orientation.Vertical)
        self._down.addWidget(self._across)
        self._down.addWidget(problems)
        self._down.setStretchFactor(0, 1)
        self._down.setSizes([1000, _PROBLEMS_HEIGHT])
        for splitter in (self._left, self._across, self._down):
            splitter.setChildrenCollapsible(False)
            splitter.splitterMoved.connect(self._keep)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(4, 4, 4, 0)
        layout.addWidget(self._down)
        self._wide: bool | None = None
        self._kept: dict[bool, tuple[QByteArray, QByteArray]] = {}

    def sizes(self) -> dict[str, QByteArray]:
        """Return where the dividers stand, narrow and wide, for the next run."""
        return {
            f"{name}-{'wide' if wide else 'narrow'}": state
            for wide, states in self._kept.items()
            for name, state in zip(("across", "left"), states, strict=True)
        }

    def set_sizes(self, sizes: dict[str, QByteArray]) -> None:
        """Put the dividers back where they stood; call before the window is shown."""
        for wide in (False, True):
            ending = "wide" if wide else "narrow"
            if f"across-{ending}" in sizes and f"left-{ending}" in sizes:
                self._kept[wide] = (sizes[f"across-{ending}"], sizes[f"left-{ending}"])

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802
        """Move the words where there is room for them."""
        super().resizeEvent(event)
        if self.isVisible():
            self._arrange_if_new()

    def showEvent(self, event: QShowEvent) -> None:  # noqa: N802
        """Share the room out when it is known how much there is."""
        super().showEvent(event)
        self._arrange_if_new()

    def _arrange_if_new(self) -> None:
        wide = self.width() >= _WIDE
        if wide != self._wide:
            self._wide = wide
            self._arrange(wide)

    def _keep(self) -> None:
        """Remember where a person, not a resize, has put the dividers."""
        if self._wide is not None:
            self._kept[self._wide] = (self._across.saveState(), self._left.saveState())

    def _arrange(self, wide: bool) -> None:
        (self._across if wide else self._left).addWidget(self._words)
        self._across.setStretchFactor(1, 1)
        if wide in self._kept:
            across, left = self._kept[wide]
            self._across.restoreState(across)
            self._left.restoreState(left)
            return
        width, height = self.width(), self.height()
        if wide:
            self._across.setSizes([int(width * 0.375), int(width * 0.39), int(width * 0.235)])
        else:
            self._across.setSizes([int(width * 0.45), int(width * 0.55)])
            self._left.setSizes([int(height * 0.38), int(height * 0.62)])
