"""An invented trial to hand on: entries, a correction, a withdrawal, a photo, a notebook with results."""

import io
import json
from pathlib import Path

import pytest
from PIL import Image

from labkit.book import TrialBook
from tests.book.conftest import kiln, new_book, new_place  # noqa: F401

BOX, NAME = "attic.box", "Invented trial"


def picture(colour: tuple[int, int, int] = (150, 40, 50)) -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (48, 32), colour).save(out, "PNG")
    return out.getvalue()


def written_notebook(path: Path, *cells: tuple[str, list[dict]], **metadata) -> Path:
    """Save a notebook of cells of code, each with its results."""
    made = [
        {"cell_type": "code", "source": code, "metadata": {}, "outputs": outputs, "execution_count": 1}
        for code, outputs in cells
    ]
    content = {"cells": made, "metadata": metadata, "nbformat": 4, "nbformat_minor": 4}
    path.write_text(json.dumps(content), encoding="utf-8")
    return path


def told(text: str) -> list[dict]:
    """The results of a cell that printed a text."""
    return [{"output_type": "stream", "name": "stdout", "text": text}]


def filled(book: TrialBook) -> TrialBook:
    """Write the invented trial into a book."""
    first = book.append(BOX, {"grams": 12.5, "remark": "first"}, trial=NAME)
    photo = book.add_photo(picture())
    book.append(BOX, {"of": first.id, "photo": photo, "remark": "with a picture"}, trial=NAME)
    book.correct(first, {"grams": 12.6, "remark": "read again"})
    gone = book.append(BOX, {"remark": "twice"}, trial=NAME)
    book.withdraw(gone, "by mistake")
    book.append(BOX, {"remark": "of another trial"}, trial="Other trial")
    return book


@pytest.fixture
def book(tmp_path):
    """A file with the invented trial, and another one beside it."""
    with TrialBook(tmp_path / "lab-book.db") as made:
        yield filled(made)
