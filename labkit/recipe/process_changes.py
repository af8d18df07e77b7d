"""How two recipes were made: what differs, and what it is likely to do."""

from typing import NamedTuple

from labkit.recipe.recipe import Recipe
from labkit.recipe.told import USUAL, Told


class _Figure(NamedTuple):
    """How a figure of the process is called, what is noticed of it, and what more and less of it does."""

    name: str
    much: float
    more: str
    less: str


_FIGURES = {
    "pour_c": _Figure(
        "pour temperature, °C", 5.0, "poured hotter: more sink holes and settling",
        "poured cooler: streaks and lines of flow",
    ),
    "waiting_h": _Figure(
        "waiting before judging, h", 12.0, "judged later: harder", "judged earlier: softer than it will be"
    ),
    "cooling_min": _Figure(
        "cooling, min", 10.0, "cooled more slowly: coarser crystals, softer or grainy",
        "cooled faster: finer crystals, harder",
    ),
    "hottest_c": _Figure(
        "hottest, °C", 10.0, "heated hotter: scent and colour suffer",
        "heated less: something may not have melted",
    ),
    "rounds": _Figure(
        "rounds of stirring", 2.0, "stirred more: fewer streaks", "stirred less: more streaks"
    ),
}  # fmt: skip
_WORDS_SIZE = 0.5
"""What differs in words only stands below what would be noticed."""


def process_changes(one: Recipe, other: Recipe) -> list[Told]:
    """Return what differs in how they were made; what one does not say is told as that."""
    a, b = one.process, other.process
    return [_told(key, a.get(key), b.get(key)) for key in dict.fromkeys([*a, *b]) if a.get(key) != b.get(key)]


def _told(key: str, a: float | str | None, b: float | str | None) -> Told:
    name, much, more, less = _FIGURES.get(key, _Figure(key.replace("_", " "), 1.0, "not known", "not known"))
    if isinstance(a, str) or isinstance(b, str) or a is None or b is None:
        said = f"{_word(a)} against {_word(b)}"
        return Told(f"{name}: {said}", _number(a), _number(b), float("nan"), "not known", _WORDS_SIZE)
    size = abs(b - a) / much if key in _FIGURES else _WORDS_SIZE
    return Told(name, a, b, b - a, f"{more if b > a else less} ({USUAL})", size)


def _word(value: float | str | None) -> str:
    return "not said" if value is None else f"{value:g}" if isinstance(value, float) else value


def _number(value: float | str | None) -> float:
    return value if isinstance(value, float) else float("nan")
