"""Lines that differ between two recipes: more, less, or another material in one's place."""

from collections.abc import Mapping

from labkit.errors import LabError
from labkit.materials import find_material
from labkit.materials.likely_change import likely_changes
from labkit.materials.nearness import difference
from labkit.recipe.groups import BASE_GROUPS, called
from labkit.recipe.lines import NOT_KNOWN, group_in
from labkit.recipe.recipe import Recipe
from labkit.recipe.told import LEAST, USUAL, Told

MUCH_PERCENT = 2.0
"""So much of the product is noticed (a judgement)."""
_EFFECTS = {
    "wax": ("harder", "softer"),
    "oil": ("softer, more slip", "harder, more drag"),
    "butter": ("softer than wax, firmer than oil", "less body"),
    "pigment": ("fuller colour, a little stiffer", "sheerer, a little softer"),
}
_TABLE = "figures of the materials table"


def line_changes(one: Recipe, other: Recipe) -> list[Told]:
    """Return what differs line by line, an exchange of one material for another told as one."""
    first, second = percents(one), percents(other)
    groups = {called(name): group_in(each, name) for each in (one, other) for name in each.weighed_g}
    swapped = _exchanges(first, second, groups)
    gone = {name for pair in swapped for name in pair}
    rows = [_exchange(old, new, first[old], second[new], groups[old]) for old, new in swapped]
    for name in dict.fromkeys([*first, *second]):
        a, b = first.get(name, 0.0), second.get(name, 0.0)
        if name not in gone and abs(b - a) > LEAST:
            effect = _effect(groups[name], a, b)
            rows.append(Told(f"{name}, %", a, b, b - a, effect, abs(b - a) / MUCH_PERCENT))
    return rows


def percents(recipe: Recipe) -> dict[str, float]:
    """Return % of the product by the name that each material is recorded under."""
    return {called(name): each for name, each in recipe.percent().items()}


def _effect(group: str, a: float, b: float) -> str:
    new = "new here; " if a == 0 else "gone here; " if b == 0 else ""
    more, less = _EFFECTS.get(group, (NOT_KNOWN, NOT_KNOWN))
    return f"{new}{more if b > a else less} ({USUAL})"


def _exchanges(
    first: Mapping[str, float], second: Mapping[str, float], groups: Mapping[str, str]
) -> list[tuple[str, str]]:
    """Return pairs of a material that is gone and a new one of its group, the nearest in amount together."""
    gone = [name for name in first if name not in second]
    new = [name for name in second if name not in first]
    alike = [(a, b) for a in gone for b in new if groups[a] == groups[b] and groups[a] in BASE_GROUPS]
    pairs = sorted(alike, key=lambda pair: abs(first[pair[0]] - second[pair[1]]))
    found: list[tuple[str, str]] = []
    for pair in pairs:
        if not any(name in each for each in found for name in pair):
            found.append(pair)
    return found


def _exchange(old: str, new: str, a: float, b: float, group: str) -> Told:
    what = f"{new} in place of {old}, %"
    amount = "" if abs(b - a) <= LEAST else f"; {_effect(group, a, b)}"
    try:
        materials = find_material(old), find_material(new)
    except LabError:
        effect = f"{NOT_KNOWN}: one of the two is in no table{amount}"
        return Told(what, a, b, b - a, effect, max(a, b) / MUCH_PERCENT)
    changes = likely_changes(*materials)
    said = "; ".join(changes) or "nothing that the figures show"
    apart = min(difference(*materials).noticeable, 1.0)
    size = min(a, b) / MUCH_PERCENT * apart + abs(b - a) / MUCH_PERCENT
    return Told(what, a, b, b - a, f"{said} ({_TABLE}){amount}", size)
