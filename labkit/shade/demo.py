"""The invented shade trial that shows what a sweep looks like; it never feeds a maker's own forecast."""

from functools import cache

from labkit.book.example import example_book, open_or_example
from labkit.shade.plot import strips_figure
from labkit.shade.trial import ShadeTrial
from labkit.ui.figure import picture
from labkit.ui.text import Html, html


@cache
def example_trial() -> ShadeTrial:
    """Return the demo trial."""
    return ShadeTrial(example_book())


def open_shade(name: str | None = None) -> ShadeTrial:
    """Return a shade trial of this lab's book, by default the newest.

    Where the book has none yet, the invented example is returned and said to be that. Raises `LabError` where
    there is no trial of this name.
    """
    return open_or_example(ShadeTrial, name, "shade trial")


@cache
def example_shade() -> Html:
    """Return the strips of the invented example, small."""
    drawn = picture(
        strips_figure(example_trial().sweep()), "Invented example: strips of colour by load and film."
    )
    return html('<div class="labkit-small">{}</div>', drawn)
