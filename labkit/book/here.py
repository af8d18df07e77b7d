"""The trial book of the lab that a notebook stands in."""

import os
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from labkit.book.book import TrialBook

NAME = "lab-book.db"


def book_here() -> "TrialBook":
    """Open the lab's trial book: where LABKIT_BOOK points, else lab-book.db beside or above the notebook.

    Where there is none, a new one is begun in the notebook's folder. LABKIT_MAKER, a maker id,
    says whose lab it is where that is not the one that the book was made with.
    """
    from labkit.book.book import TrialBook

    maker = os.environ.get("LABKIT_MAKER") or None
    if named := os.environ.get("LABKIT_BOOK"):
        return TrialBook(named, maker)
    here = Path.cwd()
    found = next(
        (folder / NAME for folder in (here, *here.parents) if (folder / NAME).is_file()), here / NAME
    )
    return TrialBook(found, maker)
