"""The window: puts the parts together and joins what they say to what is done."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from PySide6.QtCore import Qt, QTimer
from PySide6.QtGui import (
    QCloseEvent,
    QDragEnterEvent,
    QDropEvent,
    QGuiApplication,
    QShowEvent,
)
from PySide6.QtWidgets import (
    QLabel,
    QMainWindow,
    QMenu,
    QPushButton,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from curvelab.paths import sample_folder
from curvelab.sheets.plot_records import Role, Shape
from curvelab.window.actions import Actions
from curvelab.window.around import Around
from curvelab.window.files import FileDialogs, dropped_paths
from curvelab.window.help.help_window import FIRST_PAGE, KEYS_PAGE, open_help
from curvelab.window.help_pages import show_about, show_failure
from curvelab.window.hovering import Hovering
from curvelab.window.intake.arrivals import ArrivalsButton
from curvelab.window.intake.desk import IntakeDesk
from curvelab.window.intake.watch_line import WatchLine
from curvelab.window.lot import Lot
from curvelab.window.lot_desk import LotDesk
from curvelab.window.lot_file_look import LotFileLook
from curvelab.window.lot_tools import LotTools
from curvelab.window.notice_bar import NoticeBar
from curvelab.window.plot_panel import PlotPanel
from curvelab.window.plots.markers import role_icon, shape_icon
from curvelab.window.problems import ProblemList
from curvelab.window.recovery import Recovery
from curvelab.window.room import open_as_large
from curvelab.window.saving import Saving
from curvelab.window.settings import Settings
from curvelab.window.start_page import StartPage
from curvelab.window.tasks import TaskQueue
from curvelab.window.theme import Scheme, Theme
from curvelab.window.tube_list import TubeList
from curvelab.window.verdict_panel import VerdictPanel
from curvelab.window.work_status import WorkStatus
from curvelab.window.workspace import Workspace
from curvelab.workbench.session import ProblemKind
from curvelab.workbench.views import View

__all__ = ["MainWindow"]

_FIRST_SIZE = (1280, 800)
_TOLD_MS = 10_000


class MainWindow(QMainWindow):
    """One lot on one screen."""

    def __init__(
        self, theme: Theme, settings: Settings, dialogs: FileDialogs | None = None
    ) -> None:
        super().__init__()
        self.setWindowTitle("curvelab")
        self.setAcceptDrops(True)
        self._theme, self._settings = theme, settings
        self.tasks = TaskQueue(self)
        self._leaving = False
        self.lot = Lot(self.tasks, self)
        self.lot.show(settings.display)
        self.lot.look(settings.view)
        self.actions_ = Actions(self)
        self._dialogs = dialogs or FileDialogs(self, settings)
        self._saving = Saving(self.lot, self.tasks, self._dialogs, self)
        self.intake = IntakeDesk(self.lot, theme, settings, self._dialogs, self)
        self._make_parts()
        self._make_bars()
        self.recovery = Recovery(self.lot, self.tasks)
        self._file_look = LotFileLook(self.lot, self.tasks, self)
        LotDesk(self, self.lot, self.actions_, self._dialogs, settings)
        self.tools = LotTools(
            Around(
                self,
                self.lot,
                self.tasks,
                self.tubes,
                self.actions_,
                self._dialogs,
                settings,
                theme,
            )
        )
        self.hovering = Hovering(self.lot, self.tubes, self.curves.plot, theme)
        self._connect_intents()
        self._connect_lot()
        self._restore_settings()
        theme.when_changed(self._paint_theme)
        self._show_tubes()
        self._show_display()
        self._show_view()
        self._show_problems()

    def open_paths(self, paths: Sequence[Path]) -> None:
        """Open files and folders."""
        self.lot.open(paths)

    def begin(self, paths: Sequence[Path]) -> None:
        """Begin with some files; without any, with what lay on the table last."""
        self.recovery.look()
        last = self.recovery.last if self._settings.go_on else None
        if paths:
            self.open_paths(paths)
        elif last is not None and self.notice.isHidden():
            self.recovery.bring_back(last)
        if self._settings.go_on:
            self.intake.watch_again()

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:  # noqa: N802
        """Take files and folders, wherever in the window they are held."""
        if dropped_paths(event.mimeData()):
            event.acceptProposedAction()

    def dropEvent(self, event: QDropEvent) -> None:  # noqa: N802
        """Open what is dropped."""
        event.acceptProposedAction()
        self.open_paths(dropped_paths(event.mimeData()))

    def closeEvent(self, event: QCloseEvent) -> None:  # noqa: N802
        """Remember how things were, and let no thread outlive the window.

        While something is written that a person has asked for, ask first.
        """
        if self.tasks.owes and not self._leaving:
            event.ignore()
            self._ask_leave()
            return
        self._settings.geometry = self.saveGeometry()
        self._settings.dividers = self.workspace.sizes()
        self._settings.panels = self.saveState()
        self._settings.display = self.lot.session.display
        self._settings.columns = self.tubes.columns.state()
        self._settings.view = self.lot.session.view
        self.intake.close()
        self.tasks.close()
        self.lot.close()
        self.recovery.close()
        super().closeEvent(event)

    def _ask_leave(self) -> None:
        """Offer to close once all is written, at once, or not; it closes nothing by itself."""

        def leave() -> None:
            self._leaving = True
            self.close()

        def when_done() -> None:
            if self.tasks.owes:
                self.tasks.busy_changed.connect(
                    lambda busy: None if busy else self.close(),
                    Qt.ConnectionType.SingleShotConnection,
                )
            else:
                self.close()

        self.notice.tell(
            self.tr("Something is still being written."),
            (self.tr("Close when it is &done"), when_done),
            (self.tr("&Stop it and close"), leave),
            (self.tr("Sta&y here"), lambda: None),
        )

    def showEvent(self, event: QShowEvent) -> None:  # noqa: N802
        """Begin with the list, so that the arrow keys step from tube to tube."""
        super().showEvent(event)
        self.tubes.view.setFocus(Qt.FocusReason.OtherFocusReason)

    def _make_parts(self) -> None:
        self.tubes = TubeList(self.lot, self._theme)
        actions = self.actions_
        self.curves = PlotPanel(
            self.lot, self._theme, actions.views.values(), actions.switches.values()
        )
        self.words = VerdictPanel(self.lot, self._theme)
        self.problem_list = ProblemList(self.lot)
        self.workspace = Workspace(self.tubes, self.curves, self.words, self.problem_list)
        self.start_page = StartPage(self._theme)
        self._pages = QStackedWidget()
        self._pages.addWidget(self.start_page)
        self._pages.addWidget(self.workspace)
        self.notice = NoticeBar(self._theme)
        whole = QWidget()
        column = QVBoxLayout(whole)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addWidget(self.notice)
        column.addWidget(self._pages, 1)
        newcomers = ArrivalsButton(self.intake.arrivals, actions.newest)
        column.addWidget(WatchLine(self.intake.watch, newcomers))
        self.setCentralWidget(whole)

    def _make_bars(self) -> None:
        self._recent_menu = QMenu(self.tr("Open re&cent"), self)
        self._recent_menu.aboutToShow.connect(self._fill_recent)
        benches = QMenu(self.tr("&Bench description"), self)
        benches.aboutToShow.connect(lambda: self.intake.fill_benches(benches))
        self.actions_.fill(self.menuBar(), self._recent_menu, benches)
        self._problem_button = QPushButton()
        self._problem_button.setFlat(True)
        self._problem_button.clicked.connect(self.actions_.problems.trigger)
        self._reminder = QLabel(self.tr("Lethal voltage, stored charge, hot glass"))
        self._reminder.setToolTip(self.tr("See Help, Sweep safely"))
        bar = self.statusBar()
        bar.addPermanentWidget(WorkStatus(self.tasks, self.actions_.cancel))
        bar.addPermanentWidget(self._problem_button)
        bar.addPermanentWidget(self._reminder)

    def _connect_intents(self) -> None:
        actions, lot, saving = self.actions_, self.lot, self._saving
        for signal, intent in (
            (actions.open_files.triggered, self._ask_files),
            (actions.open_folder.triggered, self._ask_folder),
            (actions.open_samples.triggered, lambda: self.open_paths([sample_folder()])),
            (actions.import_files.triggered, self.intake.ask_import),
            (actions.reading.triggered, self.intake.show_reading),
            (actions.preview_sheets.triggered, lambda: lot.with_chosen(saving.preview_sheets)),
            (actions.save_sheets.triggered, lambda: lot.with_chosen(saving.save_sheets)),
            (actions.print_sheets.triggered, lambda: lot.with_chosen(saving.print_sheets)),
            (actions.save_plot.triggered, self._save_plot),
            (actions.save_lot.triggered, lambda: lot.with_all(saving.save_lot)),
            (actions.save_netlists.triggered, lambda: lot.with_chosen(saving.save_netlists)),
            (actions.quit.triggered, self.close),
            (actions.copy_rows.triggered, self._copy),
            (actions.copy_plot.triggered, self._copy_plot),
            (actions.filter.triggered, self.tubes.start_filter),
            (actions.choose_all.triggered, self.tubes.view.selectAll),
            (actions.remove.triggered, lot.remove_chosen),
            (actions.columns.triggered, self.tubes.ask_columns),
            (actions.go_on.toggled, self._keep_going_on),
            (actions.next_tube.triggered, lambda: self.tubes.step(1)),
            (actions.previous_tube.triggered, lambda: self.tubes.step(-1)),
            (actions.whole_plot.triggered, self.curves.show_all),
            (actions.of_readings.triggered, self.curves.pages.show_readings),
            (actions.closer.triggered, lambda: self.curves.pages.zoom(closer=True)),
            (actions.wider.triggered, lambda: self.curves.pages.zoom(closer=False)),
            (actions.sections.triggered, lot.choose_sections),
            (actions.golden.triggered, lot.name_golden),
            (actions.problems.toggled, self.problem_list.setVisible),
            (actions.micromho.toggled, lambda on: lot.switch("micromho", on)),
            (actions.larger.triggered, lambda: self._grow(1)),
            (actions.smaller.triggered, lambda: self._grow(-1)),
            (actions.usual_size.triggered, lambda: self._grow(-self._theme.growth)),
            (actions.cancel.triggered, self.tasks.cancel),
            (actions.types.triggered, self._show_types),
            (actions.stand_in.triggered, self._ask_stand_in),
            (actions.help.triggered, lambda: self._open_help(self._explained or FIRST_PAGE)),
            (actions.cautions.triggered, lambda: self._open_help("cautions")),
            (actions.keys.triggered, lambda: self._open_help(KEYS_PAGE)),
            (actions.about.triggered, lambda: show_about(self)),
            (self.start_page.files_wanted, self._ask_files),
            (self.start_page.folder_wanted, self._ask_folder),
            (self.start_page.samples_wanted, actions.open_samples.trigger),
            (self.tubes.chosen, lot.choose_rows),
            (self.words.picked, lot.point_out),
            (self.words.wished, lot.ask_again),
            (self.problem_list.answered, lot.answer),
            (self.problem_list.cleared, lot.clear_problems),
            (self.problem_list.closed, lambda: actions.problems.setChecked(False)),
        ):
            signal.connect(intent)
        self.intake.follow(actions.watch)
        actions.at_once.toggled.connect(self.intake.show_at_once)
        for name, action in actions.switches.items():
            action.toggled.connect(lambda on, name=name: lot.switch(name, on))
        for view, action in actions.views.items():
            action.triggered.connect(lambda _=False, view=view: lot.look(view))
        for scheme, action in actions.schemes.items():
            action.triggered.connect(lambda _, scheme=scheme: self._use_scheme(scheme))

    def _connect_lot(self) -> None:
        lot = self.lot
        lot.tubes_changed.connect(self._show_tubes)
        lot.chosen_changed.connect(self._show_chosen)
        lot.display_changed.connect(self._show_display)
        lot.view_changed.connect(self._show_view)
        lot.problems_changed.connect(self._show_problems)
        lot.opened.connect(self._remember)
        lot.lot_file_changed.connect(self._show_title)
        lot.failed.connect(lambda failure: show_failure(self, failure))
        self.recovery.found.connect(self._offer_recovery)
        said_by = (lot, self._saving, self.intake, self.tools, self._file_look)
        for said in (one.told for one in said_by):
            said.connect(lambda text: self.statusBar().showMessage(text, _TOLD_MS))

    def _restore_settings(self) -> None:
        settings = self._settings
        open_as_large(self, *_FIRST_SIZE)
        if settings.geometry is not None:
            self.restoreGeometry(settings.geometry)
        if settings.panels is not None:
            self.restoreState(settings.panels)
        self.workspace.set_sizes(settings.dividers)
        self.tubes.columns.restore(settings.columns)
        self.actions_.go_on.setChecked(settings.go_on)
        self.actions_.at_once.setChecked(settings.at_once)
        self._theme.use(settings.scheme)
        self._theme.grow(settings.growth)
        self.actions_.schemes[settings.scheme].setChecked(True)

    def _show_tubes(self) -> None:
        some = bool(self.lot.rows)
        if some and self._pages.currentWidget() is self.start_page:
            QTimer.singleShot(0, self, self._show_workspace)  # filling the table took its time
        elif not some:
            self._pages.setCurrentWidget(self.start_page)
        actions = self.actions_
        for action in (actions.save_lot, actions.filter, actions.choose_all):
            action.setEnabled(some)
        self._show_chosen()

    def _show_workspace(self) -> None:
        """Put the table in the place of the start page, with the keyboard on it."""
        if self.lot.rows:
            self._pages.setCurrentWidget(self.workspace)
            self.tubes.view.setFocus(Qt.FocusReason.OtherFocusReason)

    def _show_chosen(self) -> None:
        actions, some = self.actions_, self.lot.session.current is not None
        for action in (
            actions.reading, actions.preview_sheets,
            actions.save_sheets, actions.print_sheets, actions.save_plot, actions.save_netlists,
            actions.copy_plot, actions.next_tube, actions.previous_tube,
            actions.whole_plot, actions.of_readings, actions.closer, actions.wider,
            actions.sections, actions.golden, *actions.views.values(),
        ):  # fmt: skip
            action.setEnabled(some)
        session = self.lot.session
        actions.golden.setChecked(some and session.golden is session.current)

    def _show_display(self) -> None:
        display = self.lot.session.display
        for name, action in self.actions_.switches.items():
            action.setChecked(getattr(display, name))
        self.actions_.micromho.setChecked(display.micromho)

    def _show_view(self) -> None:
        self.actions_.views[self.lot.session.view].setChecked(True)

    def _show_problems(self) -> None:
        """Count the problems in the status bar; where nothing else is there, list them."""
        count = len(self.lot.session.problems)
        self._problem_button.setText(self._problems_text())
        self._problem_button.setVisible(count > 0)
        shown = self.actions_.problems
        shown.setEnabled(count > 0)
        if count == 0:
            shown.setChecked(False)
        elif not self.lot.rows or self._asks():
            self._pages.setCurrentWidget(self.workspace)
            shown.setChecked(True)
        self.problem_list.setVisible(shown.isChecked())

    def _problems_text(self) -> str:
        """Return how many problems there are; what is merely told is not called one."""
        kinds = [problem.kind for problem in self.lot.session.problems]
        wrong = sum(kind is not ProblemKind.NOTICE for kind in kinds)
        if wrong:
            return self.tr("1 problem") if wrong == 1 else self.tr("{0} problems").format(wrong)
        return self.tr("1 notice") if len(kinds) == 1 else self.tr("{0} notices").format(len(kinds))

    def _asks(self) -> bool:
        return any(problem.choices for problem in self.lot.session.problems)

    def _paint_theme(self) -> None:
        colours, actions = self._theme.colours, self.actions_
        for name, role, ink in (
            ("measured", Role.MEASURED, colours.steps(3)[1]),
            ("fitted", Role.FITTED, colours.steps(3)[1]),
            ("reference", Role.REFERENCE, colours.reference),
            ("ratings", Role.DISSIPATION, colours.rating),
            ("others", Role.FITTED, colours.other),
        ):
            actions.switches[name].setIcon(role_icon(role, ink))
        actions.switches["marks"].setIcon(shape_icon(Shape.DIAMOND, colours.weight["reject"]))
        self._reminder.setStyleSheet(f"color: {colours.weight['caution']}; padding: 0 6px")

    def _ask_files(self) -> None:
        self._dialogs.ask_files(self.open_paths)

    def _ask_folder(self) -> None:
        self._dialogs.ask_folder(self.tr("Open a folder of sweeps"), self.open_paths)

    def _show_types(self) -> None:
        # Imported here: few starts of the window ask for it.
        from curvelab.window.types_dialog import TypesDialog  # noqa: PLC0415

        TypesDialog(self._theme, self._dialogs, self).show()

    def _ask_stand_in(self) -> None:
        # Imported here: few starts of the window ask for it.
        from curvelab.window.stand_in_dialog import StandInDialog  # noqa: PLC0415

        entry = self.lot.session.current
        known = None if entry is None else entry.assessment.tube_type
        built_for = None if known is None else known.name
        StandInDialog(self._theme, self.tasks, self, built_for=built_for).show()

    def _copy(self) -> None:
        """Copy what the keyboard is on: the plot, the problems, or the rows of the list."""
        table = self.curves.pages.table_with_keyboard()
        if table is None:
            table = self.tools.table_with_keyboard()
        if table is not None:
            QGuiApplication.clipboard().setText(table)
            self.statusBar().showMessage(self.tr("Copied the table"), _TOLD_MS)
        elif self.curves.holds_keyboard():
            self._copy_plot()
        elif self.problem_list.view.hasFocus():
            self.problem_list.copy()
        else:
            QGuiApplication.clipboard().setText(self.tubes.copied())
            self.statusBar().showMessage(self.tr("Copied the chosen rows"), _TOLD_MS)

    def _copy_plot(self) -> None:
        QGuiApplication.clipboard().setPixmap(self.curves.picture_now())
        self.statusBar().showMessage(self.tr("Copied the plot as a picture"), _TOLD_MS)

    def _show_title(self) -> None:
        kept = self.lot.kept
        name = "" if kept is None else kept.path.name
        if kept is not None and kept.newer:
            name = self.tr("{0} (read only: a newer curvelab made it)").format(name)
        self.setWindowTitle(f"{name} – curvelab" if name else "curvelab")
        self.start_page.show_lot(name)

    def _offer_recovery(self, tubes: int, lot_files: str) -> None:
        words = [self.tr("The program did not end as it should.")]
        if tubes:
            words.append(self.tr("{0} tubes were on the list.").format(tubes))
        if lot_files:
            words.append(self.tr("{0} was open.").format(lot_files))
        self.notice.tell(
            " ".join(words),
            (self.tr("&Bring them back"), self.recovery.bring_back_broken_off),
            (self.tr("For&get them"), self.recovery.forget_broken_off),
        )

    def _keep_going_on(self, on: bool) -> None:
        self._settings.go_on = on

    def _save_plot(self) -> None:
        """Save the curves as a sheet has them, another view as it is now."""
        if self.lot.session.view is View.PLATE:
            self._saving.save_plot()
        else:
            self._saving.save_view(self.curves.pages.seen_now(), self.lot.session.view.value)

    def _use_scheme(self, scheme: Scheme) -> None:
        self._settings.scheme = scheme
        self._theme.use(scheme)

    def _grow(self, points: int) -> None:
        self._theme.grow(self._theme.growth + points)
        self._settings.growth = self._theme.growth

    @property
    def _explained(self) -> str | None:
        """The page of help on what has the keyboard."""
        return self.words.explained or self.tools.explained

    def _open_help(self, key: str) -> None:
        open_help(self, self.actions_.listed(), key)

    def _remember(self, paths: Sequence[Path]) -> None:
        for path in paths:
            self._settings.add_recent(path)

    def _fill_recent(self) -> None:
        menu = self._recent_menu
        menu.clear()
        for path in self._settings.recent:
            there = path.exists()
            action = menu.addAction(str(path) if there else self.tr("{0} (gone)").format(path))
            action.setEnabled(there)
            action.triggered.connect(lambda _=False, path=path: self.open_paths([path]))
        if menu.isEmpty():
            menu.addAction(self.tr("nothing yet")).setEnabled(False)
        else:
            menu.addSeparator()
            menu.addAction(self.tr("Forget these")).triggered.connect(self._settings.clear_recent)
