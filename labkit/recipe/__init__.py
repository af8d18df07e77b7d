"""A recipe that a stranger can remake: scale it, weigh it out, compare it, cost it."""

from typing import TYPE_CHECKING

from labkit.lazy import load_when_asked

if TYPE_CHECKING:
    from labkit.recipe.batch_size import SmallestBatch, smallest_batch
    from labkit.recipe.comparison import compare, likely_causes
    from labkit.recipe.cost import Cost, Lot, cost_of
    from labkit.recipe.demo import open_recipe
    from labkit.recipe.descent import ancestors, descent_table
    from labkit.recipe.dispersion import Dispersion, in_parts, taken_apart, with_dispersion
    from labkit.recipe.filling import density_of, fills, to_make
    from labkit.recipe.panel import RecipePanel
    from labkit.recipe.premix import Mended, dispersion_for
    from labkit.recipe.publish import write_card
    from labkit.recipe.recipe import Recipe
    from labkit.recipe.scales import on_scales
    from labkit.recipe.spoon import Spoon
    from labkit.recipe.story import (
        becomes_table,
        permit_table,
        recipe_summary,
        tell_card,
        tell_recipe,
        weighing_table,
    )
    from labkit.recipe.weighed_out import WeighingError, weigh_out, weighing_error
    from labkit.recipe.weighing import Scale
    from labkit.recipe.written import WrittenRecipe

_HOMES = {
    "Cost": "cost",
    "Dispersion": "dispersion",
    "Lot": "cost",
    "Mended": "premix",
    "Recipe": "recipe",
    "RecipePanel": "panel",
    "Scale": "weighing",
    "SmallestBatch": "batch_size",
    "Spoon": "spoon",
    "WeighingError": "weighed_out",
    "WrittenRecipe": "written",
    "ancestors": "descent",
    "becomes_table": "story",
    "compare": "comparison",
    "cost_of": "cost",
    "density_of": "filling",
    "descent_table": "descent",
    "dispersion_for": "premix",
    "fills": "filling",
    "in_parts": "dispersion",
    "likely_causes": "comparison",
    "on_scales": "scales",
    "open_recipe": "demo",
    "permit_table": "story",
    "recipe_summary": "story",
    "smallest_batch": "batch_size",
    "taken_apart": "dispersion",
    "tell_card": "story",
    "tell_recipe": "story",
    "to_make": "filling",
    "weigh_out": "weighed_out",
    "weighing_error": "weighed_out",
    "weighing_table": "story",
    "with_dispersion": "dispersion",
    "write_card": "publish",
}

__all__ = [
    "Cost",
    "Dispersion",
    "Lot",
    "Mended",
    "Recipe",
    "RecipePanel",
    "Scale",
    "SmallestBatch",
    "Spoon",
    "WeighingError",
    "WrittenRecipe",
    "ancestors",
    "becomes_table",
    "compare",
    "cost_of",
    "density_of",
    "descent_table",
    "dispersion_for",
    "fills",
    "in_parts",
    "likely_causes",
    "on_scales",
    "open_recipe",
    "permit_table",
    "recipe_summary",
    "smallest_batch",
    "taken_apart",
    "tell_card",
    "tell_recipe",
    "to_make",
    "weigh_out",
    "weighing_error",
    "weighing_table",
    "with_dispersion",
    "write_card",
]

__getattr__ = load_when_asked(__name__, _HOMES)


def __dir__() -> list[str]:
    return __all__
