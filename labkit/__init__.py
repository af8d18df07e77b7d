"""labkit: a lab notebook for a small-batch maker of lip colour."""

from typing import TYPE_CHECKING

from labkit.lazy import load_when_asked

__version__ = "0.1.0"

if TYPE_CHECKING:
    from labkit.batch import open_batch, start_batch
    from labkit.book import TrialBook
    from labkit.kitchen import BatchPanel, StreakPanel
    from labkit.recipe import Recipe
    from labkit.shade import ShadePanel, find_shade, open_shade, start_shade
    from labkit.streak import open_streak, start_streak
    from labkit.texture import (
        HardnessModel,
        Region,
        TexturePanel,
        next_pour,
        open_trial,
        plan_pours,
        start_trial,
    )

_HOMES = {
    "BatchPanel": "kitchen",
    "HardnessModel": "texture",
    "Recipe": "recipe",
    "Region": "texture",
    "ShadePanel": "shade",
    "StreakPanel": "kitchen",
    "TexturePanel": "texture",
    "TrialBook": "book",
    "find_shade": "shade",
    "next_pour": "texture",
    "open_batch": "batch",
    "open_shade": "shade",
    "open_streak": "streak",
    "open_trial": "texture",
    "plan_pours": "texture",
    "start_batch": "batch",
    "start_shade": "shade",
    "start_streak": "streak",
    "start_trial": "texture",
}

__all__ = [
    "BatchPanel",
    "HardnessModel",
    "Recipe",
    "Region",
    "ShadePanel",
    "StreakPanel",
    "TexturePanel",
    "TrialBook",
    "__version__",
    "find_shade",
    "next_pour",
    "open_batch",
    "open_shade",
    "open_streak",
    "open_trial",
    "plan_pours",
    "start_batch",
    "start_shade",
    "start_streak",
    "start_trial",
]

__getattr__ = load_when_asked(__name__, _HOMES)


def __dir__() -> list[str]:
    return __all__
