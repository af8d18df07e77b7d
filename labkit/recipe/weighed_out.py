"""Weighing a batch out: what each line becomes on the scale or by the spoon, and what its error does."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from labkit.colour.cie import delta_e00
from labkit.errors import LabError, did_you_mean
from labkit.recipe.dispersion import Dispersion, taken_apart, with_dispersion
from labkit.recipe.groups import BASE_GROUPS, same_material
from labkit.recipe.recipe import Recipe
from labkit.recipe.weighing import Scale, Spoon

Colour = Callable[[Mapping[str, float]], Sequence[float]]
"""From the load of each pigment [% of the product] to CIELAB, L*, a*, b*."""
Lines = Mapping[str, float]


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
        Root mean square ΔE00 of the forecast colour; nan without a colour.
    worst : str
        The line whose error does most to the colour, else to the load and the wax.
    """

    wax_share: float
    wax_share_sd: float
    load_percent: float
    load_sd: float
    blend: dict[str, tuple[float, float]]
    percent_sd: dict[str, float]
    delta_e00: float
    worst: str


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
        Materials that are measured by the level teaspoon, or by a `Spoon`.
    colour : callable, optional
        From the load of each pigment to CIELAB.
    repeat_sd_g : float [g]
        Standard deviation of a repeated reading, beside the step.
    dispersions : mapping of str to Dispersion, optional
        By the material that comes from it.

    Returns
    -------
    DataFrame
        material, wanted_g, grams (as the scale or the spoon can show), sd_g, relative_sd_percent, how
        ("scale", or the number of spoons), wax_share_sd and load_sd (what this line's error alone moves, in
        percentage points), delta_e00 (what it moves the colour by; nan without one).

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
    lines = _lines(recipe, batch_g, dispersions or {})
    measured = _measured(lines, Scale(scale_step_g, repeat_sd_g), spoons)
    effects = _effects(recipe, lines, measured, tuple((dispersions or {}).values()), colour)
    rows = [
        (name, wanted, grams, sd, 100.0 * sd / wanted, how, *effects[name])
        for name, wanted in lines.items()
        for grams, sd, how in [measured[name]]
    ]
    columns = [
        "material", "wanted_g", "grams", "sd_g", "relative_sd_percent", "how", "wax_share_sd", "load_sd",
        "delta_e00",
    ]  # fmt: skip
    return pd.DataFrame(rows, columns=columns)


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

    First-order propagation of independent errors (JCGM 100:2008, 5.1.2).
    """
    lines = _lines(recipe, batch_g, dispersions or {})
    mixes = tuple((dispersions or {}).values())
    measured = _measured(lines, Scale(scale_step_g, repeat_sd_g), spoons)
    sd = {name: each[1] for name, each in measured.items()}

    def spread(asked: Callable[[Lines], float]) -> float:
        return float(np.sqrt(sum(_moved(asked, lines, name, sd[name]) ** 2 for name in lines)))

    def percent(of: str) -> Callable[[Lines], float]:
        return lambda each: _percent(taken_apart(each, mixes)).get(of, 0.0)

    def part(of: str) -> Callable[[Lines], float]:
        return lambda each: _blend(recipe, taken_apart(each, mixes)).get(of, 0.0)

    whole = taken_apart(lines, mixes)
    effects = _effects(recipe, lines, measured, mixes, colour)
    away = [effects[name][2] for name in lines]
    return WeighingError(
        _wax_share(recipe, whole),
        spread(lambda each: _wax_share(recipe, taken_apart(each, mixes))),
        _load(recipe, whole),
        spread(lambda each: _load(recipe, taken_apart(each, mixes))),
        {name: (each, spread(part(name))) for name, each in _blend(recipe, whole).items()},
        {name: spread(percent(name)) for name in whole},
        float(np.sqrt(np.sum(np.square(away)))) if colour else float("nan"),
        _worst(effects, colour is not None),
    )


def _worst(effects: Mapping[str, tuple[float, float, float]], by_colour: bool) -> str:
    def size(name: str) -> float:
        wax, load, away = effects[name]
        return away if by_colour else float(np.hypot(np.nan_to_num(wax), load))

    return max(effects, key=size)


# ---- lines -----------------------------------------------------------------------


def _lines(recipe: Recipe, batch_g: float, dispersions: Mapping[str, Dispersion]) -> dict[str, float]:
    lines = recipe.grams(batch_g)
    for of, mix in dispersions.items():
        lines = with_dispersion(lines, mix, of)
    return lines


def _measured(
    lines: Lines, scale: Scale, spoons: Sequence[str | Spoon]
) -> dict[str, tuple[float, float, str]]:
    """Return for each line the grams as measured, their sd, and how."""
    by_spoon = {}
    for each in spoons:
        spoon = Spoon(each) if isinstance(each, str) else each
        line = next((name for name in lines if same_material(name, spoon.material)), None)
        if line is None:
            raise LabError(f"“{spoon.material}” is no line to measure. {did_you_mean(spoon.material, lines)}")
        by_spoon[line] = spoon
    return {name: _one(name, grams, lines, scale, by_spoon.get(name)) for name, grams in lines.items()}


def _one(
    name: str, grams: float, lines: Lines, scale: Scale, spoon: Spoon | None
) -> tuple[float, float, str]:
    if spoon is not None:
        count, sd = spoon.measured(grams)
        return count * spoon.one_g()[0], sd, f"{count:g} spoon{'s' * (count != 1)}"
    if grams < scale.step_g:
        enough = sum(lines.values()) * scale.step_g / grams
        raise LabError(
            f"{name}: {grams:.2g} g is less than one step of your scale ({scale.step_g:g} g). Make "
            f"{enough:.3g} g or more, weigh on a finer scale, or weigh it from a pre-mix in oil."
        )
    return scale.shown(grams), scale.sd_g, "scale"


# ---- what is asked of a weighed batch -----------------------------------------------


def _percent(grams: Lines) -> dict[str, float]:
    total = sum(grams.values())
    return {name: 100.0 * each / total for name, each in grams.items()}


def _wax_share(recipe: Recipe, grams: Lines) -> float:
    base = {name: each for name, each in grams.items() if _group(recipe, name) in BASE_GROUPS}
    total = sum(base.values())
    wax = sum(each for name, each in base.items() if _group(recipe, name) == "wax")
    return wax / total if total > 0.0 else float("nan")


def _load(recipe: Recipe, grams: Lines) -> float:
    return sum(each for name, each in _percent(grams).items() if _group(recipe, name) == "pigment")


def _blend(recipe: Recipe, grams: Lines) -> dict[str, float]:
    pigments = {name: each for name, each in grams.items() if _group(recipe, name) == "pigment"}
    total = sum(pigments.values())
    return {name: each / total for name, each in pigments.items()}


def _group(recipe: Recipe, name: str) -> str:
    try:
        return recipe.group(name)
    except LabError:
        return "other"


def _moved(asked: Callable[[Lines], float], lines: Lines, name: str, sd: float) -> float:
    """Return by how much one line's standard deviation moves what is asked."""
    up, down = ({**lines, name: lines[name] + step} for step in (sd / 2.0, -sd / 2.0))
    return asked(up) - asked(down)


def _effects(
    recipe: Recipe,
    lines: Lines,
    measured: Mapping[str, tuple[float, float, str]],
    mixes: Sequence[Dispersion],
    colour: Colour | None,
) -> dict[str, tuple[float, float, float]]:
    """Return what each line's error alone moves: share of wax and load in percentage points, ΔE00."""

    def wax(each: Lines) -> float:
        return 100.0 * _wax_share(recipe, taken_apart(each, mixes))

    def load(each: Lines) -> float:
        return _load(recipe, taken_apart(each, mixes))

    def lab(each: Lines) -> np.ndarray:
        percents = _percent(taken_apart(each, mixes))
        assert colour is not None
        loads = {name: part for name, part in percents.items() if _group(recipe, name) == "pigment"}
        return np.asarray(colour(loads), dtype=float)

    found = {}
    for name in lines:
        sd = measured[name][1]
        away = float("nan")
        if colour is not None:
            up, down = ({**lines, name: lines[name] + step} for step in (sd / 2.0, -sd / 2.0))
            away = float(delta_e00(lab(up), lab(down)))
        found[name] = (abs(_moved(wax, lines, name, sd)), abs(_moved(load, lines, name, sd)), away)
    return found
