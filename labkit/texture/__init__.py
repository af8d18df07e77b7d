"""Hardness against composition: ask, plan, pour, feel, see the map, pour next."""

from typing import TYPE_CHECKING

from labkit.lazy import load_when_asked

if TYPE_CHECKING:
    from labkit.texture.advice import next_pour
    from labkit.texture.begin import start_trial
    from labkit.texture.demo import open_trial
    from labkit.texture.earlier import Earlier, alikeness
    from labkit.texture.hardness import HardnessModel
    from labkit.texture.kept_forecasts import forecasts
    from labkit.texture.panel import TexturePanel
    from labkit.texture.penetration import Instrument
    from labkit.texture.plan import plan_pours
    from labkit.texture.region import Region
    from labkit.texture.rules import RegionError
    from labkit.texture.set_fit import fit_setting
    from labkit.texture.shares import rescale
    from labkit.texture.stock import Stock
    from labkit.texture.story import (
        earlier_figure,
        map_figure,
        next_table,
        notes_table,
        pours_table,
        summary,
        tell,
        vary_figure,
        vary_words,
        words_figure,
    )
    from labkit.texture.trial import TextureTrial
    from labkit.texture.triangle import region_figure
    from labkit.variation import spread

_HOMES = {
    "Earlier": "earlier",
    "HardnessModel": "hardness",
    "Instrument": "penetration",
    "Region": "region",
    "RegionError": "rules",
    "Stock": "stock",
    "TexturePanel": "panel",
    "TextureTrial": "trial",
    "alikeness": "earlier",
    "earlier_figure": "story",
    "fit_setting": "set_fit",
    "forecasts": "kept_forecasts",
    "map_figure": "story",
    "next_pour": "advice",
    "next_table": "story",
    "notes_table": "story",
    "open_trial": "demo",
    "plan_pours": "plan",
    "pours_table": "story",
    "region_figure": "triangle",
    "rescale": "shares",
    "spread": "labkit.variation",
    "start_trial": "begin",
    "summary": "story",
    "tell": "story",
    "vary_figure": "story",
    "vary_words": "story",
    "words_figure": "story",
}

__all__ = [
    "Earlier",
    "HardnessModel",
    "Instrument",
    "Region",
    "RegionError",
    "Stock",
    "TexturePanel",
    "TextureTrial",
    "alikeness",
    "earlier_figure",
    "fit_setting",
    "forecasts",
    "map_figure",
    "next_pour",
    "next_table",
    "notes_table",
    "open_trial",
    "plan_pours",
    "pours_table",
    "region_figure",
    "rescale",
    "spread",
    "start_trial",
    "summary",
    "tell",
    "vary_figure",
    "vary_words",
    "words_figure",
]

__getattr__ = load_when_asked(__name__, _HOMES)


def __dir__() -> list[str]:
    return __all__
