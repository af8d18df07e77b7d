"""What the maker's own models say of two recipes, as wholes and line by line."""

from collections.abc import Callable, Mapping
from math import isnan
from typing import Any

import numpy as np

from labkit.colour.cie import delta_e00
from labkit.errors import LabError, did_you_mean
from labkit.recipe.groups import called
from labkit.recipe.handed import Colour, Hardness, read_colour, read_hardness
from labkit.recipe.line_changes import percents
from labkit.recipe.lines import group_in
from labkit.recipe.recipe import Recipe
from labkit.recipe.told import LEAST, Told

Models = Mapping[str, Callable[[Mapping[str, float]], Any]]
KNOWN = ("hardness", "colour")
MUCH_WORDS = 0.5
MUCH_DELTA_E = 1.0
"""What is noticed: half a word of the ladder (a judgement), and about ΔE00 1 (dental and skin studies)."""
_SURE = 1.645
_LEANS = (("lighter", "darker"), ("redder", "greener"), ("yellower", "bluer"))
_SEEN = 0.5


def read_models(models: Models | None) -> dict[str, Callable[[Mapping[str, float]], Any]]:
    """Return the models that are given; `LabError` for one that is neither hardness nor colour."""
    known = {name: each for name, each in (models or {}).items() if each is not None}
    if strange := [each for each in known if each not in KNOWN]:
        raise LabError(f"“{strange[0]}” is no model. {did_you_mean(strange[0], KNOWN)}")
    return known


# ---- as wholes -------------------------------------------------------------------


def hardness_told(one: Recipe, other: Recipe, hardness: Hardness) -> Told:
    """Return the hardness of both by the maker's own map."""
    first, second = (read_hardness(hardness, _shares(each)) for each in (one, other))
    if first is None or second is None:
        nan = float("nan")
        return Told("hardness", nan, nan, nan, "your own map does not reach these recipes", nan)
    (a, a_sd), (b, b_sd) = first, second
    sd = float(np.hypot(a_sd, b_sd))
    sure = "" if abs(b - a) > _SURE * sd else "; within what is not known"
    said = f"{abs(b - a):.1f} words {'harder' if b > a else 'softer'} ± {sd:.1f} by your own map{sure}"
    return Told("hardness, words", a, b, b - a, said, abs(b - a) / MUCH_WORDS)


def colour_told(one: Recipe, other: Recipe, colour: Colour) -> Told:
    """Return how far the colours lie apart by the maker's own forecast."""
    first, second = (read_colour(colour, _loads(each)) for each in (one, other))
    if first is None or second is None:
        nan = float("nan")
        return Told("colour", nan, nan, nan, "your own forecast does not know these pigments", nan)
    away = float(delta_e00(first, second))
    lean = _lean(first, second) or "hardly another shade"
    return Told("colour, ΔE00", 0.0, away, away, f"{lean} by your own forecast", away / MUCH_DELTA_E)


def _lean(first: np.ndarray, second: np.ndarray) -> str:
    moved = zip(second - first, _LEANS, strict=True)
    return ", ".join(words[0] if value > 0 else words[1] for value, words in moved if abs(value) > _SEEN)


def _shares(recipe: Recipe) -> dict[str, float]:
    return {name: each / 100 for name, each in recipe.percent().items()}


def _loads(recipe: Recipe) -> dict[str, float]:
    return {name: each for name, each in recipe.percent().items() if group_in(recipe, name) == "pigment"}


# ---- line by line ----------------------------------------------------------------


def by_models(rows: list[Told], one: Recipe, other: Recipe, models: Models) -> list[Told]:
    """Return line changes with what the models say of each, where they know it.

    Each change is looked at alone: that line as in the other recipe, the rest in the ratio of the first.
    """
    known = {f"{name}, %": name for name in {**percents(one), **percents(other)}}

    def told(row: Told) -> Told:
        return _by_models(row, known[row.what], one, other, models) if row.what in known else row

    return [told(each) for each in rows]


def _by_models(row: Told, name: str, one: Recipe, other: Recipe, models: Models) -> Told:
    changed = _with_one_line(one, other, name)
    if changed is None:
        return row
    told = []
    if "hardness" in models:
        whole = hardness_told(one, changed, models["hardness"])
        told.append(
            (f"{abs(whole.change):.1f} words {'harder' if whole.change > 0 else 'softer'}", whole.size)
        )
    if "colour" in models and _is_pigment(name, one, other):
        whole = colour_told(one, changed, models["colour"])
        lean = whole.effect.removesuffix(" by your own forecast")
        told.append((f"{lean}, ΔE00 {whole.change:.1f}", whole.size))
    known = [(words, size) for words, size in told if not isnan(size)]
    if not known:
        return row
    effect = f"{'; '.join(words for words, _ in known)}, alone, by your own models"
    return row._replace(effect=effect, size=max(size for _, size in known))


def _is_pigment(name: str, one: Recipe, other: Recipe) -> bool:
    spelled = _spelled(one, other, name)
    return any(group_in(each, spelled) == "pigment" for each in (one, other) if spelled in each.weighed_g)


def _spelled(one: Recipe, other: Recipe, name: str) -> str:
    return next(each for recipe in (one, other) for each in recipe.weighed_g if called(each) == name)


def _with_one_line(one: Recipe, other: Recipe, name: str) -> Recipe | None:
    """Return the first recipe with one line as in the other one; None where nothing else is in it."""
    spelled, wanted = _spelled(one, other, name), percents(other).get(name, 0.0)
    rest = {each: part for each, part in one.percent().items() if called(each) != name}
    left = sum(rest.values())
    if left <= LEAST or wanted >= 100.0 - LEAST:
        return None
    lines = {each: part * (100.0 - wanted) / left for each, part in rest.items()}
    if wanted > LEAST:
        lines[spelled] = wanted
    groups = {**other.groups, **one.groups}
    return Recipe("changed", lines, groups={each: group for each, group in groups.items() if each in lines})
