"""The invented batches that show what a day looks like; they never feed a maker's own forecast."""

from functools import cache

from labkit.batch.day import cooling_or_why, melt_or_why, window_of
from labkit.batch.plot import cooling_figure
from labkit.batch.trial import BatchTrial
from labkit.book.example import example_book, open_or_example
from labkit.ui.figure import picture
from labkit.ui.text import Html, html


@cache
def example_batch() -> BatchTrial:
    """Return the demo's newest batch."""
    return BatchTrial(example_book())


def open_batch(name: str | None = None) -> BatchTrial:
    """Return a batch of this lab's book, by default the newest.

    Where the book has none yet, the invented example is returned and said to be that. Raises `LabError` where
    there is no batch of this name.
    """
    return open_or_example(BatchTrial, name, "batch")


@cache
def example_day() -> Html:
    """Return how the invented example cooled, small."""
    trial = example_batch()
    fit = cooling_or_why(trial)
    window = window_of(trial, fit, melt_or_why(trial))
    assert trial.clock is not None
    drawn = cooling_figure(
        trial.temperatures(),
        trial.clock,
        None if isinstance(fit, str) else fit,
        window,
        trial.question.pour_c,
    )
    alt = "Invented example: the pot's temperature against the clock, with its pour window."
    return html('<div class="labkit-small">{}</div>', picture(drawn, alt))
