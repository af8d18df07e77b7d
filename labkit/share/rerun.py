"""Running the notebooks of a bundle again: in a fresh kernel, on a book of the bundle's entries alone."""

import json
import os
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from labkit.book import TrialBook
from labkit.book.bundle_file import BundleFile
from labkit.errors import LabError
from labkit.share.notebook import Json, code_cells, notebook_of, source
from labkit.share.outputs_apart import Apart, results_apart

CELL_S = 600
"""How long one cell may take [s]."""


@dataclass(frozen=True)
class Code:
    """A cell of code that a rerun would run.

    Attributes
    ----------
    notebook : str
    cell : int
        Counted over all cells from 1.
    text : str
    """

    notebook: str
    cell: int
    text: str


@dataclass(frozen=True)
class Rerun:
    """What came of running a bundle's notebooks again: what differs, and how many numbers do not."""

    apart: tuple[Apart, ...]
    same: int


def notebooks_in(bundle: BundleFile) -> dict[str, Json]:
    """Return the notebooks of a bundle by name; raise `LabError` where one is none."""
    return {Path(name).stem: notebook_of(bundle.read(name), name) for name in bundle.names("notebooks")}


def code_of(notebooks: Mapping[str, Json]) -> tuple[Code, ...]:
    """Return every cell of code in some notebooks."""
    return tuple(
        Code(name, number, source(cell))
        for name, notebook in notebooks.items()
        for number, cell in code_cells(notebook)
    )


def run_again(bundle: BundleFile, maker: str) -> Rerun:
    """Run the notebooks of a bundle in a temporary folder and compare their results with the stored ones.

    This runs the code in them, with the rights of whoever calls it.

    Parameters
    ----------
    bundle : BundleFile
    maker : str
        Whose lab it was, a maker id.

    Raises
    ------
    LabError
        Where nbclient is missing, or an entry cannot be taken in.
    """
    refuse_without_nbclient()
    apart: list[Apart] = []
    same = 0
    with TemporaryDirectory(prefix="labkit-rerun-", ignore_cleanup_errors=True) as home:
        folder = Path(home)
        with TrialBook(folder / "lab-book.db") as book:
            if refused := book.take_in(bundle.path).refused:
                raise LabError(f"{refused[0].name}: {refused[0].why} Nothing was run.")
        for name, notebook in notebooks_in(bundle).items():
            differing, agreed = results_apart(name, notebook, _executed(notebook, folder, maker))
            apart += differing
            same += agreed
    return Rerun(tuple(apart), same)


def refuse_without_nbclient() -> None:
    """Raise `LabError` where what runs notebooks is not installed."""
    try:
        import nbclient  # noqa: F401
    except ModuleNotFoundError as error:
        raise LabError("To run notebooks again, nbclient is needed: pip install nbclient") from error


def _executed(notebook: Json, folder: Path, maker: str) -> Json:
    """Return a notebook as it comes out of a fresh kernel of this Python, whatever kernel it names."""
    import nbformat
    from nbclient import NotebookClient
    from nbclient.exceptions import CellTimeoutError, DeadKernelError

    from labkit.share.fresh_kernel import FreshKernel

    bare = {
        "cells": [_bare(cell) for cell in notebook["cells"]],
        "metadata": {},
        "nbformat": 4,
        "nbformat_minor": 4,
    }
    made = nbformat.reads(json.dumps(bare), as_version=4)
    client = NotebookClient(
        made,
        kernel_name="python3",
        kernel_manager_class=FreshKernel,
        timeout=CELL_S,
        allow_errors=True,
        resources={"metadata": {"path": str(folder)}},
    )
    try:
        client.execute(env=_surroundings(folder, maker))
    except CellTimeoutError as error:
        raise LabError(f"A cell took longer than {CELL_S} s, so the rerun was stopped.") from error
    except DeadKernelError as error:
        raise LabError("The kernel died while a notebook ran. Is there too little memory?") from error
    return dict(made)


def _bare(cell: Json) -> dict[str, Any]:
    """Return a cell without results and without whatever was noted about it."""
    kept: dict[str, Any] = {"cell_type": cell["cell_type"], "metadata": {}, "source": source(cell)}
    return kept | ({"outputs": [], "execution_count": None} if cell["cell_type"] == "code" else {})


def _surroundings(folder: Path, maker: str) -> dict[str, str]:
    """Return the environment of the kernel: the temporary book, and no settings of the user."""
    return os.environ | {
        "LABKIT_BOOK": str(folder / "lab-book.db"),
        "LABKIT_MAKER": maker,
        "IPYTHONDIR": str(folder / "ipython"),
    }
