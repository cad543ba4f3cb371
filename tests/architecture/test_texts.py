"""Behaviour: the project's texts name what is there, and nothing of any one machine."""

from __future__ import annotations

import re
import tomllib

import pytest

from helpers.checkout import PACKAGE, ROOT, project_files

TOP_LEVEL = {
    "DEVELOPERS.md", "README.md", "curvelab", "pyproject.toml", "resources", "sample_sweeps",
    "tests",
}  # fmt: skip
# An absolute path below a folder that differs between machines; after a letter it is a URL's.
# The home of "ada" is nobody's: tests of paths may live there.
MACHINE_PATH = re.compile(r"(?<![\w.:/-])/(?:home|root|work|farm|Users)/(?!ada\b)\w")
BARE_NAME_INSTALLED = re.compile(
    r"(?:pip|pipx|uv)\s+(?:\S+\s+)*?install\s+(?:-\S+\s+)*curvelab(?!-)\b"
)
LINK = re.compile(r"\]\((?![a-z]+:)([^)#]+)\)")
PATH_IN_TEXT = re.compile(r"`((?:curvelab|resources|tests|sample_sweeps|\.ci)/[\w./<>*-]*)`")


def texts():
    for path in project_files():
        content = path.read_bytes()
        if b"\0" not in content:
            yield path, content.decode("utf-8", "replace")


def test_the_top_level_is_what_was_agreed():
    shown = {path.name for path in ROOT.iterdir() if not path.name.startswith(".")}
    ignored = {"build", "dist", "out"}
    assert shown - ignored == TOP_LEVEL


@pytest.mark.parametrize("pattern", [MACHINE_PATH, BARE_NAME_INSTALLED], ids=["path", "name"])
def test_no_text_holds(pattern):
    found = [f"{path.name}: {hit[0]}" for path, text in texts() if (hit := pattern.search(text))]
    assert not found


def test_the_patterns_see_what_they_are_for():
    slash = chr(47)
    assert MACHINE_PATH.search(f"in {slash}home{slash}someone")
    assert not MACHINE_PATH.search(f"https:{slash}{slash}site.org{slash}home{slash}page")
    assert BARE_NAME_INSTALLED.search("pip install " + "curvelab")
    assert not BARE_NAME_INSTALLED.search("pip install curvelab-tubes")


@pytest.mark.parametrize("page", ["README.md", "DEVELOPERS.md"])
def test_the_paths_that_a_page_names_are_there(page):
    text = (ROOT / page).read_text(encoding="utf-8")
    named = [*PATH_IN_TEXT.findall(text), *LINK.findall(text)]
    assert named
    missing = [path for path in named if "<" not in path and not list(ROOT.glob(path.rstrip("/")))]
    assert not missing


def test_the_developers_page_names_every_room():
    page = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    rooms = {path.parent.name for path in PACKAGE.glob("*/__init__.py")}
    assert not {room for room in rooms if f"`{room}`" not in page}


def test_the_distribution_does_not_bear_a_strangers_name():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert project["name"] == "curvelab-tubes"
    assert not any(item.startswith("curvelab") for item in project["dependencies"])
