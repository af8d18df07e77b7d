"""What the streak panel says: whether to stir on, what a photo shows, how sticks and ways differ."""

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from labkit.streak.stop import MOST_TO_GO, slowest, tell_stirring
from labkit.times import spoken

if TYPE_CHECKING:
    from labkit.streak.photo_read import PhotoRead
    from labkit.streak.trial import StreakTrial

RUB = (
    "So far the spatula was only drawn. Before you stop, rub some out under pressure on a tile: that shows "
    "clumps which drawing hides."
)
CAUTIONS = (
    "Hot fat burns: pan off the heat before you type, and never try hot melt on skin or lips.",
    "Dry pigment: raise no dust, wear a mask, keep it from the flame.",
    "Afterwards wipe colour out with paper before any water; work from light to dark shades.",
)
"""Common practice, no source."""


def standing(trial: "StreakTrial", told: pd.DataFrame | None) -> list[str]:
    """Return where the test stands, the first sentence what to do now; ``told`` as of `stirring`."""
    asked = trial.question
    what = f"{', '.join(asked.names)}; {asked.method}; stirring since {spoken(asked.began_at)}."
    if told is None:
        return ["Stir, draw the spatula through, look, and press what you see.", what]
    said = [_to_do(trial, told), what]
    if trial.looks[-1][1].untold:
        said.append(
            "In the last look there was a streak whose pigment could not be told. No grade counts it, so "
            "look again before you stop."
        )
    if not told["rounds_to_go"].max() and not any(look.how == "rubbed" for _, look in trial.looks):
        said.append(RUB)
    if forked := trial.forked():
        said.append(
            f"{forked} round{'s were' if forked > 1 else ' was'} mended in two places at once, and the "
            "version written last counts: choose it under “Your rounds” and save what is right."
        )
    return said


def stopping_words(trial: "StreakTrial", told: pd.DataFrame) -> list[str]:
    """Return for each pigment what another look would show, and on what that rests."""
    return [*tell_stirring(told, trial.question.limit_percent / 100, trial.graded), _rests_on(trial)]


def _to_do(trial: "StreakTrial", told: pd.DataFrame) -> str:
    to_go, untold = told["rounds_to_go"].max(), trial.looks[-1][1].untold
    if not to_go and untold:
        return "Look once more: there was a streak that you could not tell."
    if not to_go:
        return f"You can stop: each pigment is under your limit of {trial.question.limit_percent:g} %."
    slow = slowest(told)
    if np.isinf(to_go):
        what = slow or "it"
        return f"Stirring on like this may not clear {what} in {MOST_TO_GO} rounds: change how it is stirred."
    rounds = "one more round" if to_go == 1 else f"about {to_go:.0f} more rounds"
    return f"Stir on, {rounds}" + (f": {slow} is the slow one." if slow and len(told) > 1 else ".")


def _rests_on(trial: "StreakTrial") -> str:
    if trial.earlier is None:
        return "It rests on these looks and on what is usual: your book has no earlier streak test yet."
    count = trial.earlier["trial"].nunique()
    return f"It rests on these looks and on {count} earlier test{'s' * (count > 1)} of your book."


def photo_words(read: "PhotoRead") -> list[str]:
    """Return what a photo shows, in sentences."""
    found = read.found
    if found is None:
        return [f"The photo of round {read.number} cannot be read. {read.why}"]
    even = (
        f"Round {read.number}: unevenness ΔE00 {found.index:.1f}; off by more than 1 in "
        f"{100 * found.share_over_1:.0f} %, by more than 2 in {100 * found.share_over_2:.0f} % of the area."
    )
    shares = {name: share for name, share in found.by_pigment.items() if np.isfinite(share)}
    like = max(shares, key=lambda name: shares[name]) if shares else ""
    said = [even]
    if like:
        said.append(f"Its streaks are most like {like} ({100 * shares[like]:.0f} % of them).")
    return [*said, *found.why]


def slow_words(runs: pd.DataFrame) -> str:
    """Return which pigment was the last to come clean, over the tests where one was."""
    slow = runs["slow"][runs["slow"] != ""]
    if slow.empty:
        return "In no test so far was one pigment alone the last to be seen."
    counts = slow.value_counts()
    told = ", ".join(f"{name} in {count}" for name, count in counts.items())
    return f"Which pigment was seen last, of {len(slow)} tests that tell: {told}."
