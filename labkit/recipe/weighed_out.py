"""Weighing a batch out: what each line becomes on the scale or by the spoon, and what its error does."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from labkit.colour.cie import delta_e00
from labkit.recipe.colour_spread import ColourNear
from labkit.recipe.dispersion import Dispersion
from labkit.recipe.drawn import Drawn, blend_of, draw, load_of, percent_of, wax_share_of
from labkit.recipe.handed import Colour
from labkit.recipe.lines import NOT_KNOWN, Batch, batch_of
from labkit.recipe.recipe import Recipe
from labkit.recipe.spoon import Spoon
from labkit.recipe.weighing import Scale


@dataclass(frozen=True)
class WeighingError:
    """How far a batch may be off its recipe by weighing alone; standard deviations.

    Attributes
    ----------
    wax_share, wax_share_sd : float
        Share of wax among butter, oil and wax; nan without any of them.
    load_percent, load_sd : float [% of the product]
    blend : dict of str to (float, float)
        Part of each pigment among the pigments, and its sd.
    percent_sd : dict of str to float [% of the product]
    delta_e00 : float
        Root mean square ΔE00 of the forecast colour from that of the recipe; nan without a colour.
    worst : str
        The line whose error does most to the colour, else to the load and the wax.
    delta_e00_90 : float
        The ΔE00 that nine in ten batches stay below.
    shown_delta_e00 : float
        ΔE00 of what scale and spoons can show from the recipe: known beforehand, and in none of the above.
    not_counted : tuple of str
        Materials that nobody says the group of: neither in the base nor in the load.
    """

    wax_share: float
    wax_share_sd: float
    load_percent: float
    load_sd: float
    blend: dict[str, tuple[float, float]]
    percent_sd: dict[str, float]
    delta_e00: float
    worst: str
    delta_e00_90: float = float("nan")
    shown_delta_e00: float = float("nan")
    not_counted: tuple[str, ...] = ()


def weigh_out(
    recipe: Recipe,
    batch_g: float,
    scale_step_g: float,
    spoons: Sequence[str | Spoon] = (),
    colour: Colour | None = None,
    *,
    repeat_sd_g: float = 0.0,
    dispersions: Mapping[str, Dispersion] | None = None,
) -> pd.DataFrame:
    """Return what to weigh for a batch, line by line, and how far each line may be off.

    Parameters
    ----------
    recipe : Recipe
    batch_g : float [g]
    scale_step_g : float [g]
    spoons : sequence of str or Spoon
        Materials that are measured by the level spoon.
    colour : callable, optional
        From the load of each pigment to CIELAB, or to (CIELAB, its sd).
    repeat_sd_g : float [g]
        Standard deviation of a repeated reading, beside the step; by default the step alone counts.
    dispersions : mapping of str to Dispersion, optional
        By the material that comes from it, or by the line of the recipe that is one: its oil counts as oil.

    Returns
    -------
    DataFrame
        material, wanted_g, grams (as the scale or the spoon can show), sd_g, relative_sd_percent, how
        ("scale", or which spoons), wax_share_sd and load_sd (what this line's error alone moves, in
        percentage points), delta_e00 (what it moves the colour by, root mean square; nan without one),
        shown_percent (by how much what can be shown differs from what is wanted: known, not an error).

    Raises
    ------
    LabError
        Where a line is smaller than a step of the scale, or a spoon or a pre-mix is for no line.

    Examples
    --------
    >>> base = Recipe.from_percent("base", {"castor oil": 80, "beeswax": 20})
    >>> weigh_out(base, 50, 0.1)[["material", "grams", "how"]].values.tolist()
    [['castor oil', 40.0, 'scale'], ['beeswax', 10.0, 'scale']]
    """
    batch = batch_of(recipe, batch_g, Scale(scale_step_g, repeat_sd_g), spoons, dispersions)
    drawn = draw(batch)
    wax, load, away = alone_of(batch, drawn, colour)
    return pd.DataFrame(
        {
            "material": [each.name for each in batch.lines],
            "wanted_g": [each.wanted_g for each in batch.lines],
            "grams": [each.grams for each in batch.lines],
            "sd_g": [each.sd_g for each in batch.lines],
            "relative_sd_percent": [100.0 * each.sd_g / each.wanted_g for each in batch.lines],
            "how": [each.how for each in batch.lines],
            "wax_share_sd": wax,
            "load_sd": load,
            "delta_e00": away,
            "shown_percent": [100.0 * (each.grams / each.wanted_g - 1.0) for each in batch.lines],
        }
    )


def weighing_error(
    recipe: Recipe,
    batch_g: float,
    scale_step_g: float,
    spoons: Sequence[str | Spoon] = (),
    colour: Colour | None = None,
    *,
    repeat_sd_g: float = 0.0,
    dispersions: Mapping[str, Dispersion] | None = None,
) -> WeighingError:
    """Return how far a whole batch may be off by weighing; arguments as in `weigh_out`.

    The batch is weighed out `labkit.recipe.drawn.DRAWS` times with independent errors (JCGM 101:2008), for a
    spoon's error is too large for a straight line.
    """
    batch = batch_of(recipe, batch_g, Scale(scale_step_g, repeat_sd_g), spoons, dispersions)
    return error_of(batch, colour)


def error_of(batch: Batch, colour: Colour | None = None) -> WeighingError:
    """Return how far a batch may be off by weighing."""
    drawn = draw(batch)
    near = _near(colour, batch, drawn)
    contents, wanted = drawn.together, drawn.wanted
    pigments = [name for name, at in zip(batch.parts, batch.among("pigment"), strict=True) if at]
    parts = zip(blend_of(wanted, batch).tolist(), blend_of(contents, batch).std(axis=0).tolist(), strict=True)
    percent_sd = percent_of(contents).std(axis=0).tolist()
    away = _away(near, batch, contents) if near else np.array([np.nan])
    return WeighingError(
        wax_share=float(wax_share_of(wanted, batch)),
        wax_share_sd=float(wax_share_of(contents, batch).std()),
        load_percent=float(load_of(wanted, batch)),
        load_sd=float(load_of(contents, batch).std()),
        blend=dict(zip(pigments, parts, strict=True)),
        percent_sd=dict(zip(batch.parts, percent_sd, strict=True)),
        delta_e00=_rms(away),
        worst=_worst(batch, drawn, near),
        delta_e00_90=float(np.percentile(away, 90)),
        shown_delta_e00=float(_away(near, batch, _shown(batch))) if near else float("nan"),
        not_counted=tuple(
            name for name, group in zip(batch.parts, batch.groups, strict=True) if group == NOT_KNOWN
        ),
    )


def _near(colour: Colour | None, batch: Batch, drawn: Drawn) -> ColourNear | None:
    if colour is None:
        return None
    pigments = batch.among("pigment")
    names = [name for name, at in zip(batch.parts, pigments, strict=True) if at]
    shown = np.vstack([percent_of(drawn.together), percent_of(_shown(batch))])
    return ColourNear(colour, names, percent_of(drawn.wanted)[pigments], shown[:, pigments])


def _shown(batch: Batch) -> np.ndarray:
    return np.array([each.grams for each in batch.lines]) @ batch.holds


def _away(near: ColourNear, batch: Batch, contents: np.ndarray) -> np.ndarray:
    """Return ΔE00 from the recipe's colour, shape (...), of contents of shape (..., parts)."""
    lab = near.of(percent_of(contents)[..., batch.among("pigment")])
    return np.asarray(delta_e00(lab, np.broadcast_to(near.lab, lab.shape)))


def _rms(values: np.ndarray) -> float:
    return float(np.sqrt(np.mean(np.square(values))))


def alone_of(batch: Batch, drawn: Drawn, colour: Colour | None) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return what each line moves alone: share of wax and load in percentage points, and ΔE00."""
    return _alone(batch, drawn, _near(colour, batch, drawn))


def _alone(batch: Batch, drawn: Drawn, near: ColourNear | None) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return what each line moves alone: share of wax and load in percentage points, and ΔE00."""
    alone = drawn.alone
    wax, load = 100.0 * wax_share_of(alone, batch).std(axis=1), load_of(alone, batch).std(axis=1)
    if near is None:
        return wax, load, np.full(len(batch.lines), np.nan)
    return wax, load, np.array([_rms(_away(near, batch, each)) for each in alone])


def _worst(batch: Batch, drawn: Drawn, near: ColourNear | None) -> str:
    wax, load, away = _alone(batch, drawn, near)
    sizes = away if near else np.hypot(np.nan_to_num(wax), load)
    return batch.lines[int(np.argmax(sizes))].name
