"""A folder that a bench writes into: which of its files are complete and new.

Nothing here sleeps, waits or knows Qt: whoever watches looks again and again, and says at
what time.
"""

from __future__ import annotations

import hashlib
import os
import re
import stat
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path, PurePath

from curvelab.errors import SweepFileError
from curvelab.ingest.decode import load
from curvelab.sweep.records import SourceFile
from curvelab.workbench.characterize import FileError, is_named_as_sweep

__all__ = ["Look", "WatchedFolder"]

FIRST_PATIENCE = 3.0  # a file that has not changed for so long is complete [s]
MOST_PATIENCE = 60.0
_END_PROBE = 80
# A last line such as "# end" says that nothing follows.
_END_LINE = re.compile(rb"(?:^|[\r\n])[ \t]*(?:#|%|//)[ \t]*end\b[^\r\n]*[\s\x1a]*$", re.IGNORECASE)

_Signature = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Look:
    """What one look at the folder has found.

    Attributes
    ----------
    there : bool
        Whether the folder could be opened.
    arrived : tuple of SourceFile
        Complete files that were not there before, with their bytes.
    waiting : tuple of str
        Names of files that are still being written.
    errors : tuple of FileError
        Files that cannot be read, each told once.
    reached : int
        Time of change [ns], by the folder's own clock, up to which all its files have been
        given or left alone: where a later watch goes on.
    """

    there: bool
    arrived: tuple[SourceFile, ...] = ()
    waiting: tuple[str, ...] = ()
    errors: tuple[FileError, ...] = ()
    reached: int = 0


@dataclass(slots=True)
class _File:
    """What is known of one file."""

    signature: _Signature
    since: float
    done: bool = False
    told: bool = False


@dataclass(frozen=True, slots=True)
class _Taken:
    """How a file was when it was taken last, and how many different sweeps it has held."""

    size: int
    sha256: str
    writings: int


class WatchedFolder:
    """Tells the files of a folder that are complete and whose bytes were never seen.

    A file is complete when its size and time of change have stayed for some seconds, or when
    its last line is a comment that begins with ``end``. A file that goes on after it was
    taken is given again, and whoever wrote it so is given more time from then on. A file
    that is written anew is another sweep: its name is then given with a number.
    """

    def __init__(self, folder: Path, patience: float = FIRST_PATIENCE) -> None:
        self.folder = folder
        self.patience = patience
        self._files: dict[str, _File] = {}
        self._taken: dict[str, _Taken] = {}
        self._seen: set[str] = set()

    def begin(self, now: float, reached: int | None = None) -> int:
        """Take what is there already as seen, and return how many files that are.

        Where an earlier watch has ``reached`` some time, what was changed later is new.
        """
        found = 0
        for path, signature in self._listed() or ():
            if reached is not None and signature[1] > reached:
                continue
            self._files[path.name] = _File(signature, now, done=True)
            found += 1
            try:
                content = load(path)
            except SweepFileError:
                continue
            self._remember(path.name, content, writings=1)
        return found

    def look(self, now: float) -> Look:
        """Return what has come since the last look; ``now`` [s] is of any clock that never stops.

        A folder that cannot be opened is told, and what was known of it is kept.
        """
        listed = self._listed()
        if listed is None:
            return Look(there=False)
        present = dict(listed)
        for name in self._files.keys() - {path.name for path in present}:
            del self._files[name]
        arrived: list[SourceFile] = []
        errors: list[FileError] = []
        for path, signature in present.items():
            file = self._files.get(path.name)
            if file is None or file.signature != signature:
                file = self._files[path.name] = _File(signature, now)
            if not file.done and self._is_complete(path, file, now):
                found = self._take(path, file, now)
                if isinstance(found, SourceFile):
                    arrived.append(found)
                elif found is not None:
                    errors.append(found)
        waiting = tuple(path.name for path in present if not self._files[path.name].done)
        return Look(True, tuple(arrived), waiting, tuple(errors), self._reached())

    def _reached(self) -> int:
        done = [file.signature[1] for file in self._files.values() if file.done]
        waits = [file.signature[1] - 1 for file in self._files.values() if not file.done]
        return min(waits) if waits else max(done, default=0)

    def _listed(self) -> list[tuple[Path, _Signature]] | None:
        try:
            with os.scandir(self.folder) as entries:
                return sorted(self._regular(entries))
        except OSError:
            return None

    def _regular(self, entries: Iterator[os.DirEntry[str]]) -> Iterator[tuple[Path, _Signature]]:
        for entry in entries:
            if entry.name.startswith(".") or not is_named_as_sweep(entry.name):
                continue
            path = self.folder / entry.name
            try:
                status = path.stat()  # an entry's own may be old while the file is open
            except OSError:  # gone since it was listed, or a dead link
                continue
            if stat.S_ISREG(status.st_mode):
                yield path, (status.st_size, status.st_mtime_ns)

    def _is_complete(self, path: Path, file: _File, now: float) -> bool:
        if file.signature[0] == 0:
            return False
        if now - file.since >= self.patience:
            return True
        return not file.told and _says_end(path)

    def _take(self, path: Path, file: _File, now: float) -> SourceFile | FileError | None:
        """Read a file, or say once why it cannot be read.

        None where its bytes are known, or where it has changed meanwhile.
        """
        try:
            source = load(path)
        except SweepFileError as error:
            told, file.told, file.since = file.told, True, now  # it may be readable later
            return None if told else FileError(str(path), error.reason)
        if _signature(path) != file.signature or len(source.content) != file.signature[0]:
            file.since = now
            return None
        file.done = True
        if source.sha256 in self._seen:
            return None
        before = self._taken.get(path.name)
        if before is None:
            self._remember(path.name, source, writings=1)
            return source
        if _goes_on(before, source.content):
            self.patience = min(2.0 * self.patience, MOST_PATIENCE)
            writings = before.writings
        else:
            writings = self._next_writing(path.name, before.writings)
        self._remember(path.name, source, writings)
        return _numbered(source, writings)

    def _next_writing(self, name: str, writings: int) -> int:
        """Return a number that makes no name of another file."""
        writings += 1
        while (other := _numbered_name(name, writings)) in self._files or other in self._taken:
            writings += 1
        return writings

    def _remember(self, name: str, source: SourceFile, writings: int) -> None:
        self._seen.add(source.sha256)
        self._taken[name] = _Taken(len(source.content), source.sha256, writings)


def _signature(path: Path) -> _Signature | None:
    try:
        status = path.stat()
    except OSError:
        return None
    return status.st_size, status.st_mtime_ns


def _says_end(path: Path) -> bool:
    try:
        with path.open("rb") as file:
            file.seek(0, os.SEEK_END)
            file.seek(max(0, file.tell() - _END_PROBE))
            return _END_LINE.search(file.read()) is not None
    except OSError:
        return False


def _goes_on(before: _Taken, content: bytes) -> bool:
    """Tell whether a file begins with all that it held before."""
    if len(content) < before.size:
        return False
    return hashlib.sha256(content[: before.size]).hexdigest() == before.sha256


def _numbered_name(name: str, writings: int) -> str:
    bare = PurePath(name)
    return name if writings == 1 else f"{bare.stem} ({writings}){bare.suffix}"


def _numbered(source: SourceFile, writings: int) -> SourceFile:
    """Return a source named apart from the earlier ones of its file.

    The path is named so too: who keeps sources by their paths then keeps them all.
    """
    name = _numbered_name(source.name, writings)
    return replace(source, name=name, path=str(Path(source.path).with_name(name)))
