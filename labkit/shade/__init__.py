"""Shade: from pigment load to colour and coverage on a lip, and back."""

from typing import TYPE_CHECKING

from labkit.lazy import load_when_asked

if TYPE_CHECKING:
    from labkit.colour.cie import WAVELENGTHS
    from labkit.shade.calibration import calibrate, what_was_learned
    from labkit.shade.demo import open_shade
    from labkit.shade.film_colour import predict
    from labkit.shade.film_weight import weighed_film
    from labkit.shade.load_sweep import contrast_ratio, sweep
    from labkit.shade.many import predict_many
    from labkit.shade.medium import Medium
    from labkit.shade.panel import ShadePanel
    from labkit.shade.pigments import Pigments, default_pigments, sources
    from labkit.shade.story import (
        coverage_figure,
        path_figure,
        repeats_figure,
        strips_figure,
        summary,
        swatches_table,
        tell,
        tell_swatches,
        told_figure,
    )
    from labkit.shade.trial import ShadeTrial, start_shade
    from labkit.shade.wanted import find_shade
    from labkit.shade.weighing import weighing_effect

_HOMES = {
    "Medium": "medium",
    "Pigments": "pigments",
    "ShadePanel": "panel",
    "ShadeTrial": "trial",
    "WAVELENGTHS": "labkit.colour.cie",
    "calibrate": "calibration",
    "contrast_ratio": "load_sweep",
    "coverage_figure": "story",
    "default_pigments": "pigments",
    "find_shade": "wanted",
    "open_shade": "demo",
    "path_figure": "story",
    "predict": "film_colour",
    "predict_many": "many",
    "repeats_figure": "story",
    "sources": "pigments",
    "start_shade": "trial",
    "strips_figure": "story",
    "summary": "story",
    "swatches_table": "story",
    "sweep": "load_sweep",
    "tell": "story",
    "tell_swatches": "story",
    "told_figure": "story",
    "weighed_film": "film_weight",
    "weighing_effect": "weighing",
    "what_was_learned": "calibration",
}

__all__ = [
    "WAVELENGTHS",
    "Medium",
    "Pigments",
    "ShadePanel",
    "ShadeTrial",
    "calibrate",
    "contrast_ratio",
    "coverage_figure",
    "default_pigments",
    "find_shade",
    "open_shade",
    "path_figure",
    "predict",
    "predict_many",
    "repeats_figure",
    "sources",
    "start_shade",
    "strips_figure",
    "summary",
    "swatches_table",
    "sweep",
    "tell",
    "tell_swatches",
    "told_figure",
    "weighed_film",
    "weighing_effect",
    "what_was_learned",
]

__getattr__ = load_when_asked(__name__, _HOMES)


def __dir__() -> list[str]:
    return __all__
