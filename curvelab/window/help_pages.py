"""What program this is, and errors, in windows of their own, which never block."""

from __future__ import annotations

import platform

from PySide6.QtCore import QCoreApplication, qVersion
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import (
    QDialog,
    QDialogButtonBox,
    QLabel,
    QPlainTextEdit,
    QTextBrowser,
    QVBoxLayout,
    QWidget,
)

from curvelab import __version__
from curvelab.window.tasks import Failure

__all__ = ["show_about", "show_failure"]


_MOST_LINES = 5000


def _tr(text: str) -> str:
    return QCoreApplication.translate("help", text)


def show_about(parent: QWidget) -> QDialog:
    """Open the page that says which program this is."""
    text = (
        f"<h3>curvelab {__version__}</h3>"
        f"<p>{_tr('From the sweeps of a home-built tube bench to constants, verdicts and sheets.')}"
        f"</p><p>Python {platform.python_version()}, Qt {qVersion()}, {platform.platform()}</p>"
    )
    return _page(parent, _tr("About curvelab"), text)


def show_failure(parent: QWidget, failure: Failure) -> QDialog:
    """Open what is known of something unexpected, ready to be copied into a report.

    While such a page is open, another failure is added to its details: no storm of boxes.
    """
    for page in parent.findChildren(_FailurePage):
        if page.isVisible():
            page.add(failure)
            return page
    dialog = _FailurePage(parent)
    dialog.setWindowTitle(_tr("Something unexpected went wrong"))
    reason = QLabel(
        _tr("{0}\n\nNo file of yours was changed, and the rest goes on.").format(failure.reason)
    )
    reason.setWordWrap(True)
    details = dialog.details
    details.setPlainText(f"curvelab {__version__}\n{failure.details}")
    details.setAccessibleName(_tr("Details for a report"))
    buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Close)
    copy = buttons.addButton(_tr("&Copy the details"), QDialogButtonBox.ButtonRole.ActionRole)
    copy.clicked.connect(lambda: QGuiApplication.clipboard().setText(details.toPlainText()))
    return _open(dialog, [reason, details], buttons)


class _FailurePage(QDialog):
    """Details of what went wrong, the first first."""

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self.details = QPlainTextEdit()
        self.details.setReadOnly(True)
        self.details.setMaximumBlockCount(_MOST_LINES)
        self._told: set[str] = set()

    def add(self, failure: Failure) -> None:
        """Add another failure below, once."""
        if failure.details not in self._told:
            self._told.add(failure.details)
            self.details.appendPlainText(f"\n{failure.reason}\n{failure.details}")


def _page(parent: QWidget, title: str, text: str) -> QDialog:
    dialog = QDialog(parent)
    dialog.setWindowTitle(title)
    browser = QTextBrowser()
    browser.setHtml(text)
    browser.setAccessibleName(title)
    return _open(dialog, [browser], QDialogButtonBox(QDialogButtonBox.StandardButton.Close))


def _open(dialog: QDialog, parts: list[QWidget], buttons: QDialogButtonBox) -> QDialog:
    layout = QVBoxLayout(dialog)
    for part in (*parts, buttons):
        layout.addWidget(part)
    buttons.rejected.connect(dialog.reject)
    dialog.finished.connect(dialog.deleteLater)
    dialog.resize(720, 560)
    dialog.open()
    return dialog
