"""A second question to the same notes: another rung, narrower bounds, or something left out."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from labkit.quantities import in_ten
from labkit.texture.advice import next_pour
from labkit.texture.hardness import HardnessModel, check_model
from labkit.texture.notes import find_rung
from labkit.texture.region import Region, check_region
from labkit.texture.wishes import Wishes, listed, percent

Floats = NDArray[np.float64]

# Judgement without a source.
NEAR = 0.04  # share of the base; farther from every pour is new ground
_RIGHT = 0.8  # of the chance of a composition known to lie amid the rung
_LIKELY = 0.5  # of the weight of the priors
_ALIKE = 0.05  # chance; a smaller difference is not spoken of as one
_SAME = 0.005  # share of the base; closer is the same composition
_SLACK = 1e-9  # share
_ABSENT = 0.01  # share of the base; a part poured at no more than this was left out


@dataclass(frozen=True, eq=False)
class Answer:
    """What the notes say to a second question.

    Attributes
    ----------
    wanted : str
    asked : str
        The question in words.
    region : Region
        The compositions that it allows, in shares of the base.
    shares, product : dict of part to fraction
        What is most likely right: of the base, and of the finished product.
    chance, first_chance : float
        That a pour of it is right; the same for the best answer to the first question.
    nearest : int
        Row of `model.poured` of the nearest pour.
    apart : float
        Largest change of a part from there [share of the base].
    known : bool
        Whether it was poured, or nearly, and is more likely than not about as right as the
        scatter of casts and notes allows.
    pour : DataFrame or None
        As `next_pour`: what to pour while it is not known.
    sentences : tuple of str
        All that in a maker's words, the most important first.
    """

    wanted: str
    asked: str
    region: Region
    shares: dict[str, float]
    product: dict[str, float]
    chance: float
    first_chance: float
    nearest: int
    apart: float
    known: bool
    pour: pd.DataFrame | None
    sentences: tuple[str, ...]


def answer(
    model: HardnessModel,
    region: Region,
    wanted: str,
    *,
    rules: str | Sequence[str] = (),
    without: str | Sequence[str] = (),
    low: Mapping[str, float] | None = None,
    high: Mapping[str, float] | None = None,
    start: object = None,
    product_fraction: float = 1.0,
    first: str | None = None,
    waiting: object = None,
    names: Sequence[str] | None = None,
) -> Answer:
    """Return what the notes of a trial say to another question than the one they were made for.

    Parameters
    ----------
    model : HardnessModel
        Fitted to the trial's notes.
    region : Region
        What the trial allows. `without` opens the low of what is left out, and the highs of
        the others if need be; all else narrows it.
    wanted : str
        The word that is wanted now.
    rules : str or sequence of str
        Linear rules, in fractions of the finished product.
    without : str or sequence of str
        Parts that are left out.
    low, high : mapping of part to fraction of the finished product
    start : mapping, Series or row of shares of the base, optional
        The usual recipe, as for `next_pour`.
    product_fraction : float
        Mass fraction of the finished product that is varied: 1 − what is held constant.
    first : str, optional
        The first question's word, by default the same.
    waiting : DataFrame or array of shares, optional
        Pours that are planned and not felt yet, as for `next_pour`.
    names : sequence of str, optional
        What each row of `model.poured` is called, such as "pour 3".

    Raises
    ------
    RegionError
        What is wished for contradicts itself or the trial: says what is possible, in % of the
        finished product. Its `parts` and `rule` name it.
    LabError
        As `next_pour`; an unknown part, a fraction that is none.

    Examples
    --------
    >>> region = Region({"oil": (0.6, 0.9), "wax": (0.1, 0.4)})
    >>> shares = pd.DataFrame({"oil": [0.8, 0.7], "wax": [0.2, 0.3]})
    >>> model = HardnessModel(["soft", "right", "hard"]).fit(shares, ["soft", "hard"])
    >>> found = answer(model, region, "right", low={"oil": 0.7}, product_fraction=0.9)
    >>> found.asked
    '“right” with at least 70 % oil'
    >>> found.shares["oil"] >= 0.7 / 0.9 - 1e-9
    True
    """
    model, region = check_model(model), check_region(region)
    for word in (wanted, first):
        if word is not None:
            find_rung(word, model.scale, "Wanted")
    wishes = Wishes(region, product_fraction, rules, without, low, high)
    narrowed = wishes.region()
    best = next_pour(model, narrowed, wanted, explore=False, start=start).iloc[0]
    before = next_pour(model, region, first or wanted, explore=False, start=start).iloc[0]
    shares = wishes.cleaned({part: best[part] for part in region.parts})
    gaps = _from_poured(model, shares).max(axis=1)
    nearest, apart = int(gaps.argmin()), float(gaps.min())
    right = float(model.nearly_best(pd.DataFrame([shares]), wanted, _RIGHT)[0])
    known = apart <= NEAR + _SLACK and right > _LIKELY
    pour = None
    if not known:
        pour = next_pour(model, narrowed, wanted, start=start, waiting=waiting)
        pour = pour.assign(**dict.fromkeys(wishes.without, 0.0))
    found = Answer(
        wanted, wishes.words(wanted), narrowed, shares, wishes.product(shares), float(best["chance"]),
        float(before["chance"]), nearest, apart, known, pour, (),
    )  # fmt: skip
    return replace(found, sentences=(*_said(found, model, wishes, names), *wishes.widened()))


def _from_poured(model: HardnessModel, shares: Mapping[str, float]) -> Floats:
    """Return how each part of one composition differs from each pour, shape (pours, parts)."""
    return np.abs(model.poured[list(shares)].to_numpy() - np.array(list(shares.values())))


# ---- the answer in words ---------------------------------------------------------


def _said(found: Answer, model: HardnessModel, wishes: Wishes, names: Sequence[str] | None) -> list[str]:
    best = (
        f"Most likely {found.asked}: {wishes.composition(found.shares)}. "
        f"Chance that a pour of it is: {in_ten(found.chance)}."
    )
    return [best, _compared(found), *_ground(found, model, wishes, names), *_to_pour(found, wishes)]


def _compared(found: Answer) -> str:
    """Return how the chance compares with the first question's."""
    more = found.chance - found.first_chance
    how = "about as likely as" if abs(more) < _ALIKE else "likelier than" if more > 0 else "less likely than"
    return f"That is {how} the best answer to your first question ({in_ten(found.first_chance)})."


def _ground(found: Answer, model: HardnessModel, wishes: Wishes, names: Sequence[str] | None) -> list[str]:
    """Return what the answer rests on: a pour, pours near it, or the map alone."""
    off = _from_poured(model, found.shares)[found.nearest]
    part = list(found.shares)[int(off.argmax())]
    points = f"{percent(wishes.fraction * found.apart).removesuffix(' %')} points of {part}"
    which = "a pour of yours" if names is None else names[found.nearest]
    if found.known and found.apart <= _SAME:
        said = f"You know it already: you poured it{'' if names is None else f' ({which})'}."
    elif found.known:
        said = f"You know it already: {which} differs by no more than {points}."
    elif found.apart <= NEAR + _SLACK:
        said = "You poured it or nearly, and your notes do not say yet that it is right."
    else:
        said = f"This is read off the map, not felt: the nearest pour differs by {points}."
    return [said, *_never_left_out(model, wishes)]


def _never_left_out(model: HardnessModel, wishes: Wishes) -> list[str]:
    """Return which of the parts left out stood in every pour, and what that makes of the chance."""
    least = {part: float(model.poured[part].min()) for part in wishes.without}
    always = [
        f"{percent(wishes.fraction * share)} {part} or more"
        for part, share in least.items()
        if share > _ABSENT
    ]
    if not always:
        return []
    return [
        f"Every pour of yours held {listed(always)}: without, the map only carries on its trend. The chance "
        "counts how unsure that is, and no more; such a recipe may behave as none of your pours could show."
    ]


def _to_pour(found: Answer, wishes: Wishes) -> list[str]:
    if found.pour is None:
        return []
    row = found.pour.iloc[0]
    shares = {part: float(row[part]) for part in found.shares}
    same = max(abs(shares[part] - found.shares[part]) for part in shares) <= _SAME
    what = "that" if same else wishes.composition(shares)
    return [f"To find out, pour {what}: {row['why']}."]
