"""The invented recipes that show what a card looks like; they never stand in a maker's own book."""

from labkit.book.example import open_or_example
from labkit.recipe.written import WrittenRecipe


def open_recipe(name: str | None = None) -> WrittenRecipe:
    """Return a recipe of this lab's book, by default the newest.

    Where the book has none yet, the invented example is returned and said to be that. Raises `LabError` where
    there is no recipe of this name.
    """
    return open_or_example(WrittenRecipe, name, "recipe")
