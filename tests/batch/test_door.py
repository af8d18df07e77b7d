"""The door of the room: its names are there, and it loads nothing before it is asked."""

import subprocess
import sys
from pathlib import Path

import labkit.batch

BESIDE = ("panel", "trial", "past", "demo", "story", "plot")
"""Modules of the room that are no computation."""


def test_every_name_is_there_and_hidden_by_no_module():
    beside = {each.stem for each in Path(labkit.batch.__file__).parent.iterdir()}
    assert beside.isdisjoint(labkit.batch.__all__)
    for name in labkit.batch.__all__:
        assert callable(getattr(labkit.batch, name))
        assert name in dir(labkit.batch)


def test_computation_loads_no_widget_picture_database_or_other_room():
    code = (
        "import sys, labkit.batch as room\n"
        "assert 'numpy' not in sys.modules\n"
        f"[getattr(room, name) for name, home in room._HOMES.items() if home not in {BESIDE}]\n"
        "print(*sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    loaded = set(done.stdout.split())
    assert loaded.isdisjoint({"ipywidgets", "anywidget", "matplotlib", "sqlalchemy", "scipy.stats", "iapws"})
    assert not [
        each
        for each in loaded
        if each.startswith(("labkit.texture", "labkit.shade", "labkit.book", "labkit.ui"))
    ]
