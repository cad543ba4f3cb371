"""Behaviour: modules say what they offer, and stay small enough to read."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

from helpers.checkout import PACKAGE, ROOT, project_files

MOST_LINES = 500
MODULES = sorted(PACKAGE.rglob("*.py"))


def offered_and_defined(path: Path) -> tuple[list[str] | None, set[str], set[str]]:
    """Return ``__all__``, the public functions and classes, and every name at top level."""
    offered, public, known = None, set(), set()
    for node in ast.parse(path.read_text(encoding="utf-8")).body:
        if isinstance(node, ast.FunctionDef | ast.ClassDef):
            known.add(node.name)
            if not node.name.startswith("_"):
                public.add(node.name)
        elif isinstance(node, ast.Import | ast.ImportFrom):
            known |= {name.asname or name.name for name in node.names}
        elif isinstance(node, ast.Assign | ast.AnnAssign):
            targets = node.targets if isinstance(node, ast.Assign) else [node.target]
            names = {item.id for t in targets for item in ast.walk(t) if isinstance(item, ast.Name)}
            known |= names
            if "__all__" in names and node.value is not None:
                offered = ast.literal_eval(node.value)
    return offered, public, known


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_a_module_offers_what_it_defines(path):
    offered, public, known = offered_and_defined(path)
    if offered is None:
        assert not public, "public names without __all__"
        return
    assert len(offered) == len(set(offered))
    assert set(offered) <= known, "offered but not defined"
    assert public <= set(offered), "public but not offered"


def test_no_module_grows_beyond_what_one_can_read():
    python = [path for path in project_files() if path.suffix == ".py"]
    assert len(python) > len(MODULES)
    long = {
        str(path.relative_to(ROOT)): lines
        for path in python
        if (lines := path.read_text(encoding="utf-8").count("\n")) > MOST_LINES
    }
    assert not long
