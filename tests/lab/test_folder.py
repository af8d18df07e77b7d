"""The lab folder is made whole, and nothing of the maker's is ever touched."""

import errno
import json
import os
import stat
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from labkit import __version__
from labkit.assets import Assets
from labkit.errors import LabError
from labkit.lab import folder as lab

AS_NOBODY = """
import os, sys
from labkit.cli import main
import jupyterlab.labapp, sqlalchemy, labkit.book.book, labkit.lab.server
if os.geteuid() == 0:
    os.setgroups([]); os.setgid(65534); os.setuid(65534)
sys.exit(main(sys.argv[1:]))
"""


def notebook(version: str | None = None) -> str:
    metadata = {"labkit": {"template": "trial", "version": version}} if version else {}
    cells = [
        {"cell_type": "markdown", "id": "a", "metadata": {}, "source": "# Trial"},
        {
            "cell_type": "code",
            "id": "b",
            "metadata": {},
            "source": "1 + 1",
            "execution_count": 7,
            "outputs": [{"output_type": "stream", "name": "stdout", "text": "2"}],
        },
    ]
    return json.dumps({"cells": cells, "metadata": metadata, "nbformat": 4, "nbformat_minor": 5})


@pytest.fixture
def shipped(tmp_path: Path) -> Assets:
    home = tmp_path / "shipped"
    home.mkdir()
    (home / "trial.ipynb").write_text(notebook())
    (home / "demo-book.jsonl").write_text('{"invented": true}\n')
    (home / "table.csv").write_text("a,b\n")
    return Assets((home / "trial.ipynb",), (home / "demo-book.jsonl", home / "table.csv"))


def contents(folder: Path) -> dict[str, bytes]:
    return {
        str(each.relative_to(folder)): each.read_bytes()
        for each in sorted(folder.rglob("*"))
        if each.is_file()
    }


def test_a_new_lab_has_all_that_is_needed(tmp_path: Path, shipped: Assets):
    done = lab.furnish(tmp_path / "a" / "lab", shipped)
    assert done.made == ("trial.ipynb", "examples/demo-book.jsonl", "READ-ME.txt", "lab-book.db")
    assert done.remarks == ()
    assert sorted(contents(tmp_path / "a" / "lab")) == sorted(
        os.path.join(*name.split("/")) for name in done.made
    )


def test_the_copy_has_no_outputs_and_knows_its_template(tmp_path: Path, shipped: Assets):
    lab.furnish(tmp_path / "lab", shipped)
    copy = json.loads((tmp_path / "lab" / "trial.ipynb").read_text(encoding="utf-8"))
    assert copy["metadata"]["labkit"] == {"template": "trial", "version": __version__}
    assert copy["metadata"]["kernelspec"]["name"] == "python3"
    assert copy["cells"][1]["outputs"] == []
    assert copy["cells"][1]["execution_count"] is None
    assert copy["cells"][1]["source"] == "1 + 1"


def test_a_second_run_changes_nothing(tmp_path: Path, shipped: Assets):
    lab.furnish(tmp_path / "lab", shipped)
    (tmp_path / "lab" / "READ-ME.txt").write_text("mine")
    (tmp_path / "lab" / "trial.ipynb").write_text("mine, and no notebook at all")
    before = contents(tmp_path / "lab")
    assert lab.furnish(tmp_path / "lab", shipped) == lab.Furnished((), ())
    assert contents(tmp_path / "lab") == before


def test_a_second_run_adds_only_what_is_missing(tmp_path: Path, shipped: Assets):
    lab.furnish(tmp_path / "lab", shipped)
    (tmp_path / "lab" / "examples" / "demo-book.jsonl").unlink()
    (tmp_path / "lab" / "trial.ipynb").write_text(notebook(__version__))
    assert lab.furnish(tmp_path / "lab", shipped).made == ("examples/demo-book.jsonl",)
    assert (tmp_path / "lab" / "trial.ipynb").read_text() == notebook(__version__)


def test_a_notebook_of_an_earlier_version_stays_and_is_named(tmp_path: Path, shipped: Assets):
    (tmp_path / "lab").mkdir()
    (tmp_path / "lab" / "trial.ipynb").write_text(notebook("0.0.9"))
    (remark,) = lab.furnish(tmp_path / "lab", shipped).remarks
    assert remark.endswith("For the new one beside it: labkit new trial")
    assert "\n" not in remark
    assert (tmp_path / "lab" / "trial.ipynb").read_text() == notebook("0.0.9")


def test_nothing_is_said_once_the_new_one_is_there(tmp_path: Path, shipped: Assets):
    (tmp_path / "lab").mkdir()
    (tmp_path / "lab" / "trial.ipynb").write_text(notebook("0.0.9"))
    (tmp_path / "lab" / "trial 2.ipynb").write_text(notebook(__version__))
    assert lab.furnish(tmp_path / "lab", shipped).remarks == ()


def test_a_new_notebook_takes_the_next_free_name(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, shipped: Assets
):
    monkeypatch.setattr(lab, "assets", lambda: shipped)
    names = [lab.new_notebook(tmp_path / "lab", "trial").name for _ in range(3)]
    names.append(lab.new_notebook(tmp_path / "lab", "TRIAL", "winter.ipynb").name)
    assert names == ["trial.ipynb", "trial 2.ipynb", "trial 3.ipynb", "winter.ipynb"]


def test_an_unknown_template_names_those_near(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, shipped: Assets
):
    monkeypatch.setattr(lab, "assets", lambda: shipped)
    with pytest.raises(LabError, match=r"no template notebook “trail”\. Did you mean “trial”\?"):
        lab.new_notebook(tmp_path, "trail")


@pytest.mark.parametrize("name", ["../out", "a/b", "a\\b", ".hidden", " ", ".ipynb", "a:b", "a\nb", "what?"])
def test_a_name_that_is_no_file_name_is_refused(tmp_path: Path, monkeypatch, shipped: Assets, name: str):
    monkeypatch.setattr(lab, "assets", lambda: shipped)
    with pytest.raises(LabError, match="cannot be the name of a notebook"):
        lab.new_notebook(tmp_path / "lab", "trial", name)
    assert not (tmp_path / "lab").exists()


def test_a_name_that_is_taken_is_never_written(tmp_path: Path):
    (tmp_path / "a").write_text("mine")
    assert not lab.write_new(tmp_path / "a", b"theirs")
    assert lab.write_new(tmp_path / "b", b"new")
    assert contents(tmp_path) == {"a": b"mine", "b": b"new"}


@pytest.mark.skipif(os.name != "posix", reason="symbolic links and modes as on POSIX")
def test_a_dangling_link_counts_as_taken_and_modes_are_the_usual(tmp_path: Path):
    (tmp_path / "a").symlink_to(tmp_path / "gone")
    assert not lab.write_new(tmp_path / "a", b"theirs")
    assert not (tmp_path / "gone").exists()
    (tmp_path / "plain").write_text("")
    lab.write_new(tmp_path / "b", b"new")
    assert stat.S_IMODE((tmp_path / "b").stat().st_mode) == stat.S_IMODE((tmp_path / "plain").stat().st_mode)


@pytest.mark.parametrize("taken", [True, False])
def test_a_disk_without_hard_links_is_written_as_carefully(tmp_path: Path, monkeypatch, taken: bool):
    def no_links(*_args: object) -> None:
        raise OSError(errno.EPERM, "Operation not permitted")

    monkeypatch.setattr(os, "link", no_links)
    (tmp_path / "draft").write_text("new")
    if taken:
        (tmp_path / "a").write_text("mine")
    assert lab.publish(tmp_path / "draft", tmp_path / "a") is not taken
    assert (tmp_path / "a").read_text() == ("mine" if taken else "new")


def test_a_write_that_breaks_off_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    def full(_handle: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OSError, match="No space"):
        lab.write_new(tmp_path / "a", b"new")
    assert contents(tmp_path) == {}


def test_a_full_disk_is_said_in_words(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, shipped: Assets):
    def full(_handle: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(LabError, match="cannot be used: No space left on device"):
        lab.furnish(tmp_path / "lab", shipped)


@pytest.mark.parametrize("below", ["", "lab"])
def test_a_file_in_the_way_is_named(tmp_path: Path, shipped: Assets, below: str):
    (tmp_path / "taken").write_text("mine")
    with pytest.raises(LabError, match="is a file, and the lab needs a folder of that name") as problem:
        lab.furnish(tmp_path / "taken" / below, shipped)
    assert str(tmp_path / "taken") in str(problem.value)
    assert (tmp_path / "taken").read_text() == "mine"


@pytest.fixture
def read_only() -> Iterator[Path]:
    """A folder that everybody may look into and nobody may write to."""
    with tempfile.TemporaryDirectory() as name:
        Path(name).chmod(0o555)
        yield Path(name)
        Path(name).chmod(0o755)


@pytest.mark.skipif(os.name != "posix", reason="a read-only folder as POSIX knows it")
@pytest.mark.parametrize("command", [["open", "--no-browser"], ["new", "texture-trial"], ["check"]])
def test_a_read_only_folder_is_said_in_words(command: list[str], read_only: Path):
    # The superuser may write anywhere: the child gives that up, once it has imported what it needs.
    ran = subprocess.run(
        [sys.executable, "-c", AS_NOBODY, "--lab", str(read_only), *command],
        capture_output=True,
        text=True,
        cwd="/",
        env=os.environ | {"HOME": "/nonexistent", "PYTHONDONTWRITEBYTECODE": "1"},
    )
    said = ran.stdout if command == ["check"] else ran.stderr
    assert ran.returncode == (1 if command == ["check"] else 2), ran.stderr
    assert f"Nothing can be written to {read_only}" in said
    assert "Traceback" not in ran.stderr
    assert list(read_only.iterdir()) == []


def test_the_lab_folder_is_named_or_set_or_at_home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("USERPROFILE", str(tmp_path))
    monkeypatch.delenv("LABKIT_LAB", raising=False)
    assert lab.lab_folder() == tmp_path / "lipcolour-lab"
    monkeypatch.setenv("LABKIT_LAB", "~/elsewhere")
    assert lab.lab_folder() == tmp_path / "elsewhere"
    assert lab.lab_folder(str(tmp_path / "named")) == tmp_path / "named"


def test_the_book_is_in_the_lab_or_where_it_is_set(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.delenv("LABKIT_BOOK", raising=False)
    assert lab.book_place(tmp_path) == tmp_path / "lab-book.db"
    monkeypatch.setenv("LABKIT_BOOK", "elsewhere.db")
    assert lab.book_place(tmp_path) == Path("elsewhere.db")
    monkeypatch.setenv("LABKIT_BOOK", "postgresql+psycopg://localhost/lab")
    assert lab.book_place(tmp_path) == "postgresql+psycopg://localhost/lab"
