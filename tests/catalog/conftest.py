"""What the tests of the lot file share."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from curvelab.catalog.lot_file import LotFile, create_lot, open_lot


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Return where an empty lot file lies."""
    made = tmp_path / "spring.lot"
    create_lot(made)
    return made


@pytest.fixture
def lot(path: Path) -> Iterator[LotFile]:
    """Yield an empty lot file, open for writing."""
    with open_lot(path, write=True) as opened:
        yield opened
