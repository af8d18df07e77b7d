"""The server of a lab: its port, its options, the workspace that it starts with."""

import json
import os
import re
import signal
import socket
import subprocess
import sys
from pathlib import Path

import pytest

from labkit.lab import server
from labkit.lab.kernels import LabKernelSpecs

TAKEN_BETWEEN = """
import socket, sys
from pathlib import Path
from labkit.lab import server
taken, moment, named = int(sys.argv[1]), sys.argv[2], sys.argv[3] == "named"
other = socket.socket()
other.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)

def take():
    other.bind((server.HOST, taken))
    other.listen()

def chosen(wanted=None, host=None):
    moment == "set up" and take()
    return taken

start = server._start_quietly
def started(app):
    moment == "started" and take()
    start(app)

server.free_port, server._start_quietly = chosen, started
try:
    server.serve(Path(sys.argv[4]), "trial.ipynb", taken if named else None, browser=False)
except server.LabError as problem:
    print("LabError:", problem)
"""


@pytest.fixture
def port() -> int:
    """A port that was free a moment ago, with free ones behind it."""
    with socket.socket() as probe:
        probe.bind((server.HOST, 0))
        return probe.getsockname()[1]


def run(port: int, moment: str, named: str, home: Path) -> tuple[subprocess.Popen[str], str]:
    """Start a lab whose port another program takes at that moment; return it and the line that says where."""
    places = {
        name: str(home / name.lower()) for name in ("JUPYTER_CONFIG_DIR", "JUPYTER_RUNTIME_DIR", "HOME")
    }
    lab = subprocess.Popen(
        [sys.executable, "-c", TAKEN_BETWEEN, str(port), moment, named, str(home)],
        env=os.environ | places, stdout=subprocess.PIPE, text=True,
    )  # fmt: skip
    assert lab.stdout is not None
    return lab, lab.stdout.readline()


@pytest.mark.skipif(os.name != "posix", reason="closed with a signal")
@pytest.mark.parametrize("moment", ["set up", "started"])
def test_a_port_taken_between_its_choice_and_its_use_makes_way_for_another(
    port: int, moment: str, tmp_path: Path
):
    lab, line = run(port, moment, "chosen", tmp_path)
    try:
        found = re.search(rf"http://{server.HOST}:(\d+)/lab/tree/trial.ipynb\?token=(\w+)", line)
        assert found, line
        assert int(found[1]) != port
        with socket.create_connection((server.HOST, int(found[1])), timeout=10):
            pass
        (told,) = (tmp_path / "jupyter_runtime_dir").glob("jpserver-*.json")
        assert json.loads(told.read_text())["port"] == int(found[1])
    finally:
        lab.send_signal(signal.SIGINT)
        lab.communicate(timeout=60)


def test_a_named_port_taken_meanwhile_is_said_in_words(port: int, tmp_path: Path):
    lab, line = run(port, "started", "named", tmp_path)
    lab.communicate(timeout=60)
    assert line == f"LabError: Port {port} was taken just now by another program. Try again.\n"


def test_the_file_list_leaves_out_what_the_book_is_made_of():
    options = server.server_options(Path("my-lab"), 8890)
    hidden = [each.partition("=")[2] for each in options if each.startswith("--ContentsManager.hide_globs=")]
    assert {"lab-book.db", "lab-book.db-wal", "lab-book.db-shm", "lab-book.photos"} <= set(hidden)
    assert {"__pycache__", "*~"} <= set(hidden)


def test_a_workspace_that_is_there_is_left_alone(tmp_path: Path):
    server.fold_file_list(tmp_path / "workspaces")
    (made,) = (tmp_path / "workspaces").iterdir()
    assert json.loads(made.read_text())["data"]["layout-restorer:data"]["left"]["collapsed"] is True
    made.write_text("mine")
    server.fold_file_list(tmp_path / "workspaces")
    assert made.read_text() == "mine"


def test_a_kernel_of_the_lab_works_on_one_thread():
    """A fit is many small matrices; threads that share them made it slower."""
    env = LabKernelSpecs().get_kernel_spec("python3").env
    assert env["OPENBLAS_NUM_THREADS"] == env["OMP_NUM_THREADS"] == "1"
