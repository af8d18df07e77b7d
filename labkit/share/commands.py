"""The commands that hand on a trial and check what was handed on."""

import sys
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from labkit.errors import LabError

if TYPE_CHECKING:
    from labkit.book import TrialBook

QUIET_S = 1.0
"""How often a long writing says how far it is [s]."""


def hand_on(
    book: "TrialBook",
    folder: Path,
    file: Path,
    trials: Sequence[str],
    notebooks: Sequence[str],
    keep_personal: bool,
    alone: bool,
    look: bool,
) -> int:
    """Say what a bundle of some trials holds, then write it, unless it is only looked at."""
    from labkit.share.packing import bundle, contents

    paths = [_notebook(folder, each) for each in notebooks]
    print(contents(book, trials, paths, keep_personal, alone=alone))
    if look:
        print(f"Nothing was written. To write it: leave --look away. The file would be {file}")
        return 0
    made = bundle(book, trials, paths, file, keep_personal, alone=alone, progress=_telling())
    print(f"Written to {made.path}\nSHA-256 {made.sha256}")
    print("Tell it to whoever gets the file by another way than the file itself.")
    return 0


def check_bundle(file: Path, rerun: bool, code: bool) -> int:
    """Say whether a bundle is as it was written, and whether its numbers come out again; 1 if not."""
    from labkit.share.checking import verify

    found = verify(file, rerun)
    if code:
        for each in found.would_run:
            print(f"# {each.notebook}, cell {each.cell}\n{each.text}\n")
    print(found)
    if found.ok and found.would_run and not rerun:
        print("To read that code: --code. To run it: --rerun")
    return 0 if found.ok else 1


def _notebook(folder: Path, named: str) -> Path:
    """Return a notebook by its path, or by its name in the lab folder."""
    for place in (Path(named).expanduser(), folder / named, folder / f"{named}.ipynb"):
        if place.is_file():
            return place
    raise LabError(f"There is no notebook “{named}”, here or in {folder}.")


def _telling() -> Callable[[int, int], None]:
    """Return what says on the terminal how far a writing is, once it takes long."""
    last = time.monotonic()

    def tell(done: int, total: int) -> None:
        nonlocal last
        if time.monotonic() - last >= QUIET_S:
            last = time.monotonic()
            print(f"{done} of {total} files written; Ctrl+C stops without harm.", file=sys.stderr)

    return tell
