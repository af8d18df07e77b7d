"""What every part of the recipe panel works with."""

from labkit.recipe.written import WrittenRecipe
from labkit.ui.desk import Desk as PanelDesk


class Desk(PanelDesk):
    """Where a part's form stands, with the recipe as it stands."""

    room = "recipe"

    def trial(self, entry: str) -> WrittenRecipe:
        """Return the recipe as it stands, by its entry."""
        return WrittenRecipe(self.book, entry)
