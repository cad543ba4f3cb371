"""When cycles of Python objects are collected: between two turns of the window, never for long.

Left to itself the collector runs in whichever thread makes an object, walks through all there
is while every thread waits (with a thousand tubes and the libraries loaded for a tenth of a
second), and a widget it finds in the worker's thread would be taken apart there.
"""

from __future__ import annotations

import gc

from PySide6.QtCore import QObject, QTimer

__all__ = ["Collector"]

_EVERY_MS, _SOON_MS = 100, 20
_FRESH = 2_000  # objects made and still there since the last look: fewer are not worth one
_MANY = 10_000  # while so many are made at a time, the next look comes soon
_GROWN = 50_000  # of these a walk through all of them takes below 10 ms


class Collector(QObject):
    """Collects cycles in the thread of the window, a little at a time.

    What has outlived a full collection is left out of the later ones: it is the libraries
    and the tubes, which have no cycles and live as long as the window.
    """

    def __init__(self, parent: QObject) -> None:
        super().__init__(parent)
        self._grown = 0
        self._timer = QTimer(self)
        self._timer.setInterval(_EVERY_MS)
        self._timer.timeout.connect(self.look)
        gc.disable()
        gc.freeze()  # what was loaded up to now
        self._timer.start()

    def look(self) -> None:
        """Collect what is young where there is enough of it, at times all that has come."""
        fresh = gc.get_count()[0]
        self._timer.setInterval(_SOON_MS if fresh > _MANY else _EVERY_MS)
        if fresh < _FRESH:
            return
        self._grown += fresh
        if self._grown < _GROWN:
            gc.collect(1)
        else:
            gc.collect()
            gc.freeze()
            self._grown = 0

    def stop(self) -> None:
        """Let Python collect by itself again."""
        self._timer.stop()
        gc.unfreeze()
        gc.enable()
