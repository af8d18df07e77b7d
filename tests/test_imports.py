"""Imports run one way, and a computation loads nothing that it does not use."""

import subprocess
import sys
from pathlib import Path

import pytest

HEAVY = ("ipywidgets", "anywidget", "matplotlib", "sqlalchemy")


def loaded_by(statement: str) -> set[str]:
    code = f"import sys; {statement}; print(*sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    return set(done.stdout.split())


@pytest.mark.parametrize(
    "statement",
    [
        "import labkit",
        "from labkit.texture import Region, plan_pours",
        "from labkit.texture import HardnessModel, next_pour",
        "import labkit.texture.usual, labkit.texture.weigh",
        "from labkit.shade import calibrate, find_shade, predict, predict_many, sweep",
        "from labkit.rules import permitted; permitted('CI 77491', 'US')",
        "from labkit.colour.patch import read_patch",
        "from labkit.streak import clean_rounds, stirring, top_bottom, unevenness",
        "from labkit.share import log_remake, remakes",
        "from labkit.batch import fit_cooling, pour_window, settling_speed, water_bath_ceiling",
    ],
)
def test_a_computation_loads_no_widget_no_picture_and_no_database(statement):
    assert loaded_by(statement).isdisjoint(HEAVY)


def test_the_door_loads_nothing_before_it_is_asked():
    assert loaded_by("import labkit").isdisjoint({"numpy", "pandas", "scipy", "pydantic"})


PACKAGES = [
    "labkit",
    "labkit.book",
    "labkit.texture",
    "labkit.shade",
    "labkit.materials",
    "labkit.rules",
    "labkit.batch",
    "labkit.streak",
    "labkit.recipe",
    "labkit.share",
]
PLAIN = {"__version__", "CAUTION", "WAVELENGTHS"}


@pytest.mark.parametrize("package", PACKAGES)
def test_every_name_at_the_door_is_there(package):
    module = __import__(package, fromlist=["*"])
    for name in module.__all__:
        assert callable(getattr(module, name)) or name in PLAIN, name
        assert name in dir(module)


@pytest.mark.parametrize("package", PACKAGES)
def test_no_name_at_the_door_is_hidden_by_a_module_of_the_same_name(package):
    """`from labkit.texture import next_pour` gave the module once `labkit.texture.next_pour` was imported."""
    module = __import__(package, fromlist=["*"])
    beside = {each.stem for each in Path(module.__file__).parent.iterdir()}
    assert beside.isdisjoint(module.__all__)


def test_rooms_import_one_another_in_one_direction():
    command = [sys.executable, "-c", "from importlinter.cli import lint_imports_command as run; run()"]
    done = subprocess.run(command, capture_output=True, text=True, cwd=Path(__file__).parent.parent)
    assert done.returncode == 0, done.stdout + done.stderr
