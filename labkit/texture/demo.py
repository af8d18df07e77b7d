"""The invented trial that shows what a map looks like; it never feeds a maker's own fit."""

from functools import cache

from labkit.book.example import example_book, open_or_example
from labkit.texture.trial import TextureTrial


@cache
def example_trial() -> TextureTrial:
    """Return the demo trial."""
    return TextureTrial(example_book())


def open_trial(name: str | None = None) -> TextureTrial:
    """Return a trial of this lab's book, by default the newest.

    Where the book has none yet, the invented example is returned and said to be
    that. Raises `LabError` where there is no trial of this name.
    """
    return open_or_example(TextureTrial, name, "texture trial")
