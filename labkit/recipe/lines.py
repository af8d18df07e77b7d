"""The lines of a batch as they are weighed or spooned, and what each of them holds."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from labkit.errors import LabError, did_you_mean
from labkit.recipe.dispersion import Dispersion, with_dispersion
from labkit.recipe.groups import called, same_material
from labkit.recipe.recipe import Recipe
from labkit.recipe.spoon import Spoon
from labkit.recipe.weighing import Scale

NOT_KNOWN = "not known"


class Line(NamedTuple):
    """A line: what is wanted, what scale or spoon can show of it, its sd [g], and how it is measured."""

    name: str
    wanted_g: float
    grams: float
    sd_g: float
    how: str

    @property
    def by_spoon(self) -> bool:
        """Whether it is measured by the spoon."""
        return self.how != "scale"


@dataclass(frozen=True, eq=False)
class Batch:
    """A batch that is to be weighed out.

    Attributes
    ----------
    lines : tuple of Line
    parts, groups : tuple of str
        What is in it, pre-mixes counted as what they hold, and what each part counts as.
    holds : ndarray, shape (lines, parts)
        Mass fraction of each part in each line.
    premixes : dict of int to ndarray
        By line: grams of each part that its pre-mix was weighed from, where that is known.
    scale : Scale
    """

    lines: tuple[Line, ...]
    parts: tuple[str, ...]
    groups: tuple[str, ...]
    holds: np.ndarray
    premixes: dict[int, np.ndarray]
    scale: Scale

    @property
    def contents_g(self) -> np.ndarray:
        """Grams of each part as wanted, shape (parts,)."""
        return np.array([each.wanted_g for each in self.lines]) @ self.holds

    def among(self, *groups: str) -> np.ndarray:
        """Return which parts count as one of these, shape (parts,)."""
        return np.array([each in groups for each in self.groups], dtype=bool)


def batch_of(
    recipe: Recipe,
    batch_g: float,
    scale: Scale,
    spoons: Sequence[str | Spoon] = (),
    dispersions: Mapping[str, Dispersion] | None = None,
) -> Batch:
    """Return a batch line by line; arguments as in `labkit.recipe.weigh_out`.

    Raises
    ------
    LabError
        Where a line is smaller than a step of the scale, or a spoon or a pre-mix is for no line.
    """
    grams, mixes = lines_g(recipe, batch_g, dispersions)
    by_spoon = _by_spoon(spoons, grams)
    total = sum(grams.values())
    lines = tuple(_line(name, each, total, scale, by_spoon.get(name)) for name, each in grams.items())
    held = [mixes[name].shares if name in mixes else {name: 1.0} for name in grams]
    labels: dict[str, str] = {}
    for name in [*recipe.weighed_g, *(part for each in held for part in each)]:
        labels.setdefault(called(name), name)
    present = [key for key in labels if any(called(part) == key for each in held for part in each)]
    at = {key: number for number, key in enumerate(present)}
    holds = np.array([_row(each, at) for each in held])
    premixes = {
        number: mixes[name].made_g * holds[number]
        for number, name in enumerate(grams)
        if name in mixes and mixes[name].made_g is not None
    }
    parts = tuple(labels[key] for key in present)
    return Batch(lines, parts, tuple(group_in(recipe, each) for each in parts), holds, premixes, scale)


def _row(held: Mapping[str, float], at: Mapping[str, int]) -> np.ndarray:
    row = np.zeros(len(at))
    for part, share in held.items():
        row[at[called(part)]] += share
    return row


def lines_g(
    recipe: Recipe, batch_g: float | None, dispersions: Mapping[str, Dispersion] | None
) -> tuple[dict[str, float], dict[str, Dispersion]]:
    """Return grams by line once pre-mixes stand in their parts' places, and the pre-mixes by line."""
    lines, mixes = recipe.grams(batch_g), {}
    for of, mix in (dispersions or {}).items():
        line = next((name for name in lines if same_material(name, mix.name)), None)
        if line is None:
            lines, line = with_dispersion(lines, mix, of), mix.name
        mixes[line] = mix
    return lines, mixes


def group_in(recipe: Recipe, name: str) -> str:
    """Return what a part counts as in a recipe; "not known" where nobody says."""
    try:
        return recipe.group(name)
    except LabError:
        return NOT_KNOWN


def _by_spoon(spoons: Sequence[str | Spoon], lines: Mapping[str, float]) -> dict[str, Spoon]:
    found = {}
    for each in [spoons] if isinstance(spoons, str | Spoon) else spoons:
        spoon = Spoon(each) if isinstance(each, str) else each
        line = next((name for name in lines if same_material(name, spoon.material)), None)
        if line is None:
            raise LabError(f"“{spoon.material}” is no line to measure. {did_you_mean(spoon.material, lines)}")
        found[line] = spoon
    return found


def _line(name: str, grams: float, total: float, scale: Scale, spoon: Spoon | None) -> Line:
    if spoon is not None:
        spooned = spoon.measured(grams)
        return Line(name, grams, spooned.grams, spooned.sd_g * grams / spooned.grams, spooned.how)
    if grams < scale.step_g * (1.0 - 1e-9):
        raise LabError(
            f"{name}: {grams:.2g} g is less than one step of your scale ({scale.step_g:g} g). Make "
            f"{total * scale.step_g / grams:.3g} g or more, weigh on a finer scale, or weigh it from a "
            "pre-mix in oil."
        )
    return Line(name, grams, scale.shown(grams), scale.sd_g, "scale")


def least_batch_g(
    recipe: Recipe,
    scale: Scale,
    spoons: Sequence[str | Spoon],
    dispersions: Mapping[str, Dispersion] | None,
) -> tuple[float, str]:
    """Return the smallest batch whose lines can be measured at all [g], and the line that says so."""
    grams, _ = lines_g(recipe, 1.0, dispersions)
    by_spoon = _by_spoon(spoons, grams)
    least = {
        name: (by_spoon[name].least_g if name in by_spoon else scale.step_g) / each
        for name, each in grams.items()
    }
    line = max(least, key=lambda name: least[name])
    return least[line], line
