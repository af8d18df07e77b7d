"""How the usual recipe came out in one trial and in another, and whether that is more than chance."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from labkit.errors import LabError, did_you_mean
from labkit.few_groups import MISS, NOT_KNOWN, Limits
from labkit.texture.source import reach_words, size_words

Floats = NDArray[np.float64]

NINE_IN_TEN = 1.6448536  # sd either way that hold 90 % of a normal distribution


ALIKE = 0.05
"""Trials that differ by less than this many words are said to be alike."""


@dataclass(frozen=True, eq=False)
class TrialsApart:
    """The same recipe in several trials.

    Attributes
    ----------
    names : tuple of str
        The trials, as they were given; the last is compared with the one before it.
    hardness, sd : ndarray, shape (trials,) [rungs]
        What each trial's map says of its usual, and how unsure it is.
    spread_sd : float [rungs]
        Between trials, what the maps are unsure of taken away; nan for one trial.
    spread : (low, high) [rungs]
        Its 90 % limits.
    ladder : tuple of str
    notes : DataFrame
        "trial" and "rung" of each note on its usual.
    wordless : tuple of str
        What was noted in each trial in which no word was felt; "" where one was.
    """

    names: tuple[str, ...]
    hardness: Floats
    sd: Floats
    spread_sd: float
    spread: Limits
    ladder: tuple[str, ...]
    notes: pd.DataFrame
    wordless: tuple[str, ...]

    @property
    def last_words(self) -> str:
        """Why the last two cannot be compared; "" where they can."""
        two = list(zip(self.names, self.wordless, strict=True))[-2:]
        missing = next(((name, there) for name, there in reversed(two) if there), None)
        if missing is None:
            return ""
        other = next(name for name, _ in two if name != missing[0])
        return (
            f"“{missing[0]}” has {missing[1]} and no word yet: "
            f"feel its usual, and it can be compared with “{other}”."
        )

    @property
    def step(self) -> tuple[float, float, float]:
        """How much harder the last trial came out than the one before, and its 90 % limits [rungs]."""
        if len(self.names) < 2:
            return np.nan, -np.inf, np.inf
        step = float(self.hardness[-1] - self.hardness[-2])
        reach = NINE_IN_TEN * float(np.hypot(self.sd[-1], self.sd[-2]))
        return step, step - reach, step + reach

    @property
    def title(self) -> str:
        """The message: whether the last trial came out otherwise than the one before, and by how much."""
        if len(self.names) < 2:
            return "One trial so far: how trials differ shows from the second on."
        if self.last_words:
            return self.last_words
        step, low, high = self.step
        count, what = len(self.ladder), "harder" if step > 0.0 else "softer"
        if abs(step) < ALIKE:
            return (
                f"“{self.names[-1]}” came out as hard as “{self.names[-2]}”, as far as their notes can tell."
            )
        lead = f"“{self.names[-1]}” came out {what} than “{self.names[-2]}” by {size_words(abs(step), count)}"
        if low > 0.0 or high < 0.0:
            ends = sorted((abs(low), abs(high)))
            return f"{lead} ({reach_words(ends[0], ends[1], count)}): that is more than chance."
        return f"{lead}, which may be chance."


def trials_apart(table: pd.DataFrame, ladder: Sequence[str]) -> TrialsApart:
    """Compare trials of the same parts at their usual recipe.

    Each trial's hardness comes from its own map, which is unsure by `sd`; the spread between
    trials is what is left (Paule and Mandel 1982, Journal of Research of the NBS 87, 377; limits
    by the Q profile of Viechtbauer 2007, Statistics in Medicine 26, 37; both from memory). Pours
    of one trial share its days, so that the days are in it.

    Parameters
    ----------
    table : DataFrame
        One row a note on the usual, at least one row a trial, oldest trial first: "trial",
        "hardness" and "sd" (the same on all rows of a trial), and where there are notes "rung",
        brought to the hour of "hardness"; nan where there is none. "wordless", where there is
        any: what was noted in a trial without a word, such as "2 readings"; "" elsewhere.
    ladder : sequence of str
        The words, softest first.

    Raises
    ------
    LabError
        For a column that is not there, no trial, or a hardness or sd that cannot be.

    Examples
    --------
    >>> table = pd.DataFrame({"trial": ["May", "June"], "hardness": [2.1, 1.0], "sd": [0.3, 0.4]})
    >>> trials_apart(table, ["smears", "soft", "right", "firm"]).title
    '“June” came out softer than “May” by 1.1 words (0.3 to 1.9 words): that is more than chance.'
    """
    for column in ("trial", "hardness", "sd"):
        if column not in table.columns:
            raise LabError(f"There is no column “{column}”. {did_you_mean(column, map(str, table))}")
    each = table.drop_duplicates("trial")
    if each.empty:
        raise LabError("There is no trial to compare yet.")
    hardness, sd = each["hardness"].to_numpy(float), each["sd"].to_numpy(float)
    for name, one, unsure in zip(each["trial"], hardness, sd, strict=True):
        if not (np.isfinite(one) and 0.0 < unsure < np.inf):
            raise LabError(f"“{name}” has no hardness of its usual yet: feel a pour of that trial first.")
    rung = table["rung"] if "rung" in table else pd.Series(np.nan, table.index)
    notes = pd.DataFrame({"trial": table["trial"], "rung": rung.astype(float)}).dropna(ignore_index=True)
    wordless = tuple(map(str, each["wordless"])) if "wordless" in table else ("",) * len(each)
    felt = np.array([not there for there in wordless])
    found, limits = spread_of_known(hardness[felt], sd[felt])
    names = tuple(map(str, each["trial"]))
    return TrialsApart(names, hardness, sd, found, limits, tuple(ladder), notes, wordless)


def spread_of_known(values: ArrayLike, sd: ArrayLike) -> tuple[float, Limits]:
    """Return the spread of values beyond their own known scatter, and its 90 % limits.

    With τ² for the spread, Q(τ²) = Σ(yᵢ − ȳ_w)²/(sdᵢ² + τ²) is χ² on k − 1: τ² is where Q is k − 1,
    and its limits are where Q is at 95 % and at 5 %. Values nearer to one another than chance
    makes them half the time are taken to be as far apart as that, so that the limits are never
    [0, 0].

    Parameters
    ----------
    values, sd : array_like, shape (k,)

    Returns
    -------
    spread, (low, high)
        nan, 0 and inf for a single value.
    """
    from scipy.special import chdtri

    y, variance = np.asarray(values, float), np.asarray(sd, float) ** 2
    df = len(y) - 1
    if df < 1:
        return np.nan, NOT_KNOWN
    low, high = float(chdtri(df, MISS / 2)), float(chdtri(df, 1.0 - MISS / 2))
    short = float(chdtri(df, 0.5)) / max(_scatter(y, variance, 0.0), 1e-300)
    wide = y * np.sqrt(max(1.0, short)) if np.ptp(y) else np.sqrt(variance) * np.linspace(-1.0, 1.0, df + 1)
    return _where(y, variance, float(df)), (_where(y, variance, low), _where(wide, variance, high))


def _scatter(y: Floats, variance: Floats, extra: float) -> float:
    weight = 1.0 / (variance + extra)
    return float(weight @ (y - weight @ y / weight.sum()) ** 2)


def _where(y: Floats, variance: Floats, target: float) -> float:
    """Return τ at which Q falls to the target; 0 where it is below from the start."""
    from scipy.optimize import brentq

    if _scatter(y, variance, 0.0) <= target:
        return 0.0
    most = float(np.ptp(y) ** 2 * len(y) / target)
    return float(np.sqrt(brentq(lambda extra: _scatter(y, variance, extra) - target, 0.0, most)))


def _end(size: float, way: str, ladder: int) -> str:
    return "as hard" if size < ALIKE else f"{size_words(size, ladder)} {way}"


def trials_words(found: TrialsApart) -> list[str]:
    """Return what the comparison of trials says, the message first: the alt text of its picture."""
    said, count = [found.title], len(found.ladder)
    if len(found.names) < 2:
        return said
    _, least, most = found.step
    if not found.last_words and least <= 0.0 <= most:
        ends = f"{_end(-least, 'softer', count)} to {_end(most, 'harder', count)}"
        said.append(f"It may be anything from {ends}: pour the usual of both on one day to tell.")
    elif not found.last_words:
        said.append("Pours of one trial share their days, so it may be the days and not the recipe.")
    if (felt := found.wordless.count("")) < 2:
        return said
    low, high = found.spread
    lead = f"Over {felt} trials the same recipe differs"
    if low > 0.0:
        about = size_words(found.spread_sd, count)
        return [*said, f"{lead} by about {about} ({reach_words(low, high, count)})."]
    return [*said, f"{lead} by anything from {reach_words(low, high, count)}: more trials would tell."]
