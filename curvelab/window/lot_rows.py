"""The lines of the table: of the open lot file and of the tubes that are in none."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator

from curvelab.catalog.records import StoredTube
from curvelab.workbench.open_lot import OpenLot
from curvelab.workbench.session import Entry, Session
from curvelab.workbench.stored_candidates import tube_names
from curvelab.workbench.tube_rows import TubeRow, row_of_entry

__all__ = ["LotRows"]

_SECTION = " section "


class LotRows:
    """Joins entries of a session with lines of a lot file.

    Attributes
    ----------
    kept : OpenLot or None
        The lot file that is open.
    hidden : frozenset of int
        Keys of its lines that a person has taken off the list.
    """

    def __init__(self, session: Session) -> None:
        self.kept: OpenLot | None = None
        self.hidden: frozenset[int] = frozenset()
        self._session = session
        self._rows: tuple[TubeRow, ...] | None = None
        self._of_entries: dict[int, tuple[Entry, TubeRow]] = {}
        self._judged: dict[int, int] = {}  # keys of lines of the lot file, and of their entries

    @property
    def rows(self) -> tuple[TubeRow, ...]:
        """The lines, made anew only when something has changed."""
        if self._rows is None:
            self._rows = tuple(self._make())
        return self._rows

    def forget(self) -> None:
        """Let the lines be made anew when they are next asked for."""
        self._rows = None

    def prepare(self, keys: Iterable[int]) -> None:
        """Make the lines of some tubes ahead, while no lot file is open."""
        for entry in self._session.of_keys(keys):
            self._of_entries[entry.key] = (entry, row_of_entry(entry))

    def follow(self) -> None:
        """Find which lines have been judged; what the lot file says of verdicts holds for them."""
        self._judged = {}
        for entry in self._session.entries if self.kept is not None else ():
            row = self.row_key(entry)
            tube = self.tube(row)
            if tube is not None:
                self._judged[row] = entry.key
                self._session.overrule([entry.key], tube.overrule)

    def tube(self, key: int) -> StoredTube | None:
        """Return the tube of the lot file that a line shows."""
        return None if self.kept is None else self.kept.tube_of_row(key)

    def tubes(self, keys: Iterable[int]) -> tuple[StoredTube, ...]:
        """Return the tubes of the lot file that some lines show, each once."""
        found = {tube.key: tube for tube in map(self.tube, keys) if tube is not None}
        return tuple(found.values())

    def called(self, names: Iterable[str]) -> tuple[int, ...]:
        """Return the keys of the lines that show tubes of some names, in the names' order.

        Of an open lot file they are those of `tube_names`, or serials; one of a section means
        its tube.
        """
        found: defaultdict[str, list[int]] = defaultdict(list)
        if self.kept is not None:
            calls = tube_names(self.kept.tubes)
            for row in self.rows:
                tube = self.tube(row.key)
                if tube is None:
                    continue
                for call in {calls[tube.key], tube.identity.serial}:
                    found[call].append(row.key)
        else:
            for entry in self._session.entries:
                found[entry.assessment.sweep.tube].append(entry.key)
        return tuple(
            key
            for name in names
            for key in found.get(name) or found.get(name.rpartition(_SECTION)[0], [])
        )

    def unjudged(self, keys: Iterable[int]) -> tuple[StoredTube, ...]:
        """Return the swept tubes of those lines that have not been judged yet."""
        tubes = self.tubes(key for key in keys if key not in self._judged)
        return tuple(tube for tube in tubes if tube.results)

    def entries(self, keys: Iterable[int]) -> tuple[Entry, ...]:
        """Return the judged tubes of some lines, as far as they have been judged."""
        return self._session.of_keys(self._judged.get(key, key) for key in keys)

    def row_key(self, entry: Entry) -> int:
        """Return the key of the line that shows an entry."""
        key = None if self.kept is None else self.kept.row_key(entry)
        return entry.key if key is None else key

    def row_keys(self, keys: Iterable[int]) -> tuple[int, ...]:
        """Return the keys of the lines that show the entries of some keys."""
        lines = {entry: row for row, entry in self._judged.items()}
        return tuple(lines.get(key, key) for key in keys)

    def _make(self) -> Iterator[TubeRow]:
        if self.kept is not None:
            rows = self.kept.rows(self._session.entries)
            yield from (row for row in rows if row.key not in self.hidden)
            return
        made, self._of_entries = self._of_entries, {}
        for entry in self._session.entries:
            known = made.get(entry.key)
            if known is None or known[0] is not entry:
                known = (entry, row_of_entry(entry))
            self._of_entries[entry.key] = known
            yield known[1]
