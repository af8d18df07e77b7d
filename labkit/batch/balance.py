"""Where the grams went: what was made, filled, left in pan and tools, and what nobody can explain."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.special import stdtrit

from labkit.batch.asked import Floats, read_above_0, read_any, read_between, read_grams
from labkit.errors import LabError
from labkit.variation import spread

NORMAL_95 = 1.959964


@dataclass(frozen=True)
class Balance:
    """The mass balance of a batch, all in g.

    Attributes
    ----------
    made_g, filled_g, pan_g, tools_g, taken_g : float
        Weighed in; in the containers; left in the pan; on tools; taken out for drips and tests.
    unexplained_g : float
        What is left over; below 0 where more came out than went in.
    unexplained_limits : (low, high)
        95 % limits, from the scale's step alone.
    """

    made_g: float
    filled_g: float
    pan_g: float
    tools_g: float
    taken_g: float
    unexplained_g: float
    unexplained_limits: tuple[float, float]

    @property
    def loss_share(self) -> float:
        """Share of what was made that is in no container."""
        return 1.0 - self.filled_g / self.made_g

    @property
    def why(self) -> str:
        """What the remainder says, in words."""
        low, high = self.unexplained_limits
        if low <= 0.0 <= high:
            return "Everything is accounted for, as far as your scale can tell."
        if self.unexplained_g > 0:
            return f"{self.unexplained_g:.2g} g were in nothing weighed: spills, wipes, or a reading missed."
        return f"{-self.unexplained_g:.2g} g more came out than went in: a weighing was missed, or a tare."


def mass_balance(
    weighed_g: Mapping[str, float],
    filled_g: Sequence[float],
    pan_g: float = 0.0,
    tools_g: float = 0.0,
    taken_g: float = 0.0,
    step_g: float = 0.01,
) -> Balance:
    """Return the mass balance of a batch.

    Each weighing is taken as even over its step (variance step²/12, JCGM 100:2008, 4.3.7); a container
    or a pan is weighed twice, empty and full.

    Raises
    ------
    LabError
        Grams that cannot be, or more in the containers than was made.

    Examples
    --------
    >>> found = mass_balance({"castor oil": 60.0, "beeswax": 40.0}, [4.5] * 20, pan_g=6.0, tools_g=2.5)
    >>> found.unexplained_g, round(found.loss_share, 3)
    (1.5, 0.1)
    """
    weighed = read_grams(weighed_g, "weighed in")
    filled = _fills(filled_g)
    step = read_above_0(step_g, "your scale's step", "g")
    left = [
        read_between(each, what, "g", 0.0, 1e6)
        for each, what in ((pan_g, "left in the pan"), (tools_g, "left on tools"), (taken_g, "taken out"))
    ]
    made, out = sum(weighed.values()), float(filled.sum())
    if not made > 0.0:
        raise LabError("Nothing was weighed in. Write down what went into the pot.")
    readings = len(weighed) + 2 * len(filled) + 2 * sum(each > 0.0 for each in left)
    sd = step * np.sqrt(readings / 12.0)
    if out > made + step + 4.0 * sd:
        raise LabError(
            f"The containers hold {out:g} g, and {made:g} g were made. Was a container weighed with its "
            "tube, or an ingredient not written down?"
        )
    rest = round(made - out - sum(left), 6)
    limits = (float(rest - NORMAL_95 * sd), float(rest + NORMAL_95 * sd))
    return Balance(made, out, left[0], left[1], left[2], rest, limits)


def _fills(filled_g: Sequence[float]) -> Floats:
    filled = np.atleast_1d(read_any(filled_g, "fill weights", "g"))
    if not filled.size:
        raise LabError("No container was filled. Give the weight of what is in each.")
    if (filled < 0.0).any():
        raise LabError(f"fill weights: {filled.min():g} g cannot be. Give full less empty, 0 or more.")
    return filled.ravel()


# ---- over past batches -----------------------------------------------------------


@dataclass(frozen=True)
class UsualLoss:
    """The loss of this kind of batch, as a share of what was made.

    Attributes
    ----------
    share : float
        Mean of the past batches.
    low, high : float
        90 % limits for the next batch, not for the mean; 0 and 1 where one batch says nothing of them.
    batches : int
    """

    share: float
    low: float
    high: float
    batches: int

    def to_weigh_g(self, wanted_g: float) -> tuple[float, float]:
        """Return g to make so that `wanted_g` are filled: on average, and to be 95 % sure.

        inf where so few batches allow no such promise.

        >>> [round(each, 1) for each in UsualLoss(0.10, 0.05, 0.16, 6).to_weigh_g(85.0)]
        [94.4, 101.2]
        """
        wanted = read_above_0(wanted_g, "wanted", "g")
        return wanted / (1.0 - self.share), wanted / (1.0 - self.high) if self.high < 1.0 else np.inf


def usual_loss(made_g: Sequence[float], filled_g: Sequence[float]) -> UsualLoss:
    """Return the loss of past batches of one kind and where the next one may fall.

    Mean ± t·s·√(1 + 1/n), the prediction interval of normal readings, kept within 0 and 1 (Hahn and
    Meeker 1991, Statistical Intervals, 4.8). Two batches say little: their interval is wide.

    Raises
    ------
    LabError
        No batches, or one that filled more than was made.

    Examples
    --------
    >>> found = usual_loss([100.0, 100.0, 120.0], [91.0, 90.0, 110.4])
    >>> round(found.share, 3), round(found.low, 3), round(found.high, 3)
    (0.09, 0.056, 0.124)
    """
    made = np.atleast_1d(read_any(made_g, "made", "g", above_0=True))
    filled = _fills(filled_g)
    if made.shape != filled.shape:
        raise LabError(f"There are {made.size} batches made and {filled.size} filled. Give one for each.")
    over = np.flatnonzero(filled > made)
    if len(over):
        row = over[0]
        raise LabError(
            f"Batch {row + 1} filled {filled[row]:g} g of {made[row]:g} g made. Look at its weights."
        )
    shares = 1.0 - filled / made
    mean, count = float(shares.mean()), len(shares)
    if count < 2:
        return UsualLoss(mean, 0.0, 1.0, count)
    half = float(stdtrit(count - 1, 0.95) * shares.std(ddof=1) * np.sqrt(1.0 + 1.0 / count))
    return UsualLoss(mean, max(mean - half, 0.0), min(mean + half, 1.0), count)


# ---- fill weights ----------------------------------------------------------------


@dataclass(frozen=True)
class FillSpread:
    """Fill weights against the nominal content, in g.

    Attributes
    ----------
    mean_g, sd_g, least_g, most_g : float
    mean_limits, sd_limits : (low, high)
        95 % limits of the mean and 90 % limits of the spread; nan for one container.
    short : int
        Containers below the nominal content.
    far_short : int
        Containers below it by more than the tolerable error.
    why : str
    """

    mean_g: float
    sd_g: float
    least_g: float
    most_g: float
    mean_limits: tuple[float, float]
    sd_limits: tuple[float, float]
    short: int
    far_short: int
    why: str


def fill_spread(filled_g: Sequence[float], nominal_g: float, tolerable_share: float = 0.09) -> FillSpread:
    """Return how fill weights spread about the nominal content.

    The tolerable error is 9 % for 5 to 50 g in Directive 76/211/EEC, annex I (from memory); other
    sizes and markets have other rules, and yours count.

    Raises
    ------
    LabError
        No fills, or grams that cannot be.

    Examples
    --------
    >>> found = fill_spread([4.31, 4.20, 4.28, 4.35], 4.25)
    >>> round(found.mean_g, 3), round(found.sd_g, 3), found.short, found.far_short
    (4.285, 0.064, 1, 0)
    """
    filled, nominal = _fills(filled_g), read_above_0(nominal_g, "nominal content", "g")
    tolerable = read_between(tolerable_share, "tolerable share", "", 0.0, 1.0)
    mean, count = float(filled.mean()), len(filled)
    sd, sd_limits, mean_limits = np.nan, (np.nan, np.nan), (np.nan, np.nan)
    if count > 1:
        found = spread(pd.DataFrame({"fill": filled, "batch": 1}), "fill", "batch")
        sd, sd_limits = found.repeatability_sd, found.intervals["repeatability_sd"]
        half = float(stdtrit(count - 1, 0.975) * sd / np.sqrt(count))
        mean_limits = (mean - half, mean + half)
    short, far = int((filled < nominal).sum()), int((filled < (1.0 - tolerable) * nominal).sum())
    why = _told(mean, mean_limits, nominal, far, count)
    least, most = float(filled.min()), float(filled.max())
    return FillSpread(mean, float(sd), least, most, mean_limits, sd_limits, short, far, why)


def _told(mean: float, limits: tuple[float, float], nominal: float, far: int, count: int) -> str:
    if far:
        return f"{far} of {count} are short by more than is tolerable: fill these up, or take them out."
    if mean < nominal:
        return f"On average they are {nominal - mean:.2g} g short of {nominal:g} g: fill a little more."
    if limits[0] < nominal:
        return "On average they hold what is named, but so few cannot tell it for certain."
    return "On average they hold what is named."
