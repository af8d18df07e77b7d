"""Panels that need what another room knows: it is handed in here, since rooms never import one another."""

from typing import TYPE_CHECKING

from labkit.batch.panel import BatchPanel as BareBatchPanel
from labkit.recipe.panel import RecipePanel as BareRecipePanel
from labkit.streak.panel import StreakPanel as BareStreakPanel

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from labkit.book import TrialBook
    from labkit.recipe.handed import Colour


def full_colour(pigment: str) -> tuple[float, float, float] | None:
    """Return L*a*b* of a pigment so thick that nothing shows through; None where it is not forecast.

    >>> full_colour("red iron oxide")[1] > 10, full_colour("glitter")
    (True, None)
    """
    from labkit.errors import LabError
    from labkit.shade import predict

    try:
        lab = predict({pigment: 30.0}, float("inf"), "white card").lab
    except LabError:
        return None
    return float(lab[0]), float(lab[1]), float(lab[2])


class StreakPanel(BareStreakPanel):
    """The panel of a streak test, which knows the colours of pigments from the shade room."""

    def __init__(self, book: "TrialBook | None" = None, trial: str | None = None) -> None:
        super().__init__(book, trial, full_colour)


class BatchPanel(BareBatchPanel):
    """The panel of a day at the stove, which knows the maker's hardness maps and swatches."""

    def __init__(self, book: "TrialBook | None" = None, trial: str | None = None) -> None:
        from labkit.day import colour_of, hardness_of

        super().__init__(book, trial, hardness_of, colour_of)


class RecipePanel(BareRecipePanel):
    """The panel of a recipe, which forecasts its shade by the maker's swatches."""

    def __init__(self, book: "TrialBook | None" = None, trial: str | None = None) -> None:
        super().__init__(book, trial, recipe_colour)


def recipe_colour(book: "TrialBook") -> "Colour":
    """Return the colour of a thick film by the load of each pigment, as the maker's swatches taught it.

    What is returned raises `LabError` for a pigment without a forecast.
    """
    from labkit.day import colour_of
    from labkit.errors import LabError

    known = colour_of(book)

    def colour(loads: "Mapping[str, float]") -> "Sequence[float]":
        found = known.model(loads) if known.model else None
        if found is None:
            raise LabError("There is a pigment without a forecast in it.")
        return [float(each) for each in found[0]]

    return colour
