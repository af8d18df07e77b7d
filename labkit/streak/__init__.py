"""Streaks: is it blended, how many rounds to go, and how ways of stirring differ."""

from typing import TYPE_CHECKING

from labkit.lazy import load_when_asked

if TYPE_CHECKING:
    from labkit.streak.evenness import Unevenness, unevenness
    from labkit.streak.marking import marked
    from labkit.streak.plot import grades_figure, marked_figure, plot_clean, plot_grades, plot_marked
    from labkit.streak.stick import TopBottom, top_bottom
    from labkit.streak.stop import slowest, stirring, tell_stirring
    from labkit.streak.survival import CleanRounds, clean_rounds

_HOMES = {
    "CleanRounds": "survival",
    "TopBottom": "stick",
    "Unevenness": "evenness",
    "clean_rounds": "survival",
    "grades_figure": "plot",
    "marked": "marking",
    "marked_figure": "plot",
    "plot_clean": "plot",
    "plot_grades": "plot",
    "plot_marked": "plot",
    "slowest": "stop",
    "stirring": "stop",
    "tell_stirring": "stop",
    "top_bottom": "stick",
    "unevenness": "evenness",
}

__all__ = [
    "CleanRounds",
    "TopBottom",
    "Unevenness",
    "clean_rounds",
    "grades_figure",
    "marked",
    "marked_figure",
    "plot_clean",
    "plot_grades",
    "plot_marked",
    "slowest",
    "stirring",
    "tell_stirring",
    "top_bottom",
    "unevenness",
]

__getattr__ = load_when_asked(__name__, _HOMES)


def __dir__() -> list[str]:
    return __all__
