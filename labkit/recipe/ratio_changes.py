"""Ratios that matter, of two recipes: wax to oil, butter to oil, the load, and the pigments among them."""

from labkit.recipe.groups import BASE_GROUPS, called
from labkit.recipe.lines import NOT_KNOWN, group_in
from labkit.recipe.recipe import Recipe
from labkit.recipe.told import LEAST, USUAL, Told

MUCH_OF_A_RATIO = 0.1
MUCH_LOAD_PERCENT = 2.0
MUCH_OF_THE_BLEND = 0.05
"""What is noticed (judgements): a tenth of a ratio, so much load, so much of the pigments."""
_RATIOS = (
    ("wax", "oil", "harder", "softer"),
    ("butter", "oil", "firmer, melts on the lip", "softer, more slip"),
)


def ratio_changes(one: Recipe, other: Recipe) -> list[Told]:
    """Return which ratios differ."""
    rows = []
    first, second = _groups(one), _groups(other)
    for top, bottom, more, less in _RATIOS:
        if min(first[bottom], second[bottom]) > 0.0 and first[top] + second[top] > 0.0:
            a, b = first[top] / first[bottom], second[top] / second[bottom]
            size = abs(b - a) / (MUCH_OF_A_RATIO * max(a, b))
            rows.append(Told(f"{top} to {bottom}", a, b, b - a, f"{more if b > a else less} ({USUAL})", size))
    a, b = first["pigment"], second["pigment"]
    said = "fuller, a little stiffer" if b > a else "sheerer, a little softer"
    size = abs(b - a) / MUCH_LOAD_PERCENT
    rows.append(Told("load of pigment, %", a, b, b - a, f"{said} ({USUAL})", size))
    return [each for each in [*rows, *_blends(one, other)] if abs(each.change) > LEAST]


def _blends(one: Recipe, other: Recipe) -> list[Told]:
    first, second = _blend(one), _blend(other)
    if not (first and second):
        return []
    rows = []
    for name in dict.fromkeys([*first, *second]):
        a, b = first.get(name, 0.0), second.get(name, 0.0)
        effect = f"the shade leans {'to' if b > a else 'away from'} {name} ({USUAL})"
        rows.append(Told(f"{name} among the pigments", a, b, b - a, effect, abs(b - a) / MUCH_OF_THE_BLEND))
    return rows


def _blend(recipe: Recipe) -> dict[str, float]:
    pigments = {called(n): each for n, each in recipe.percent().items() if group_in(recipe, n) == "pigment"}
    total = sum(pigments.values())
    return {name: each / total for name, each in pigments.items()}


def _groups(recipe: Recipe) -> dict[str, float]:
    found = dict.fromkeys((*BASE_GROUPS, "pigment", "other", NOT_KNOWN), 0.0)
    for name, each in recipe.percent().items():
        found[group_in(recipe, name)] += each
    return found
