"""Behaviour: the package carries its data, whichever way it is installed.

Each way is really built, without the network, and looked at from a fresh process in a
folder elsewhere.
"""

from __future__ import annotations

import configparser
import sys
import tarfile
import zipfile
from importlib import import_module
from pathlib import Path

import pytest

from helpers.checkout import ROOT, run_command, run_python

LOOK = """
import sys
from pathlib import Path
import curvelab
from curvelab.paths import resource_folder, sample_folder
print(Path(curvelab.__file__).parent)
print(len(list((resource_folder() / "types").glob("*.toml"))))
print(len(list(sample_folder().glob("*.csv"))))
"""


@pytest.fixture(scope="module")
def distributions(tmp_path_factory) -> Path:
    """Return a folder with a source distribution and the wheel built from that."""
    folder = tmp_path_factory.mktemp("my distributions")
    result = run_command(
        sys.executable, "-m", "build", "--no-isolation", "--outdir", str(folder), str(ROOT)
    )
    assert result.returncode == 0, result.stdout + result.stderr
    return folder


@pytest.fixture(scope="module")
def unpacked(distributions, tmp_path_factory) -> Path:
    """Return a folder with the content of the wheel, as an installation has it."""
    folder = tmp_path_factory.mktemp("site packages")
    with zipfile.ZipFile(next(distributions.glob("*.whl"))) as wheel:
        wheel.extractall(folder)
    return folder


def looked_at(result) -> tuple[Path, int, int]:
    """Return where curvelab was found, and how many types and samples it found."""
    assert result.returncode == 0, result.stderr
    package, types, samples = result.stdout.splitlines()
    return Path(package), int(types), int(samples)


def held(folder: str, pattern: str) -> int:
    return len(list((ROOT / folder).glob(pattern)))


def test_a_checkout_finds_its_data(tmp_path):
    package, types, samples = looked_at(run_python(LOOK, folder=tmp_path))
    assert package == ROOT / "curvelab"
    assert (types, samples) == (held("resources/types", "*.toml"), held("sample_sweeps", "*.csv"))
    assert types >= 20
    assert samples >= 16


def test_a_wheel_finds_its_data(unpacked, tmp_path):
    package, types, samples = looked_at(run_python(LOOK, folder=tmp_path, path=unpacked))
    assert package == unpacked / "curvelab"
    assert (types, samples) == (held("resources/types", "*.toml"), held("sample_sweeps", "*.csv"))


def test_an_editable_install_finds_its_data(tmp_path):
    built = run_python(
        f"from hatchling.build import build_editable; build_editable({str(tmp_path)!r})", path=None
    )
    assert built.returncode == 0, built.stderr
    site = tmp_path / "site"
    with zipfile.ZipFile(next(tmp_path.glob("*.whl"))) as wheel:
        wheel.extractall(site)
    code = f"import site; site.addsitedir({str(site)!r})\n{LOOK}"
    package, types, _ = looked_at(run_python(code, folder=tmp_path, path=None))
    assert package == ROOT / "curvelab"
    assert types == held("resources/types", "*.toml")


def test_a_wheel_does_the_main_job_on_the_samples_it_carries(unpacked, tmp_path):
    result = run_python(
        "import sys; from curvelab.cli import main; from curvelab.paths import sample_folder\n"
        "one = sorted(sample_folder().glob('*.csv'))[0]\n"
        "sys.exit(main(['characterize', str(one), '--csv', '-']))",
        folder=tmp_path,
        path=unpacked,
    )
    assert result.returncode == 0, result.stderr
    assert result.stdout.startswith("tube,")
    assert len(result.stdout.splitlines()) >= 2


def test_what_is_generated_is_not_carried(distributions):
    with zipfile.ZipFile(next(distributions.glob("*.whl"))) as wheel:
        names = wheel.namelist()
    with tarfile.open(next(distributions.glob("*.tar.gz"))) as source:
        names += source.getnames()
    assert not [name for name in names if "__pycache__" in name or "/out/" in name]


def test_the_wheel_bears_name_command_and_version(distributions, unpacked):
    wheel = next(distributions.glob("*.whl")).name
    assert wheel.startswith("curvelab_tubes-")
    (info,) = unpacked.glob("*.dist-info")
    commands = configparser.ConfigParser()
    commands.read(info / "entry_points.txt", encoding="utf-8")
    assert commands["console_scripts"]["curvelab"] == "curvelab.cli:main"
    for group in ("console_scripts", "gui_scripts"):
        for place in commands[group].values():
            module, name = place.split(":")
            assert callable(getattr(import_module(module), name)), place
    version = run_python("import curvelab; print(curvelab.__version__)").stdout.strip()
    assert f"\nVersion: {version}\n" in (info / "METADATA").read_text(encoding="utf-8")
