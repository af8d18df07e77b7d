"""Hardness against composition: ask, plan, pour, feel, see the map, pour next."""

from typing import TYPE_CHECKING

from labkit.lazy import load_when_asked

if TYPE_CHECKING:
    from labkit.texture.advice import next_pour
    from labkit.texture.begin import start_trial
    from labkit.texture.demo import open_trial
    from labkit.texture.hardness import HardnessModel
    from labkit.texture.panel import TexturePanel
    from labkit.texture.plan import plan_pours
    from labkit.texture.region import Region
    from labkit.texture.rules import RegionError
    from labkit.texture.shares import rescale
    from labkit.texture.story import (
        map_figure,
        next_table,
        notes_table,
        pours_table,
        summary,
        tell,
        words_figure,
    )
    from labkit.texture.trial import TextureTrial

_HOMES = {
    "HardnessModel": "hardness",
    "Region": "region",
    "RegionError": "rules",
    "TexturePanel": "panel",
    "TextureTrial": "trial",
    "next_pour": "advice",
    "next_table": "story",
    "notes_table": "story",
    "pours_table": "story",
    "region_figure": "triangle",
    "map_figure": "story",
    "open_trial": "demo",
    "plan_pours": "plan",
    "rescale": "shares",
    "start_trial": "begin",
    "summary": "story",
    "tell": "story",
    "words_figure": "story",
}

__all__ = [
    "HardnessModel",
    "Region",
    "RegionError",
    "TexturePanel",
    "TextureTrial",
    "map_figure",
    "next_pour",
    "next_table",
    "notes_table",
    "open_trial",
    "plan_pours",
    "pours_table",
    "region_figure",
    "rescale",
    "start_trial",
    "summary",
    "tell",
    "words_figure",
]

__getattr__ = load_when_asked(__name__, _HOMES)


def __dir__() -> list[str]:
    return __all__
