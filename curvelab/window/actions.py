"""Everything a person can ask for: menu entries with their shortcuts, in one place."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from PySide6.QtCore import QObject, Qt
from PySide6.QtGui import QAction, QActionGroup, QKeySequence
from PySide6.QtWidgets import QMenu, QMenuBar, QWidget

from curvelab.window.theme import Scheme
from curvelab.workbench.views import View

__all__ = ["SWITCHES", "Actions"]

_Standard = QKeySequence.StandardKey
Shortcut = QKeySequence.StandardKey | str | None

# Names of the display's switches, with their words.
SWITCHES = ("measured", "fitted", "reference", "ratings", "marks", "others")


class Actions(QObject):
    """The actions of the window; who carries them out is connected elsewhere."""

    def __init__(self, window: QWidget) -> None:  # noqa: PLR0915 (one line an action)
        super().__init__(window)
        self._window = window
        add = self._add
        self.open_files = add(self.tr("&Open files…"), _Standard.Open)
        self.open_folder = add(self.tr("Open &folder…"), "Ctrl+Shift+O")
        self.open_samples = add(self.tr("Open the &sample lot"), None)
        self._add_in_and_out()
        self._add_of_the_lot()
        self.new_lot = add(self.tr("&New lot file…"), _Standard.New)
        self.open_lot = add(self.tr("Open a lo&t file…"), "Ctrl+Shift+N")
        self.close_lot = add(self.tr("&Close the lot file"), None)
        self.file_loose = add(self.tr("Put t&he other tubes into the lot file"), None)
        self.save_sheets = add(self.tr("Save s&heets of the chosen tubes…"), "Ctrl+S")
        self.print_sheets = add(self.tr("P&rint sheets of the chosen tubes…"), _Standard.Print)
        self.save_plot = add(self.tr("Save the &plot (PNG, SVG, PDF)…"), "Ctrl+Shift+S")
        self.save_lot = add(self.tr("Save the &lot as CSV…"), "Ctrl+L")
        self.save_netlists = add(self.tr("Save the chosen tubes as &netlists (SPICE)…"), None)
        self.quit = add(self.tr("&Quit"), "Ctrl+Q")
        self.copy_rows = add(self.tr("&Copy the chosen rows"), _Standard.Copy)
        self.copy_plot = add(self.tr("Copy the &plot as a picture"), "Ctrl+Shift+C")
        self.filter = add(self.tr("&Filter the list"), _Standard.Find)
        self.choose_all = add(self.tr("Choose &all tubes"), "Ctrl+Shift+A")
        self.remove = add(self.tr("&Take the chosen tubes off the list"), "Ctrl+Delete")
        self.undo = add(self.tr("&Undo"), _Standard.Undo)
        self.redo = add(self.tr("&Redo"), _Standard.Redo)
        self.overrule = add(self.tr("&Set a verdict…"), "Ctrl+J")
        self.house = add(self.tr("&Box, shelf, note and price…"), "Ctrl+E")
        self.hand_test = add(self.tr("&Enter a hand test…"), "Ctrl+H")
        self.columns = add(self.tr("C&olumns of the table…"), None)
        self.next_tube = add(self.tr("&Next tube"), "Ctrl+Down")
        self.previous_tube = add(self.tr("&Previous tube"), "Ctrl+Up")
        self.whole_plot = add(self.tr("&Whole plot"), "Ctrl+8")
        self.problems = add(self.tr("Pro&blems"), "Ctrl+Shift+P", checkable=True)
        self.of_readings = add(self.tr("Plot of the r&eadings alone"), "Ctrl+9")
        self.closer = add(self.tr("Zoom the plot &in"), "Alt+Up")
        self.wider = add(self.tr("Zoom the plot ou&t"), "Alt+Down")
        self.sections = add(self.tr("Choose the tube's &other sections too"), "Ctrl+B")
        self.golden = add(
            self.tr("The &golden tube that others are compared with"), "Ctrl+D", checkable=True
        )
        self.views = self._view_actions()
        self.micromho = add(self.tr("Transconductance in µ&mho"), "Ctrl+U", checkable=True)
        self.larger = add(self.tr("&Larger text"), _Standard.ZoomIn)
        self.smaller = add(self.tr("&Smaller text"), _Standard.ZoomOut)
        self.usual_size = add(self.tr("&Usual size of text"), "Ctrl+0")
        # Where plus is a shifted key, the unshifted one does as well.
        self.larger.setShortcuts([self.larger.shortcut(), QKeySequence("Ctrl+=")])
        self.cancel = add(self.tr("Stop the wor&k"), "Ctrl+.")
        self.all_actions = add(self.tr("All &actions…"), "Ctrl+Shift+F")
        self.go_on = add(self.tr("Go on with the last session at the st&art"), None, checkable=True)
        self.types = add(self.tr("&Types of tubes…"), "Ctrl+T")
        self.stand_in = add(self.tr("May another type &go in?…"), "Ctrl+Shift+T")
        self.help = add(self.tr("&Help"), _Standard.HelpContents)
        self.keys = add(self.tr("&Keys"), None)
        self.cautions = add(self.tr("Sweep &safely: cautions"), None)
        self.about = add(self.tr("&About"), None)
        words = (
            self.tr("Measured"),
            self.tr("Fitted"),
            self.tr("Reference"),
            self.tr("Ratings"),
            self.tr("Findings"),
            self.tr("Others"),
        )
        self.switches = {
            name: add(word, f"Ctrl+{number}", checkable=True)
            for number, (name, word) in enumerate(zip(SWITCHES, words, strict=True), start=1)
        }
        self.schemes = self._scheme_actions()

    def _add_in_and_out(self) -> None:
        """Add what brings files in, and what shows sheets before they go out."""
        add = self._add
        self.import_files = add(self.tr("&Import with a preview…"), "Ctrl+I")
        self.reading = add(self.tr("How the chosen tubes were rea&d…"), "Ctrl+Shift+I")
        self.watch = add(self.tr("&Watch a folder…"), "Ctrl+Shift+W", checkable=True)
        self.newest = add(self.tr("The ne&west tube from the bench"), "F9")
        self.at_once = add(self.tr("Sho&w each tube as it comes in"), None, checkable=True)
        self.preview_sheets = add(self.tr("Previe&w sheets of the chosen tubes…"), "Ctrl+Shift+H")

    def _add_of_the_lot(self) -> None:
        """Add what is done with a whole lot: matching, grading, the bench, papers."""
        add = self._add
        self.matching = add(self.tr("&Matched sets"), "Ctrl+M", checkable=True)
        self.mate = add(self.tr("Mate for the &chosen tube"), "Ctrl+Shift+M")
        self.mate_of_figures = add(self.tr("Mate for &figures…"), None)
        self.keep_set = add(self.tr("&Keep the chosen tubes as a set…"), None)
        self.larger_panel = add(self.tr("Lar&ger panel of sets"), "Alt+Shift+Up")
        self.smaller_panel = add(self.tr("Sm&aller panel of sets"), "Alt+Shift+Down")
        self.grade = add(self.tr("&Grade the lot"), "Ctrl+G")
        self.grade_rules = add(self.tr("&Edit the limits of the grades…"), None)
        self.returned = add(self.tr("A tube that came bac&k…"), None)
        self.check_bench = add(self.tr("Check the &bench…"), "Ctrl+K")
        self.lot_report = add(self.tr("&Report of the lot (PDF, XLSX, CSV)…"), "Ctrl+R")
        self.set_sheets = add(self.tr("&Sheets of the sets…"), None)
        self.labels = add(self.tr("&Labels…"), "Ctrl+Shift+L")
        self.listings = add(self.tr("L&istings for a shop…"), None)
        self.copy_listing = add(self.tr("Co&py the listing of the tube"), None)
        self.claims = add(self.tr("Cl&aims against suppliers…"), None)

    def fill(self, bar: QMenuBar, recent: QMenu, benches: QMenu) -> None:
        """Build the menus."""
        menus: tuple[tuple[str, tuple[QAction | QMenu | None, ...]], ...] = (
            (
                self.tr("&File"),
                (
                    self.open_files, self.open_folder, recent, self.open_samples, self.go_on, None,
                    self.import_files, self.reading, benches, self.watch, self.at_once, None,
                    self.new_lot, self.open_lot, self.file_loose, self.close_lot, None,
                    self.preview_sheets, self.save_sheets, self.print_sheets, self.save_plot,
                    self.save_lot, self.save_netlists, None,
                    self.quit,
                ),
            ),
            (
                self.tr("&Edit"),
                (
                    self.undo, self.redo, None, self.copy_rows, self.copy_plot, None,
                    self.filter, self.choose_all, self.remove, None,
                    self.overrule, self.house, self.hand_test,
                ),
            ),
            (
                self.tr("&View"),
                (
                    self.previous_tube, self.next_tube, self.newest, self.sections, self.golden,
                    None,
                    *self.views.values(), None,
                    self.whole_plot, self.of_readings, self.closer, self.wider, None,
                    *self.switches.values(), None, self.micromho, None,
                    *self.schemes.values(), None, self.larger, self.smaller, self.usual_size, None,
                    self.columns, self.problems, self.cancel,
                ),
            ),
            (
                self.tr("&Lot"),
                (
                    self.matching, self.mate, self.mate_of_figures, self.keep_set,
                    self.larger_panel, self.smaller_panel, None,
                    self.grade, self.grade_rules, None,
                    self.check_bench, self.returned, None,
                    self.lot_report, self.set_sheets, self.labels, self.listings,
                    self.copy_listing, self.claims,
                ),
            ),
            (self.tr("&Types"), (self.types, self.stand_in)),
            (
                self.tr("&Help"),
                (self.help, self.cautions, self.keys, self.all_actions, None, self.about),
            ),
        )  # fmt: skip
        for title, items in menus:
            menu = bar.addMenu(title)
            for item in items:
                if item is None:
                    menu.addSeparator()
                elif isinstance(item, QMenu):
                    menu.addMenu(item)
                else:
                    menu.addAction(item)
            _give_letters(menu.actions())

    def listed(self) -> Iterator[tuple[str, str]]:
        """Yield the words and the keys of every action that has keys."""
        for action in self._window.actions():
            keys = action.shortcut().toString(QKeySequence.SequenceFormat.NativeText)
            if keys:
                yield action.text().replace("&", "").rstrip("…"), keys

    def _add(self, text: str, shortcut: Shortcut, *, checkable: bool = False) -> QAction:
        action = QAction(text, self._window)
        action.setCheckable(checkable)
        if shortcut is not None:
            action.setShortcut(QKeySequence(shortcut))
            keys = action.shortcut().toString(QKeySequence.SequenceFormat.NativeText)
            words = text.replace("&", "").rstrip("…")
            action.setToolTip(f"{words} ({keys})")
        action.setShortcutContext(Qt.ShortcutContext.WindowShortcut)
        self._window.addAction(action)
        return action

    def _view_actions(self) -> dict[View, QAction]:
        """Return an action for each view: Alt with its number, and a short name for its button."""
        words = {
            View.PLATE: (self.tr("Plate"), self.tr("Plate curves")),
            View.TRANSFER: (self.tr("Transfer"), self.tr("Transfer curves")),
            View.CONSTANT_CURRENT: (self.tr("Constant Ip"), self.tr("Constant-current curves")),
            View.CONSTANTS: (
                self.tr("gm rp mu"),
                self.tr("Constants against plate current"),
            ),
            View.DEVIATION: (
                self.tr("Deviation"),
                self.tr("Deviation from the reference over the plane"),
            ),
            View.GRID_CURRENT: (
                self.tr("Grid current"),
                self.tr("Grid current with the share of each cause"),
            ),
            View.PASSES: (self.tr("Passes"), self.tr("Way up and way down")),
            View.LOG: (self.tr("Log"), self.tr("Drift log with its projection")),
            View.DIFFERENCE: (self.tr("Difference"), self.tr("Difference of two tubes")),
        }
        group = QActionGroup(self)
        found = {}
        for number, (view, (short, full)) in enumerate(words.items(), start=1):
            found[view] = self._add(full, f"Alt+{number}", checkable=True)
            found[view].setIconText(short)
            group.addAction(found[view])
        found[View.PLATE].setChecked(True)
        return found

    def _scheme_actions(self) -> dict[Scheme, QAction]:
        group = QActionGroup(self)
        words = {
            Scheme.SYSTEM: self.tr("Colours &as the system's"),
            Scheme.LIGHT: self.tr("Li&ght colours"),
            Scheme.DARK: self.tr("&Dark colours"),
        }
        found = {}
        for scheme, text in words.items():
            found[scheme] = self._add(text, None, checkable=True)
            group.addAction(found[scheme])
        return found


def _give_letters(entries: Sequence[QAction]) -> None:
    """See that no two entries of a menu share a letter, whatever language they are in.

    The first of two keeps it; the other takes the first letter of its own that is free.
    """
    taken: set[str] = set()
    for entry in entries:
        plain = entry.text().replace("&", "")
        wanted = entry.text().partition("&")[2][:1]
        letters = [letter for letter in (wanted, *plain) if letter.isalpha()]
        free = next((letter for letter in letters if letter.lower() not in taken), None)
        if free is not None and (free != wanted or not wanted):
            place = plain.index(free)
            entry.setText(f"{plain[:place]}&{plain[place:]}")
        elif free is None:
            entry.setText(plain)
        if free is not None:
            taken.add(free.lower())
