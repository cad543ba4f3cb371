"""What is to be seen, as the strokes that paint it."""

from __future__ import annotations

from PySide6.QtCore import QBuffer, QByteArray, QIODevice
from PySide6.QtGui import QPicture, QPixmap
from PySide6.QtWidgets import QGraphicsItem, QGraphicsView, QWidget

from curvelab.sheets.plot_records import CurvePicture
from curvelab.window.saving_kinds import SeenView

__all__ = ["seen_view"]

_NOT_CACHED = QGraphicsItem.CacheMode.NoCache


def seen_view(
    page: QWidget, picture: QPixmap, plots: tuple[CurvePicture, ...], title: str
) -> SeenView:
    """Return a page with its plots as a picture, as plots, and as strokes."""
    content, buffer = QByteArray(), QBuffer()
    buffer.setBuffer(content)
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    picture.save(buffer, "PNG")
    return SeenView(
        title=title,
        png=bytes(content.data()),
        pictures=plots,
        recorded=_recorded(page),
        size=(page.width(), page.height()),
    )


def _recorded(page: QWidget) -> QPicture:
    """Record what paints a page; what is kept as an image meanwhile is painted once more."""
    views = page.findChildren(QGraphicsView)
    if isinstance(page, QGraphicsView):
        views.append(page)
    cached = [
        (item, item.cacheMode())
        for view in views
        for item in view.scene().items()
        if item.cacheMode() != _NOT_CACHED
    ]
    for item, _ in cached:
        item.setCacheMode(_NOT_CACHED)
    recorded = QPicture()
    page.render(recorded)
    for item, mode in cached:
        item.setCacheMode(mode)
    return recorded
