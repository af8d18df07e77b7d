"""The invented trial that shows what a map looks like; it never feeds a maker's own fit."""

from functools import cache

from labkit.book.example import example_book
from labkit.texture.trial import TextureTrial
from labkit.texture.trials import trial_names


@cache
def example_trial() -> TextureTrial:
    """Return the demo trial."""
    return TextureTrial(example_book())


def open_trial(name: str | None = None) -> TextureTrial:
    """Return a trial of this lab's book, by default the newest.

    Where the book has none yet, the invented example is returned and said to be
    that. Raises `LabError` where there is no trial of this name.
    """
    from labkit.book import book_here

    book = book_here()
    if name is None and not trial_names(book):
        print("Your book has no texture trial yet. What follows is the invented example.")
        return example_trial()
    return TextureTrial(book, name)
