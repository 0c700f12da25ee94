"""The shipped folders are found from a checkout and from an installed package."""

import shutil
import subprocess
import sys
from pathlib import Path

import pytest

import treatment
from treatment.errors import MaterialError
from treatment.materials.shipped import materials_folder, shipped_folder

PACKAGE = Path(treatment.__file__).parent


def test_checkout():
    assert (materials_folder() / "builds" / "panel-builds.csv").is_file()


def test_installed_package_is_asked_first(tmp_path):
    package = tmp_path / "treatment"
    (package / "shipped" / "scenes").mkdir(parents=True)
    (tmp_path / "scenes").mkdir()
    (tmp_path / "pyproject.toml").touch()
    assert shipped_folder("scenes", package) == package / "shipped" / "scenes"


def test_a_stranger_beside_an_installed_package_is_not_taken(tmp_path):
    (tmp_path / "materials").mkdir()
    with pytest.raises(MaterialError, match="'materials' that comes with the program is missing"):
        shipped_folder("materials", tmp_path / "treatment")


def test_laid_out_as_a_wheel_lays_it_out(tmp_path):
    """Same layout as the force-include of the wheel; run elsewhere, so that no checkout is in reach."""
    site = tmp_path / "site"
    shutil.copytree(PACKAGE, site / "treatment", ignore=shutil.ignore_patterns("__pycache__", "shipped"))
    shutil.copytree(materials_folder(), site / "treatment" / "shipped" / "materials")
    code = (
        f"import sys; sys.path.insert(0, {str(site)!r})\n"
        "import treatment.materials.shipped as s, treatment.materials.library as l\n"
        "import treatment.materials.builds as b\n"
        "assert 'site' in s.materials_folder().parts, s.materials_folder()\n"
        "library = l.load_library()\n"
        "print(len(library.materials), len(b.load_builds(library)))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=tmp_path, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    rows, builds = map(int, done.stdout.split())
    assert rows >= 60
    assert builds >= 10
