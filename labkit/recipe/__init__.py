"""A recipe that a stranger can remake: scale it, weigh it out, compare it, cost it."""

from typing import TYPE_CHECKING

from labkit.lazy import load_when_asked

if TYPE_CHECKING:
    from labkit.recipe.batch_size import SmallestBatch, dispersion_for, smallest_batch
    from labkit.recipe.comparison import compare
    from labkit.recipe.cost import Cost, cost_of
    from labkit.recipe.dispersion import Dispersion, taken_apart, with_dispersion
    from labkit.recipe.recipe import Recipe
    from labkit.recipe.scales import on_scales
    from labkit.recipe.weighed_out import WeighingError, weigh_out, weighing_error
    from labkit.recipe.weighing import Scale, Spoon

_HOMES = {
    "Cost": "cost",
    "Dispersion": "dispersion",
    "Recipe": "recipe",
    "Scale": "weighing",
    "SmallestBatch": "batch_size",
    "Spoon": "weighing",
    "WeighingError": "weighed_out",
    "compare": "comparison",
    "cost_of": "cost",
    "dispersion_for": "batch_size",
    "on_scales": "scales",
    "smallest_batch": "batch_size",
    "taken_apart": "dispersion",
    "weigh_out": "weighed_out",
    "weighing_error": "weighed_out",
    "with_dispersion": "dispersion",
}

__all__ = [
    "Cost",
    "Dispersion",
    "Recipe",
    "Scale",
    "SmallestBatch",
    "Spoon",
    "WeighingError",
    "compare",
    "cost_of",
    "dispersion_for",
    "on_scales",
    "smallest_batch",
    "taken_apart",
    "weigh_out",
    "weighing_error",
    "with_dispersion",
]

__getattr__ = load_when_asked(__name__, _HOMES)


def __dir__() -> list[str]:
    return __all__
