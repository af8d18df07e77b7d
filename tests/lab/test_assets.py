"""What is shipped is found in a checkout and in an installed wheel alike."""

import os
import shutil
import subprocess
import sys
import zipfile
from importlib.util import find_spec
from pathlib import Path

import pytest

from labkit.assets import assets
from labkit.errors import LabError

CHECKOUT = Path(__file__).resolve().parents[2]
SOURCES = ("labkit", "notebooks", "data", "pyproject.toml", "README.md")
LEFT_OUT = shutil.ignore_patterns("__pycache__", ".ipynb_checkpoints", "*.pyc")


@pytest.fixture(scope="session")
def unpacked(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel of this checkout, built from a copy of it and unpacked."""
    if not find_spec("hatchling") and os.environ.get("CI", "").lower() != "true":
        pytest.skip("wheel tests skipped: hatchling is not installed")
    home = tmp_path_factory.mktemp("wheel")
    source = home / "source"
    source.mkdir()
    for name in SOURCES:
        copied, kept = CHECKOUT / name, source / name
        shutil.copytree(copied, kept, ignore=LEFT_OUT) if copied.is_dir() else shutil.copy(copied, kept)
    command = [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(home / "dist")]
    built = subprocess.run(command, cwd=source, capture_output=True, text=True)
    assert built.returncode == 0, built.stdout + built.stderr
    (wheel,) = (home / "dist").glob("*.whl")
    with zipfile.ZipFile(wheel) as packed:
        packed.extractall(home / "installed")
    return home / "installed"


def names(paths: tuple[Path, ...]) -> list[str]:
    return [each.name for each in paths]


def test_a_checkout_has_them_beside_the_package():
    found = assets()
    assert names(found.notebooks) == sorted(each.name for each in (CHECKOUT / "notebooks").glob("*.ipynb"))
    assert names(found.data) == sorted(each.name for each in (CHECKOUT / "data").iterdir() if each.is_file())
    assert "texture-trial.ipynb" in names(found.notebooks)
    assert "demo-book.jsonl" in names(found.demo)


def test_a_wheel_has_the_same_inside_the_package(unpacked: Path):
    found, here = assets(unpacked / "labkit"), assets()
    for shipped, original in zip(found.notebooks + found.data, here.notebooks + here.data, strict=True):
        assert shipped.is_relative_to(unpacked / "labkit" / "_shipped")
        assert shipped.name == original.name
        assert shipped.read_bytes() == original.read_bytes()


def test_a_wheel_furnishes_a_lab_with_its_own_code(unpacked: Path, tmp_path: Path):
    lab = tmp_path / "lab"
    command = (
        "import sys; sys.path.insert(0, sys.argv[1])\n"
        "import labkit.lab.folder as folder, labkit.lab.server as server\n"
        "from pathlib import Path\n"
        "print(folder.__file__); print(*folder.furnish(Path(sys.argv[2])).made)\n"
        "print((server.HERE / 'labextensions' / server.STARTER.removeprefix('lab/extensions/')).is_file(),"
        " (server.HERE / 'config/labconfig/default_setting_overrides.json').is_file())"
    )
    ran = subprocess.run(
        [sys.executable, "-c", command, str(unpacked), str(lab)], capture_output=True, text=True, cwd=tmp_path
    )
    assert ran.returncode == 0, ran.stderr
    where, made, present = ran.stdout.splitlines()
    assert Path(where).is_relative_to(unpacked)
    assert "texture-trial.ipynb" in made
    assert "examples/demo-book.jsonl" in made
    assert present == "True True"


def test_a_package_without_its_notebooks_says_so(tmp_path: Path):
    (tmp_path / "labkit").mkdir()
    with pytest.raises(LabError, match="not installed whole"):
        assets(tmp_path / "labkit")


@pytest.mark.parametrize("name", ["texture-trial", "texture-trial.ipynb", "Texture-Trial"])
def test_a_template_is_found_by_its_name(name: str):
    found = assets().notebook(name)
    assert found is not None
    assert found.name == "texture-trial.ipynb"
