"""Where a recipe came from: the line from the first trial to the one that is published."""

from collections.abc import Iterable
from itertools import pairwise

import pandas as pd

from labkit.recipe.comparison import compare
from labkit.recipe.recipe import Recipe

CHANGES = 3
"""How many changes of a step are told."""


def ancestors(recipe: Recipe, known: Iterable[Recipe]) -> tuple[list[Recipe], str]:
    """Return the line of descent, the oldest first and the recipe last, and the version that is missing.

    A recipe names the version that it came from in what is hashed, so the line has no circle.

    Parameters
    ----------
    recipe : Recipe
    known : iterable of Recipe
        Where its ancestors are looked for, in any order.

    Returns
    -------
    (list of Recipe, str)
        "" where the line begins with a first recipe.

    Examples
    --------
    >>> first = Recipe.from_percent("first", {"castor oil": 80, "beeswax": 20})
    >>> second = first.changed("second", percent={"beeswax": 22}, rest="castor oil")
    >>> third = second.changed("third", process={"pour_c": 68})
    >>> line, missing = ancestors(third, [second, first])
    >>> [each.name for each in line], missing
    (['first', 'second', 'third'], '')
    """
    by_version = {each.version: each for each in known}
    line = [recipe]
    while line[0].came_from in by_version:
        line.insert(0, by_version[line[0].came_from])
    return line, line[0].came_from


def descent_table(recipe: Recipe, known: Iterable[Recipe]) -> pd.DataFrame:
    """Return the line of descent, a row a recipe: name, version, came_from, changed (in words).

    Examples
    --------
    >>> first = Recipe.from_percent("first", {"castor oil": 80, "beeswax": 20})
    >>> second = first.changed("second", percent={"beeswax": 22}, rest="castor oil")
    >>> descent_table(second, [first])["changed"].tolist()
    ['the first', 'wax to oil 0.25 to 0.282, castor oil, % 80 to 78, beeswax, % 20 to 22']
    """
    line, missing = ancestors(recipe, known)
    begin = f"came from {missing[:12]}, which is not here" if missing else "the first"
    told = [begin, *(_told(older, newer) for older, newer in pairwise(line))]
    rows = [(each.name, each.version, each.came_from, what) for each, what in zip(line, told, strict=True)]
    return pd.DataFrame(rows, columns=["name", "version", "came_from", "changed"])


def _told(older: Recipe, newer: Recipe) -> str:
    rows = compare(older, newer).head(CHANGES).itertuples(index=False)
    said = [
        str(what) if a != a or b != b else f"{what} {a:.3g} to {b:.3g}"  # nan: told in the name
        for what, a, b, *_ in rows
    ]
    return ", ".join(said) or ("another name" if older.name != newer.name else "nothing")
