"""How the next files are to be read, and with which bench those of the lot were."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from curvelab.ingest.choices import NOTHING_CHOSEN, ReadingChoices
from curvelab.workbench.bench_file import load_description
from curvelab.workbench.characterize import Batch, Request

__all__ = ["Intake"]


class Intake:
    """The bench description in force, and what a person has corrected of single files.

    A correction outlives everything: a file that turns out bad, another bench, another
    opening of the same file.
    """

    def __init__(self) -> None:
        self._bench: Path | None = None
        self._choices = NOTHING_CHOSEN
        self._corrected: dict[str, ReadingChoices] = {}
        self._bench_of: dict[str, Path | None] = {}

    @property
    def bench(self) -> Path | None:
        """The description that the next files are read with."""
        return self._bench

    def use_bench(self, path: Path | None) -> None:
        """Read the next files with a description, or with none.

        Raises
        ------
        BenchDescriptionError
            If it cannot be read; the one before stays in force.
        """
        self._choices = load_description(path).choices
        self._bench = path

    def is_corrected(self, path: str) -> bool:
        """Tell whether a person has corrected how a file is read."""
        return path in self._corrected

    def choices_of(self, path: str) -> ReadingChoices:
        """Return how a file would be read if it were opened now."""
        return self._corrected.get(path, self._choices)

    def correct(self, path: str, choices: ReadingChoices) -> None:
        """Keep how a person wants a file to be read."""
        self._corrected[path] = choices

    def answer(self, path: str, answer: str) -> None:
        """Keep the meaning that a person has picked for a file."""
        choices = self.choices_of(path)
        self.correct(path, choices.corrected(answers=(*choices.answers, answer)))

    def prepared(self, request: Request) -> Request:
        """Return a request to open files, with the bench in force and all corrections."""
        return replace(request, bench=self.bench, read_as=tuple(self._corrected.items()))

    def prepared_again(self, request: Request) -> Request:
        """Return a request to judge tubes of the lot anew, with the bench of their files.

        Files of several benches judged at once have the limits of error of the bench in
        force.
        """
        benches = {self._bench_of.get(source.path, self.bench) for source in request.sources}
        return replace(request, bench=benches.pop() if len(benches) == 1 else self.bench)

    def note(self, request: Request, batch: Batch) -> None:
        """Remember with which bench the files of a batch were read."""
        paths = {item.sweep.source.path for item in batch.assessments}
        self._bench_of |= dict.fromkeys(paths, request.bench)
