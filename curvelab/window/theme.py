"""Light and dark: the palette of the widgets and the colours of the plots."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType

from PySide6.QtCore import QObject, Qt, Signal
from PySide6.QtGui import QColor, QFont, QPalette
from PySide6.QtWidgets import QApplication

from curvelab.drawing.palette import step_colours
from curvelab.health.records import Severity, Verdict

__all__ = ["DARK", "LIGHT", "Colours", "Scheme", "Theme"]


class Scheme(StrEnum):
    """Which colours a person wants."""

    SYSTEM = "system"
    LIGHT = "light"
    DARK = "dark"


@dataclass(frozen=True, slots=True)
class Colours:
    """The colours of one scheme, as ``#rrggbb``.

    ``weight`` gives the ink of a verdict or severity, and the word always stands beside it;
    ``compared`` are the inks of the few tubes laid over the first.
    """

    dark: bool
    window: str
    base: str
    raised: str
    text: str
    quiet_text: str
    accent: str
    accent_text: str
    rule: str
    reference: str
    other: str
    rating: str
    compared: tuple[str, ...]
    weight: MappingProxyType[str, str]

    def steps(self, count: int) -> list[str]:
        """Return a colour for each grid step, from the most negative up."""
        return step_colours(count, dark=self.dark)

    def of_verdict(self, verdict: Verdict) -> str:
        """Return the ink of a verdict."""
        return self.weight[verdict.value]

    def of_severity(self, severity: Severity) -> str:
        """Return the ink of a severity."""
        return self.weight[severity.value]


def _weights(calm: str, caution: str, reject: str) -> MappingProxyType[str, str]:
    return MappingProxyType(
        {
            Verdict.ACCEPT.value: calm,
            Severity.NOTE.value: calm,
            Verdict.HOLD.value: caution,
            Severity.CAUTION.value: caution,
            Severity.REJECT.value: reject,
        }
    )


# Blue, ochre and a dark magenta differ in lightness too, for eyes that see no hue.
LIGHT = Colours(
    dark=False,
    window="#eef0f2",
    base="#ffffff",
    raised="#e3e7ea",
    text="#16181a",
    quiet_text="#565d64",
    accent="#0b5670",
    accent_text="#ffffff",
    rule="#d3d7db",
    reference="#767d85",
    other="#8d959e",
    rating="#4a4f55",
    compared=("#cf0966", "#16181a", "#8d5524", "#565f5a"),
    weight=_weights("#0b5670", "#8a5a00", "#a3123f"),
)
DARK = Colours(
    dark=True,
    window="#24272b",
    base="#1a1c1f",
    raised="#31363b",
    text="#eceff1",
    quiet_text="#a7afb7",
    accent="#5cc0de",
    accent_text="#0c1418",
    rule="#3a4046",
    reference="#8b939b",
    other="#626a72",
    rating="#c3c9cf",
    compared=("#ff6c9d", "#f2f4f5", "#d8a36b", "#acb7c0"),
    weight=_weights("#79cbe4", "#f0bd54", "#ff8fae"),
)


class Theme(QObject):
    """The colours in use; follows the system's until told otherwise."""

    changed = Signal()

    def __init__(self, application: QApplication) -> None:
        super().__init__(application)
        self._application = application
        self._scheme = Scheme.SYSTEM
        self._base_size = max(application.font().pointSizeF(), 10.0)
        self._growth = 0
        application.setStyle("Fusion")
        application.styleHints().colorSchemeChanged.connect(self._follow)
        self._apply()

    @property
    def scheme(self) -> Scheme:
        """What was asked for."""
        return self._scheme

    @property
    def growth(self) -> int:
        """By how many points the text is larger than the system's."""
        return self._growth

    @property
    def colours(self) -> Colours:
        """The colours in use."""
        if self._scheme is Scheme.SYSTEM:
            system = self._application.styleHints().colorScheme()
            return DARK if system is Qt.ColorScheme.Dark else LIGHT
        return DARK if self._scheme is Scheme.DARK else LIGHT

    def font(self, larger: float = 0.0, *, bold: bool = False) -> QFont:
        """Return the font of the window, so many points larger.

        Widgets take up a new size only after `changed` was heard, so they ask here.
        """
        font = QFont(self._application.font())
        font.setPointSizeF(max(font.pointSizeF() + larger, 7.0))
        font.setBold(bold)
        return font

    def use(self, scheme: Scheme) -> None:
        """Change to a scheme."""
        if scheme is not self._scheme:
            self._scheme = scheme
            self._apply()

    def grow(self, points: int) -> None:
        """Set the size of all text, in points above the system's."""
        self._growth = max(-2, min(points, 10))
        self._apply()

    def when_changed(self, repaint: Callable[[], None]) -> None:
        """Call ``repaint`` now and whenever the colours change."""
        self.changed.connect(repaint)
        repaint()

    def _follow(self) -> None:
        if self._scheme is Scheme.SYSTEM:
            self._apply()

    def _apply(self) -> None:
        font = QFont(self._application.font())
        font.setPointSizeF(self._base_size + self._growth)
        self._application.setFont(font)
        self._application.setPalette(_palette(self.colours))
        self.changed.emit()


def _palette(colours: Colours) -> QPalette:
    role = QPalette.ColorRole
    inks = {
        role.Window: colours.window,
        role.WindowText: colours.text,
        role.Base: colours.base,
        role.AlternateBase: colours.window,
        role.Text: colours.text,
        role.PlaceholderText: colours.quiet_text,
        role.Button: colours.raised,
        role.ButtonText: colours.text,
        role.BrightText: colours.of_severity(Severity.REJECT),
        role.ToolTipBase: colours.raised,
        role.ToolTipText: colours.text,
        role.Highlight: colours.accent,
        role.HighlightedText: colours.accent_text,
        role.Link: colours.accent,
        role.LinkVisited: colours.accent,
        role.Light: colours.raised,
        role.Midlight: colours.raised,
        role.Mid: colours.rule,
        role.Dark: colours.rule,
        role.Shadow: "#000000",
        role.Accent: colours.accent,
    }
    palette = QPalette()
    for name, ink in inks.items():
        palette.setColor(name, QColor(ink))
    quiet = QColor(colours.quiet_text)
    for name in (role.WindowText, role.Text, role.ButtonText):
        palette.setColor(QPalette.ColorGroup.Disabled, name, quiet)
    return palette
