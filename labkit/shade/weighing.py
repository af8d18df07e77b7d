"""What a scale's step or a spoon does to the colour of a batch."""

from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd

from labkit.colour.cie import delta_e00
from labkit.errors import LabError
from labkit.shade.backing import reflectance_of
from labkit.shade.many import predict_many
from labkit.shade.medium import Medium
from labkit.shade.mixture import read_blend
from labkit.shade.pigments import Pigments

SPOON_SD = 0.4
"""Relative standard deviation of a spoon of pigment: the middle of 30 to 50 % (common practice, no source).

USP <616> says why: the slightest disturbance changes the bulk density of a powder.
"""
SCALES_G = (0.1, 0.01)
"""Steps of the scales that a maker mostly has [g]."""
_DRAWS = 1000
_HIGH = 90


def weighing_effect(
    blend: Mapping[str, float],
    batch_g: float,
    step_g: float = 0.01,
    spoon_sd: float | None = None,
    film_um: float = 10.0,
    backing: Any = "lip",
    pigments: Pigments | None = None,
    medium: Medium | None = None,
    seed: int = 0,
) -> pd.DataFrame:
    """Return how far the colour of a batch strays when its pigments are weighed, or measured with a spoon.

    Each pigment is measured once, on its own. A scale errs by its rounding, even within ± half a step, and by
    its repeatability, normal with a standard deviation of one step (common practice, no source; the scale's
    sheet says better). A spoon errs by a log-normal factor with mean 1. The base counts as exact, and the
    forecast's own uncertainty is not in it.

    Parameters
    ----------
    blend
        Mass % of the finished product by pigment.
    batch_g
        Grams of the finished product.
    step_g
        Step of the maker's scale [g]; scales of 0.1 and 0.01 g are shown beside it.
    spoon_sd
        Relative standard deviation of a spoon, 0 to 2; `SPOON_SD` where None. Ten level scoops that were
        weighed say better.
    film_um, backing, pigments, medium
        As `labkit.shade.predict` takes them.
    seed
        Of the draws.

    Returns
    -------
    DataFrame
        A row for each way, from the coarsest scale on, the spoon last: way; step_g (NaN for the spoon);
        delta_e00_median and delta_e00_90, the colour difference from the blend as it is written that half,
        and nine in ten, of the batches stay below; matters_most, the pigment whose own error moves the colour
        most, and matters_90, the difference that it makes alone.

    Raises
    ------
    LabError
        As `labkit.shade.predict` does; where there is no pigment; for a batch, step or spoon that cannot be.

    >>> told = weighing_effect({"titanium dioxide": 4, "red iron oxide": 2}, batch_g=20)
    >>> told["way"].tolist()
    ['a scale of 0.1 g', 'a scale of 0.01 g', 'a spoon']
    """
    names, loads = read_blend(blend)
    if not loads.sum() > 0:
        raise LabError("There is no pigment in the blend: give at least one of them more than 0.")
    batch = _read(batch_g, "the batch", "g", 1e6)
    grams = loads / 100 * batch
    steps = sorted({_read(step_g, "your scale's step", "g", 10), *SCALES_G}, reverse=True)
    spoon = SPOON_SD if spoon_sd is None else _read(spoon_sd, "the spoon's relative deviation", "", 2)
    ways = _ways(grams, steps, spoon, np.random.default_rng(seed))
    strayed = np.array([_alone_and_together(grams, way) for way in ways])
    measured = np.concatenate([grams[None], strayed.reshape(-1, len(names))])
    lab = predict_many(
        _loads(measured, batch - grams.sum()), names, film_um, reflectance_of(backing), pigments, medium
    )
    far = np.asarray(delta_e00(lab[1:], np.broadcast_to(lab[0], lab[1:].shape)))
    return _table(far.reshape(strayed.shape[:-1]), steps, names)


def _ways(grams: np.ndarray, steps: list[float], spoon: float, rng: np.random.Generator) -> list[np.ndarray]:
    """Return what was weighed with each scale, and last with the spoon [g], each of shape (draws, p)."""
    normal = rng.standard_normal((_DRAWS, len(grams)))
    off = normal + rng.uniform(-0.5, 0.5, normal.shape)
    return [*(np.maximum(grams + step * off, 0) for step in steps), grams * _spoonful(spoon, normal)]


def _spoonful(sd: float, normal: np.ndarray) -> np.ndarray:
    """Return log-normal factors with mean 1 and a standard deviation."""
    variance = np.log1p(sd**2)
    return np.asarray(np.exp(np.sqrt(variance) * normal - variance / 2))


def _alone_and_together(grams: np.ndarray, way: np.ndarray) -> np.ndarray:
    """Return what was weighed where one pigment errs, for each, and last where all do: (p + 1, draws, p)."""
    alone = np.where(np.eye(len(grams), dtype=bool)[:, None], way, grams)
    return np.concatenate([alone, way[None]])


def _loads(grams: np.ndarray, base: float) -> np.ndarray:
    return 100 * grams / np.maximum(grams.sum(-1, keepdims=True) + base, 1e-12)


def _table(far: np.ndarray, steps: list[float], names: list[str]) -> pd.DataFrame:
    """Return the table from ΔE00 of shape (ways, p + 1, draws)."""
    median, high = np.median(far[:, -1], -1), np.percentile(far, _HIGH, axis=-1)
    most = high[:, :-1].argmax(1)
    return pd.DataFrame(
        {
            "way": [*(f"a scale of {step:g} g" for step in steps), "a spoon"],
            "step_g": [*steps, np.nan],
            "delta_e00_median": median,
            f"delta_e00_{_HIGH}": high[:, -1],
            "matters_most": [names[each] for each in most],
            f"matters_{_HIGH}": high[np.arange(len(most)), most],
        }
    )


def _read(value: Any, what: str, unit: str, most: float) -> float:
    try:
        number = float(value)
    except (TypeError, ValueError):
        raise LabError(f"{what}: {value!r} is no number.") from None
    if not 0 < number <= most:
        raise LabError(f"{what}: {number:g} {unit} cannot be; give more than 0, and at most {most:g}.")
    return number
