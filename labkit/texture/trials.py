"""The texture trials of a book."""

from typing import TYPE_CHECKING

from labkit.book.trials import named_trials

if TYPE_CHECKING:
    from labkit.book import TrialBook

KIND = "texture.question"


def trials(book: "TrialBook") -> dict[str, str]:
    """Return the first version of each trial's question by the trial's name, the newest first."""
    return named_trials(book, KIND)


def trial_names(book: "TrialBook") -> list[str]:
    """Return the names of the book's texture trials, the newest first."""
    return list(trials(book))
