"""Two recipes side by side: what differs, and what it is likely to do."""

from collections.abc import Callable, Mapping
from typing import Any, NamedTuple

import numpy as np
import pandas as pd

from labkit.colour.cie import delta_e00
from labkit.errors import LabError, did_you_mean
from labkit.recipe.groups import BASE_GROUPS, called
from labkit.recipe.recipe import Recipe

Models = Mapping[str, Callable[[Mapping[str, float]], Any]]
COLUMNS = ["what", "a", "b", "change", "likely effect"]
_USUAL = "general trade knowledge, no source"


class _Process(NamedTuple):
    """How a figure of the process is called, what counts as much, and what more and less of it does."""

    name: str
    much: float
    more: str
    less: str


_PROCESS = {
    "pour_c": _Process(
        "pour temperature, °C", 5.0, "poured hotter: more sink holes and settling",
        "poured cooler: streaks and lines of flow",
    ),
    "waiting_h": _Process(
        "waiting before judging, h", 12.0, "judged later: harder", "judged earlier: softer than it will be"
    ),
    "cooling_min": _Process(
        "cooling, min", 10.0, "cooled more slowly: coarser crystals, softer or grainy",
        "cooled faster: finer crystals, harder",
    ),
    "hottest_c": _Process(
        "hottest, °C", 10.0, "heated hotter: scent and colour suffer",
        "heated less: something may not have melted",
    ),
    "rounds": _Process(
        "rounds of stirring", 2.0, "stirred more: fewer streaks", "stirred less: more streaks"
    ),
}  # fmt: skip
_LEANS = (("lighter", "darker"), ("redder", "greener"), ("yellower", "bluer"))
_SEEN = 0.5


def compare(recipe_a: Recipe, recipe_b: Recipe, models: Models | None = None) -> pd.DataFrame:
    """Return what differs between two recipes, the likeliest causes of a difference first.

    Each difference is ranked by its size beside what counts as much (2 % of the product for a line, a tenth
    for a ratio; judgements), and by the maker's own models where they are given.

    Parameters
    ----------
    recipe_a, recipe_b : Recipe
    models : mapping, optional
        The maker's fitted models: "hardness", from the share of each material to (words of the ladder, sd)
        or None; "colour", from the load of each pigment [% of the product] to CIELAB.

    Returns
    -------
    DataFrame
        what; a and b (% of the product, ratios, process figures; nan where there is none); change (b less a);
        likely effect.

    Raises
    ------
    LabError
        For a model that is none of those.

    Examples
    --------
    >>> a = Recipe.from_percent("a", {"castor oil": 80, "beeswax": 20})
    >>> b = Recipe.from_percent("b", {"castor oil": 85, "beeswax": 15})
    >>> compare(a, b)[["what", "change"]].round(2).values.tolist()[0]
    ['wax to oil', -0.07]
    """
    known = dict(models or {})
    if strange := [each for each in known if each not in ("hardness", "colour")]:
        raise LabError(f"“{strange[0]}” is no model. {did_you_mean(strange[0], ('hardness', 'colour'))}")
    rows = [*_lines(recipe_a, recipe_b), *_ratios(recipe_a, recipe_b), *_processes(recipe_a, recipe_b)]
    ranked = sorted(rows, key=lambda each: -each[-1])
    top = [row for row in (_hardness(recipe_a, recipe_b, known), _colour(recipe_a, recipe_b, known)) if row]
    return pd.DataFrame([*top, *(row[:-1] for row in ranked)], columns=COLUMNS)


Row = tuple[str, float, float, float, str]
Ranked = tuple[str, float, float, float, str, float]


def _lines(one: Recipe, other: Recipe) -> list[Ranked]:
    first, second = (
        {called(name): each for name, each in recipe.percent().items()} for recipe in (one, other)
    )
    groups = {called(name): _group(recipe, name) for recipe in (one, other) for name in recipe.weighed_g}
    rows = []
    for name in dict.fromkeys([*first, *second]):
        a, b = first.get(name, 0.0), second.get(name, 0.0)
        if abs(b - a) > 1e-6:
            rows.append(
                (f"{name}, %", a, b, b - a, _line_effect(groups[name], b - a, a, b), abs(b - a) / 2.0)
            )
    return rows


def _line_effect(group: str, change: float, a: float, b: float) -> str:
    new = "new here; " if a == 0 else "gone here; " if b == 0 else ""
    more = {
        "wax": ("harder", "softer"), "oil": ("softer, more slip", "harder, more drag"),
        "butter": ("softer than wax, firmer than oil", "less body"),
        "pigment": ("fuller colour, a little stiffer", "sheerer, a little softer"),
        "other": ("not known", "not known"),
    }[group]  # fmt: skip
    return f"{new}{more[0] if change > 0 else more[1]} ({_USUAL})"


def _ratios(one: Recipe, other: Recipe) -> list[Ranked]:
    rows: list[Ranked] = []
    first, second = _groups(one), _groups(other)
    for top, bottom, more, less in (
        ("wax", "oil", "harder", "softer"),
        ("butter", "oil", "firmer, melts on the lip", "softer, more slip"),
    ):
        if first[bottom] > 0 and second[bottom] > 0 and first[top] + second[top] > 0:
            a, b = first[top] / first[bottom], second[top] / second[bottom]
            size = abs(b - a) / max(0.1 * max(a, b), 1e-9)
            if abs(b - a) > 1e-6:
                rows.append(
                    (f"{top} to {bottom}", a, b, b - a, f"{more if b > a else less} ({_USUAL})", size)
                )
    a, b = first["pigment"], second["pigment"]
    if abs(b - a) > 1e-6:
        said = "fuller" if b > a else "sheerer"
        rows.append(("load of pigment, %", a, b, b - a, f"{said} ({_USUAL})", abs(b - a) / 2.0))
    return [*rows, *_blends(one, other)]


def _blends(one: Recipe, other: Recipe) -> list[Ranked]:
    first, second = (_blend(each) for each in (one, other))
    rows = []
    for name in dict.fromkeys([*first, *second]):
        a, b = first.get(name, 0.0), second.get(name, 0.0)
        if abs(b - a) > 1e-6 and first and second:
            effect = f"the shade leans {'to' if b > a else 'away from'} {name} ({_USUAL})"
            rows.append((f"{name} among the pigments", a, b, b - a, effect, abs(b - a) / 0.05))
    return rows


def _blend(recipe: Recipe) -> dict[str, float]:
    pigments = {called(n): each for n, each in recipe.percent().items() if _group(recipe, n) == "pigment"}
    total = sum(pigments.values())
    return {name: each / total for name, each in pigments.items()}


def _groups(recipe: Recipe) -> dict[str, float]:
    found: dict[str, float] = dict.fromkeys((*BASE_GROUPS, "pigment", "other"), 0.0)
    for name, each in recipe.percent().items():
        found[_group(recipe, name)] += each
    return found


def _group(recipe: Recipe, name: str) -> str:
    try:
        return recipe.group(name)
    except LabError:
        return "other"


def _processes(one: Recipe, other: Recipe) -> list[Ranked]:
    rows: list[Ranked] = []
    for key in dict.fromkeys([*one.process, *other.process]):
        a, b = one.process.get(key), other.process.get(key)
        if a == b:
            continue
        usual = _Process(key.replace("_", " "), 1.0, "not known", "not known")
        name, much, more, less = _PROCESS.get(key, usual)
        if isinstance(a, str) or isinstance(b, str) or a is None or b is None:
            said = f"{a if a is not None else 'not said'} against {b if b is not None else 'not said'}"
            rows.append((f"{name}: {said}", _number(a), _number(b), float("nan"), "not known", 0.5))
            continue
        effect = f"{more if b > a else less} ({_USUAL})"
        rows.append((name, float(a), float(b), float(b - a), effect, abs(b - a) / much))
    return rows


def _number(value: object) -> float:
    return float(value) if isinstance(value, int | float) else float("nan")


def _hardness(one: Recipe, other: Recipe, models: Models) -> Row | None:
    if "hardness" not in models:
        return None
    told = [
        models["hardness"]({n: each / 100 for n, each in recipe.percent().items()}) for recipe in (one, other)
    ]
    if any(each is None for each in told):
        return ("hardness", np.nan, np.nan, np.nan, "your own map does not reach these recipes")
    (a, a_sd), (b, b_sd) = told
    sd = float(np.hypot(a_sd, b_sd))
    sure = "" if abs(b - a) > 1.645 * sd else "; within what is not known"
    said = "harder" if b > a else "softer"
    return ("hardness, words", a, b, b - a, f"{abs(b - a):.1f} words {said} ± {sd:.1f} by your own map{sure}")


def _colour(one: Recipe, other: Recipe, models: Models) -> Row | None:
    if "colour" not in models:
        return None
    first, second = (np.asarray(models["colour"](recipe.loads()), dtype=float) for recipe in (one, other))
    away = float(delta_e00(first, second))
    leans = [
        words[0] if value > 0 else words[1]
        for value, words in zip(second - first, _LEANS, strict=True)
        if abs(value) > _SEEN
    ]
    lean = ", ".join(leans)
    return ("colour, ΔE00", 0.0, away, away, f"{lean or 'hardly another shade'} by your own forecast")
