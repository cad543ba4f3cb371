"""Assessments put into a lot file, source by source."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from datetime import datetime

from curvelab.assessment.records import Assessment
from curvelab.catalog.lot_file import LotFile
from curvelab.catalog.records import TubeIdentity
from curvelab.catalog.results import add_characterisation, file_results, measurement_keys
from curvelab.health.case import SetUp
from curvelab.sheets.set_up_words import SET_UP_WORDS
from curvelab.sheets.text import plain
from curvelab.sweep.records import SourceFile
from curvelab.workbench.characterize import FileError
from curvelab.workbench.lot_records import identity_of, measurement_of

__all__ = ["Filing"]


class Filing:
    """Puts the assessments of one source after another into a lot.

    Attributes
    ----------
    filed, judged_again : int
        Sources stored, and stored sweeps that were judged once more.
    notices : list of str
        What a person should look at, a sentence each.
    refused : list of FileError
        Sources that were not filed.
    """

    def __init__(self, opened: LotFile, labels: TubeIdentity, made_at: datetime) -> None:
        self.filed = self.judged_again = 0
        self.notices: list[str] = []
        self.refused: list[FileError] = []
        self._lot = opened
        self._labels = labels
        self._made_at = made_at

    def file(self, source: SourceFile, assessments: Sequence[Assessment], settings: str) -> None:
        """File a source that is new, or judge one again that is not."""
        if not assessments:
            return
        result = file_results(
            self._lot,
            source,
            [
                (
                    identity_of(assessment, self._labels),
                    measurement_of(assessment, settings, self._made_at),
                )
                for assessment in assessments
            ],
        )
        self.notices += result.notices
        if result.new:
            self.notices += [
                _of_test(item, item.set_up) for item in assessments if item.set_up is not None
            ]
        if result.refused is not None:
            self.refused.append(FileError(source.path, result.refused))
        elif result.new:
            self.filed += 1
        else:
            self._judge_again(source, assessments, settings)

    def _judge_again(
        self, source: SourceFile, assessments: Sequence[Assessment], settings: str
    ) -> None:
        """Add the judgings to the measurements that hold the same sweeps."""
        stored = measurement_keys(self._lot, source.sha256)
        names = _turns((named, section, kind) for _, named, section, kind in stored)
        keys = dict(zip(names, (key for key, *_ in stored), strict=True))
        items = [measurement_of(item, settings, self._made_at) for item in assessments]
        owns = _turns((item.named, item.section, item.kind.value) for item in items)
        for assessment, item, own in zip(assessments, items, owns, strict=True):
            key = keys.get(own)
            if key is None:
                self.notices.append(
                    f"{assessment.sweep.title} of {source.name} was read otherwise when it was "
                    "filed; it was not judged again"
                )
                continue
            add_characterisation(self._lot, key, item.characterisations[0])
            self.judged_again += 1


def _of_test(item: Assessment, set_up: SetUp) -> str:
    return (
        f"{item.sweep.source.name} is a test of {plain(item.sweep.title)} "
        f"({SET_UP_WORDS[set_up]}): it is kept, and the tube's figures stay those of its usual "
        "sweep"
    )


def _turns(
    owns: Iterable[tuple[str, str | None, str]],
) -> list[tuple[tuple[str, str | None, str], int]]:
    """Return each with how often it has occurred before: one file may sweep a tube twice."""
    seen: Counter[tuple[str, str | None, str]] = Counter()
    turned = []
    for own in owns:
        turned.append((own, seen[own]))
        seen[own] += 1
    return turned
