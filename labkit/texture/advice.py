"""Which composition to pour next, and which is most likely right as things stand."""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.special import ndtr

from labkit.errors import LabError
from labkit.texture.asked import read_count, read_seed
from labkit.texture.hardness import HardnessModel, check_model
from labkit.texture.notes import find_rung
from labkit.texture.region import Region, check_region
from labkit.texture.shares import check_shares
from labkit.texture.surface import Gaps

Floats = NDArray[np.float64]

_COARSE = 180  # compositions that are weighed against one another
_FINE = 80  # more of them around the best
_SCATTER = 0.015  # share; how far those lie
_SAME = 0.005  # share; closer is the same composition
_FAR = 0.04  # share; farther from every pour is new ground
_ROUNDING = 1.0 / 12.0  # rungs²; a word tells hardness to the rung only
_OWN = 0.1  # weight of being right at once beside what is learned
_REACH = 0.06  # share; how far from what is known the first pours may go
_REACH_GROWS = 0.01  # share per pour
_AS_GOOD = 0.005  # of worth; a repeat this little behind is preferred to something new
_FAIRLY = 0.4  # chance; less is not called right
_REPEATS = 3  # casts after which a composition is known
_APART = 0.03  # share; least distance of several suggestions
_TWICE = 1e-6  # share; what rounding leaves between a composition and itself
_LIKELY = 0.8  # of the highest chance; more is nearly as likely
_RIGHT = 0.9  # of the chance of a composition known to lie in the middle of the rung
_SURE = 0.99  # of the weight of the priors
_LITTLE = 0.03  # chance; a note that raises the best one by less is worth little
_NODES = np.linspace(-3.0, 3.0, 9)  # even: the best of several chances has kinks, where Gauss-Hermite errs
_WEIGHTS = np.exp(-0.5 * _NODES**2) / np.exp(-0.5 * _NODES**2).sum()


def chance_within(mean: Floats, variance: Floats, low: float, high: float) -> Floats:
    """Return the chance that a normal value lies between low and high.

    Examples
    --------
    >>> chance_within(np.array([0.0]), np.array([1.0]), -np.inf, 0.0).tolist()
    [0.5]
    """
    sd = np.sqrt(variance)
    return ndtr((high - mean) / sd) - ndtr((low - mean) / sd)


def chances_now(gaps: Gaps) -> Floats:
    """Return the chance of the wanted word at every site, shape (sites,)."""
    return chance_within(gaps.mean, np.diagonal(gaps.covariance) + gaps.noise, gaps.low, gaps.high)


def expected_gain(gaps: Gaps) -> Floats:
    """Return how much one more note at each site would raise the best chance, on average.

    A note at site i moves every mean by cov(·, i)/√(var i + noise)·z, z standard normal,
    and takes cov(·, i)²/(var i + noise) from every variance; the mean over z is a
    nine-point sum over −3 to 3 (the knowledge gradient of Frazier, Powell and Dayanik
    2009, from memory). A word counts as a reading rounded to the rung.

    Returns
    -------
    ndarray, shape (sites,)
        Expected rise of the highest chance; a little below 0 only by the quadrature's error.
    """
    variance = np.diagonal(gaps.covariance)
    told = gaps.covariance / np.sqrt(variance + gaps.noise + _ROUNDING)[:, None]
    left = np.sqrt(np.maximum(variance - told**2, 0.0) + gaps.noise)
    best = np.zeros(len(variance))
    for node, weight in zip(_NODES, _WEIGHTS, strict=True):
        mean = gaps.mean + node * told
        best += weight * (ndtr((gaps.high - mean) / left) - ndtr((gaps.low - mean) / left)).max(axis=1)
    return best - chances_now(gaps).max()


def after_note(gaps: Gaps, site: int) -> Gaps:
    """Return the gaps as they would be after a note at a site that says what is expected."""
    row = gaps.covariance[site]
    covariance = gaps.covariance - np.outer(row, row) / (row[site] + gaps.noise + _ROUNDING)
    return Gaps(gaps.mean, covariance, gaps.low, gaps.high, gaps.noise)


@dataclass(frozen=True)
class Choice:
    """Compositions to choose from, and what is known of each.

    Attributes
    ----------
    shares : ndarray, shape (sites, parts)
        In the order of the region's parts.
    gaps : Gaps
    chance : ndarray, shape (sites,)
        Of the wanted word.
    casts : int ndarray, shape (sites,)
        How often it was poured.
    from_poured, from_known : ndarray, shape (sites,)
        Largest change of a part from the nearest pour; from the nearest pour or the usual recipe [share].
    sure : ndarray, shape (sites,)
        Weight of the sets of priors under which it is nearly as right as any could be.
    waiting : int ndarray
        Rows that are planned and not felt yet.
    inside : bool ndarray, shape (sites,)
        Whether it may be poured.
    possible : float
        Chance of the wanted word at a composition known to lie amid its rung.
    """

    shares: Floats
    gaps: Gaps
    chance: Floats
    casts: NDArray[np.int_]
    from_poured: Floats
    from_known: Floats
    sure: Floats
    waiting: NDArray[np.intp]
    inside: NDArray[np.bool_]
    possible: float = 1.0


def next_pour(
    model: HardnessModel,
    region: Region,
    wanted: str,
    pours: int = 1,
    explore: bool = True,
    start: object = None,
    seed: int = 0,
    *,
    waiting: object = None,
    load: object = None,
) -> pd.DataFrame:
    """Return what to pour next to get the wanted word.

    Each composition is worth the expected gain in the best chance that one more note there
    would bring (see `expected_gain`), plus a tenth of its own chance of being right. The first
    pours stay within reach of what was poured and of the usual recipe.

    It says that one can stop where a composition was poured three times or more, is nearly as
    right as the scatter of casts and notes allows, whichever of the scatters it may be that
    the notes leave open, and one more note anywhere is worth little.

    Parameters
    ----------
    model : HardnessModel
        Fitted.
    region : Region
        What may be poured; of the parts of the model.
    wanted : str
        A word of the ladder.
    pours : int
        How many compositions, spread; beyond those that wait.
    explore : bool
        False: what is most likely right as things stand.
    start : mapping, Series or row of shares, optional
        The maker's usual recipe; outside the region its nearest composition counts.
    seed : int
        Of the compositions tried around the best of the even ones.
    waiting : DataFrame or array of shares, optional
        Pours that are planned and not felt yet: the answer is chosen as if their notes were
        in and said what is expected, and keeps apart from them. "day", "chance" and "why"
        are left aside, so that an earlier answer may be given.
    load : float, optional
        Pigment of what is poured, as in `HardnessModel.predict`.

    Returns
    -------
    DataFrame
        A column per part; "chance" of the wanted word at 48 hours; "why", one sentence. No
        composition twice, unless nothing else lies in the region.

    Raises
    ------
    LabError
        A word that is not on the ladder, parts other than the model's, fewer than one pour,
        shares that do not sum to 1, a model without notes, something else than a model or a region.

    Examples
    --------
    >>> region = Region({"oil": (0.6, 0.9), "wax": (0.1, 0.4)})
    >>> shares = pd.DataFrame({"oil": [0.8, 0.7], "wax": [0.2, 0.3]})
    >>> model = HardnessModel(["soft", "right", "hard"]).fit(shares, ["soft", "hard"])
    >>> next_pour(model, region, "right", explore=False).columns.tolist()
    ['oil', 'wax', 'chance', 'why']
    """
    model, region = check_model(model), check_region(region)
    find_rung(wanted, model.scale, "Wanted")
    pours = read_count(pours, "pours", 1)
    if taken := {"chance", "why"} & set(region.parts):
        raise LabError(f"A part cannot be called “{taken.pop()}”: the answer has a column of that name.")
    if set(region.parts) != set(model.parts):
        raise LabError(
            f"The region is about {_named(region.parts)}, the notes are about {_named(model.parts)}."
        )
    choice = _gather(model, region, wanted, start, waiting, read_seed(seed), load)
    picked = _explore(choice, model.pours, pours) if explore else _most_likely(choice, pours)
    rows = [row for row, _ in picked]
    table = pd.DataFrame(choice.shares[rows], columns=list(region.parts))
    return table.assign(chance=choice.chance[rows], why=[why for _, why in picked])


def _named(parts: tuple[str, ...]) -> str:
    return ", ".join(f"“{part}”" for part in parts)


def _distance(a: Floats, b: Floats) -> Floats:
    """Return the largest change of a part between rows, shape (rows of a, rows of b)."""
    return np.abs(a[:, None] - b[None]).max(axis=2)


def _gather(
    model: HardnessModel,
    region: Region,
    wanted: str,
    start: object,
    waiting: object,
    rng: np.random.Generator,
    load: object,
) -> Choice:
    """Weigh even compositions, all that was poured or waits, the usual recipe, and some around the best."""
    poured, parts = model.poured[list(region.parts)].to_numpy(), list(region.parts)
    usual, waits = _read_usual(start, region), _read_waiting(waiting, region)
    shares = np.concatenate([waits, poured[region.contains(poured)], usual])
    shares = np.concatenate([shares, _new(region.grid(_COARSE), shares)])
    inside = region.contains(shares)
    first = _chance(model, region, shares, wanted, load)
    around = _new(_scatter(shares[np.where(inside, first, -1.0).argmax()], region, rng), shares)
    shares = np.concatenate([shares, around])
    table = pd.DataFrame(shares, columns=parts)
    apart = _distance(shares, poured)
    return Choice(
        shares,
        model.gaps(table, wanted, load),
        np.concatenate([first, _chance(model, region, around, wanted, load)]),
        casts=(apart <= _SAME).sum(axis=1),
        from_poured=apart.min(axis=1),
        from_known=_distance(shares, np.concatenate([poured, usual])).min(axis=1),
        sure=model.nearly_best(table, wanted, _RIGHT, load),
        waiting=np.arange(len(waits)),
        inside=np.append(inside, np.full(len(around), True)),
        possible=model.possible(wanted),
    )


def _read_usual(start: object, region: Region) -> Floats:
    """Return the usual recipe, or the nearest composition inside, shape (1 or 0, parts)."""
    if start is None:
        return np.empty((0, len(region.parts)))
    return region.nearest(check_shares(start, parts=region.parts)[0]).to_numpy()[None]


def _read_waiting(waiting: object, region: Region) -> Floats:
    """Return the pours that wait, shape (pours, parts)."""
    if waiting is None or (isinstance(waiting, pd.DataFrame) and waiting.empty):
        return np.empty((0, len(region.parts)))
    return check_shares(waiting, parts=region.parts)[0]


def _new(points: Floats, had: Floats) -> Floats:
    """Return the points that are not among those that one has."""
    return points[(_distance(points, had) > _SAME).all(axis=1)]


def _chance(model: HardnessModel, region: Region, shares: Floats, wanted: str, load: object) -> Floats:
    return model.predict(pd.DataFrame(shares, columns=list(region.parts)), load=load)[wanted].to_numpy()


def _scatter(point: Floats, region: Region, rng: np.random.Generator) -> Floats:
    """Return compositions of the region around a point."""
    off = rng.normal(0.0, _SCATTER, (_FINE, len(point)))
    around = point + off - off.mean(axis=1, keepdims=True)
    return around[region.contains(around)]


def _most_likely(choice: Choice, pours: int) -> list[tuple[int, str]]:
    """Return the rows of highest chance, spread and apart from what waits, with why."""
    had, picked = choice.waiting.tolist(), list[tuple[int, str]]()
    for _ in range(pours):
        allowed = choice.inside & _lie_apart(choice, had)
        row = int(np.where(allowed, choice.chance, -np.inf).argmax())
        picked.append((row, _AGAIN if _is_had(choice, row, had) else _why_likely(choice, row)))
        had.append(row)
    return picked


def _why_likely(choice: Choice, row: int) -> str:
    best = choice.chance[choice.inside].max()
    if choice.chance[row] >= best:
        return "most likely right as things stand"
    if choice.chance[row] >= _LIKELY * best:
        return "nearly as likely right, and a little different"
    return "the likeliest that differs from those before"


def _lie_apart(choice: Choice, had: list[int]) -> NDArray[np.bool_]:
    """Return which rows lie apart from those one has; where none does, the farthest of those inside."""
    if not had:
        return np.full(len(choice.shares), True)
    apart = _distance(choice.shares, choice.shares[had]).min(axis=1)
    return apart >= min(_APART, apart[choice.inside].max())


def _is_had(choice: Choice, row: int, had: list[int]) -> bool:
    """Return whether one has the row's composition already."""
    return bool(had and _distance(choice.shares[[row]], choice.shares[had]).min() <= _TWICE)


def _explore(choice: Choice, poured: int, pours: int) -> list[tuple[int, str]]:
    """Return the rows most worth pouring, each chosen as if those before it had been noted, with why."""
    gaps, had, picked = choice.gaps, choice.waiting.tolist(), list[tuple[int, str]]()
    for row in had:
        gaps = after_note(gaps, row)
    if _is_settled(choice):
        row = _settled(choice)
        picked.append((row, _stop(choice, row)))
        had.append(row)
        gaps = after_note(gaps, row)
    while len(picked) < pours:
        worth = expected_gain(gaps) + _OWN * chances_now(gaps)
        row = _prefer_repeat(choice, np.where(_within_reach(choice, poured, had), worth, -np.inf))
        picked.append((row, _AGAIN if _is_had(choice, row, had) else _why(choice, row)))
        had.append(row)
        gaps = after_note(gaps, row)
    return picked


def _within_reach(choice: Choice, poured: int, had: list[int]) -> NDArray[np.bool_]:
    """Return which rows may come next: apart from those one has and near what is known.

    Where none of them is near enough, the nearest of those apart.
    """
    allowed = choice.inside & _lie_apart(choice, had)
    reach = max(_REACH + _REACH_GROWS * poured, choice.from_known[allowed].min())
    return allowed & (choice.from_known <= reach)


def _prefer_repeat(choice: Choice, worth: Floats) -> int:
    """Return the row of highest worth, or a pour beside it that is worth as much and lacks repeats."""
    row = int(worth.argmax())
    beside = _distance(choice.shares, choice.shares[[row]])[:, 0] <= _APART
    again = beside & (choice.casts > 0) & (choice.casts < _REPEATS) & (worth >= worth[row] - _AS_GOOD)
    return int(np.where(again, worth, -np.inf).argmax()) if again.any() else row


def _settled(choice: Choice) -> int:
    """Return the row of highest chance among those poured often enough (or any, where none was)."""
    enough = choice.inside & (choice.casts >= _REPEATS)
    return int(np.where(enough, choice.chance, choice.chance - 1.0 - ~choice.inside).argmax())


def _is_settled(choice: Choice) -> bool:
    """Return whether what was poured often enough is as likely right as can be had, and known to be so.

    A composition known to lie in the middle of the wanted rung (half a rung inside an end
    rung) has the highest chance there is; nine tenths of it leave little to gain. That
    depends on the scatter, so it must hold whatever scatter the notes leave open, but for a
    hundredth of its weight; and a note anywhere must promise little, or there is little to gain.
    """
    row = _settled(choice)
    if choice.casts[row] < _REPEATS or choice.sure[row] < _SURE:
        return False
    room = choice.possible - choice.chance[row]
    return bool(min(room, expected_gain(choice.gaps)[choice.inside].max()) <= _LITTLE)


_AGAIN = "the same again: nothing else lies within the bounds, and a repeat tells how much casts differ"


def _stop(choice: Choice, row: int) -> str:
    """Return the sentence that one can stop, and what that rests on."""
    return (
        f"you can stop: you poured it {choice.casts[row]} times, your notes show how much they scatter, "
        "and it is as likely right as that scatter allows; another pour would hardly raise that"
    )


def _why(choice: Choice, row: int) -> str:
    """Return one plain sentence on why to pour the row."""
    likely = choice.chance[row] >= _LIKELY * choice.chance[choice.inside].max()
    if choice.casts[row] >= _REPEATS:
        return "pour it again: its notes still teach most about what is right"
    if choice.casts[row] and likely and choice.chance[row] >= _FAIRLY:
        return "pour it again: what you have is right and repeats are missing"
    if choice.casts[row] and likely:
        return "pour it again: nothing is likelier right, and repeats are missing"
    if choice.casts[row]:
        return "pour it again: one more cast tells which way to go"
    if choice.from_poured[row] > _FAR and likely:
        return "nobody has poured near here, and it may be right"
    if choice.from_poured[row] > _FAR:
        return "nobody has poured near here, and its note tells where right lies"
    if likely:
        return "close to what you poured, and as likely right as any"
    return "close to what you poured, and its note tells which way to go"
