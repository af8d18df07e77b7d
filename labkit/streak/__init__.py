"""Streaks: is it blended, how many rounds to go, and how ways of stirring differ."""

from typing import TYPE_CHECKING

from labkit.lazy import load_when_asked

if TYPE_CHECKING:
    from labkit.streak.demo import open_streak
    from labkit.streak.evenness import Unevenness, unevenness
    from labkit.streak.marking import marked
    from labkit.streak.panel import StreakPanel
    from labkit.streak.plot import grades_figure, marked_figure, plot_clean, plot_grades, plot_marked
    from labkit.streak.stick import TopBottom, top_bottom
    from labkit.streak.stop import slowest, stirring, tell_stirring
    from labkit.streak.story import (
        photo_figure,
        rounds_table,
        stopping_figure,
        stopping_summary,
        tell_streak,
        tell_ways,
        ways_figure,
        ways_of_stirring,
    )
    from labkit.streak.survival import CleanRounds, clean_rounds
    from labkit.streak.trial import StreakTrial, start_streak

_HOMES = {
    "CleanRounds": "survival",
    "StreakPanel": "panel",
    "StreakTrial": "trial",
    "TopBottom": "stick",
    "Unevenness": "evenness",
    "clean_rounds": "survival",
    "grades_figure": "plot",
    "marked": "marking",
    "marked_figure": "plot",
    "open_streak": "demo",
    "photo_figure": "story",
    "plot_clean": "plot",
    "plot_grades": "plot",
    "plot_marked": "plot",
    "rounds_table": "story",
    "slowest": "stop",
    "start_streak": "trial",
    "stirring": "stop",
    "stopping_figure": "story",
    "stopping_summary": "story",
    "tell_stirring": "stop",
    "tell_streak": "story",
    "tell_ways": "story",
    "top_bottom": "stick",
    "unevenness": "evenness",
    "ways_figure": "story",
    "ways_of_stirring": "story",
}

__all__ = [
    "CleanRounds",
    "StreakPanel",
    "StreakTrial",
    "TopBottom",
    "Unevenness",
    "clean_rounds",
    "grades_figure",
    "marked",
    "marked_figure",
    "open_streak",
    "photo_figure",
    "plot_clean",
    "plot_grades",
    "plot_marked",
    "rounds_table",
    "slowest",
    "start_streak",
    "stirring",
    "stopping_figure",
    "stopping_summary",
    "tell_stirring",
    "tell_streak",
    "tell_ways",
    "top_bottom",
    "unevenness",
    "ways_figure",
    "ways_of_stirring",
]

__getattr__ = load_when_asked(__name__, _HOMES)


def __dir__() -> list[str]:
    return __all__
