"""The built wheel: it holds the configs and runs far from the clone."""

from __future__ import annotations

import os
import subprocess
import sys
import tarfile
from pathlib import Path

import pytest

CLONE = Path(__file__).resolve().parents[1]


@pytest.fixture(scope="module")
def installed(tmp_path_factory):
    """Build the wheel and unpack it into a folder of its own; returns that folder."""
    dist, target = tmp_path_factory.mktemp("dist"), tmp_path_factory.mktemp("site")
    pip = [sys.executable, "-m", "pip", "--disable-pip-version-check", "--no-cache-dir", "-q"]
    build = ["wheel", "--no-deps", "--no-build-isolation", "--no-index", "-w", str(dist), str(CLONE)]
    subprocess.run([*pip, *build], check=True, timeout=300)
    (wheel,) = dist.glob("*.whl")
    install = ["install", "--no-deps", "--no-index", "--target", str(target), str(wheel)]
    subprocess.run([*pip, *install], check=True, timeout=300)
    return target


def test_the_wheel_says_whose_it_is_and_under_which_licence(installed):
    """Version, licence and marker of types travel with the package; the version stands in one place."""
    import explore

    (about,) = installed.glob("*.dist-info/METADATA")
    words = about.read_text(encoding="utf-8")
    assert f"Version: {explore.__version__}\n" in words
    assert "License-Expression: Apache-2.0\n" in words
    assert "Author: The contributors" in words
    assert (installed / "explore" / "py.typed").is_file()
    (licence,) = installed.glob("*.dist-info/licenses/LICENSE")
    assert licence.read_text(encoding="utf-8") == (CLONE / "LICENSE").read_text(encoding="utf-8")


def test_the_source_archive_holds_what_a_wheel_is_made_of(tmp_path):
    """Configs, tests and licence are in it; results of runs are not."""
    build = [sys.executable, "-m", "hatchling", "build", "-t", "sdist", "-d", str(tmp_path)]
    subprocess.run(build, cwd=CLONE, check=True, timeout=300, capture_output=True)
    (archive,) = tmp_path.glob("*.tar.gz")
    with tarfile.open(archive) as held:
        names = {name.split("/", 1)[1] for name in held.getnames() if "/" in name}
    assert {"LICENSE", "README.md", "pyproject.toml", "configs/config.yaml", "explore/py.typed"} <= names
    assert not any(name.startswith("results/orchard") for name in names)


def run(installed, tmp_path, *words):
    """Run ``words`` in an empty folder, with the unpacked wheel first on the path."""
    environment = os.environ | {"PYTHONPATH": str(installed)}
    return subprocess.run(
        words, cwd=tmp_path, env=environment, capture_output=True, text=True, timeout=120, check=False
    )


def test_wheel_holds_every_config(installed):
    """Each file of the configs folder is in the wheel, under explore/_configs."""
    shipped = {path.relative_to(CLONE / "configs") for path in (CLONE / "configs").rglob("*.yaml")}
    packed = {
        path.relative_to(installed / "explore/_configs")
        for path in (installed / "explore/_configs").rglob("*.yaml")
    }
    assert packed == shipped
    assert Path("config.yaml") in packed


def test_wheel_holds_every_file_of_the_package(installed):
    """Templates, scripts and styles of the page are in the wheel, not only the modules."""
    skipped = {"__pycache__"}
    shipped = {
        path.relative_to(CLONE)
        for path in (CLONE / "explore").rglob("*")
        if path.is_file() and not skipped & set(path.parts)
    }
    assert {path for path in shipped if not (installed / path).is_file()} == set()


def test_installed_package_finds_its_configs(installed, tmp_path):
    """Outside the clone the package composes from its own copy of the configs."""
    code = (
        "from explore.config.compose import config_folder, load_scenario\n"
        "print(config_folder()); print(load_scenario('orchard').scenario.name)"
    )
    done = run(installed, tmp_path, sys.executable, "-c", code)
    assert done.stdout.split() == [str(installed / "explore" / "_configs"), "orchard"], done.stderr


def test_the_installed_package_writes_its_handbook(installed, tmp_path):
    """Pages, templates and the sources that theory is read from travel with it."""
    done = run(installed, tmp_path, sys.executable, "-m", "explore", "task=handbook")
    assert done.returncode == 0, done.stderr
    written = (tmp_path / "handbook.html").read_text(encoding="utf-8")
    assert "Alder Ford" in written
    assert 'id="theory-plant-losses--friction"' in written


def test_installed_command_answers(installed, tmp_path):
    """The console command and ``python -m explore`` are the same, and leave nothing behind."""
    module = run(installed, tmp_path, sys.executable, "-m", "explore", "--help")
    script = run(installed, tmp_path, sys.executable, str(installed / "bin" / "explore"), "--help")
    assert module.returncode == script.returncode == 0
    assert module.stdout == script.stdout
    assert "task=inspect" in module.stdout
    assert list(tmp_path.iterdir()) == []
