"""The batches of a book as a table: how each was heated, cooled and poured, and how it came out."""

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from labkit.batch.losses import loss_words, past_loss
from labkit.batch.record import Happened, Judged, Question
from labkit.batch.trial import BatchTrial, trials
from labkit.errors import LabError

if TYPE_CHECKING:
    from labkit.book import TrialBook

HOT_C = 65.0
"""Minutes above this count as hot: what melts beeswax (a judgement)."""
ALIKE = 0.02
"""Recipes whose every share differs by no more are one (a judgement)."""
AHEAD_MIN = 10.0
"""So far beyond its last reading a cooling curve tells the temperature at the pour (a judgement)."""

PROCESS = ("pour_c", "tau_min", "off_to_pour_min", "reheats", "hottest_c", "hot_min")
OUTCOMES = ("hardness", "streaks", "sink_share", "loss")
COLUMNS = (
    "batch", "entry", "made_at", "recipe", "ladder", *PROCESS, "pour_from", "hardness", "streaks",
    "sink_holes", "looked_at", "sink_share", "made_g", "filled_g", "loss",
)  # fmt: skip


def past_batches(book: "TrialBook", maker: str | None = None) -> pd.DataFrame:
    """Return a maker's batches, one row each, the oldest first; NaN where something was not logged.

    Parameters
    ----------
    book : TrialBook
    maker : str, optional
        By default the book's own maker.

    Returns
    -------
    DataFrame
        batch, entry, made_at; recipe (a letter: the same for batches of the same shares) and ladder;
        pour_c [°C] and pour_from ("read" or "curve"), tau_min [min] of its cooling, off_to_pour_min [min]
        from the heat going off last, reheats, hottest_c [°C], hot_min [min above `HOT_C`]; hardness
        (0 the softest word; the mean where it was judged more than once), streaks (0 to 4), sink_holes
        of looked_at, and sink_share; made_g, filled_g, and loss (the share of what was made that is in no
        container).
    """
    whose = maker or book.maker
    made = [BatchTrial(book, entry) for entry in reversed(trials(book).values())]
    rows = [_row(each) for each in made if each.question_row.first.maker == whose and each.logged]
    table = pd.DataFrame(rows, columns=[*COLUMNS, "shares"])
    table["recipe"] = recipes(list(table["shares"]))
    return table[list(COLUMNS)].sort_values("made_at", kind="stable", ignore_index=True)


def loss_before(trial: BatchTrial) -> str:
    """Return what the maker's earlier batches lost, of this recipe if there are some, and what to make."""
    earlier = [entry for entry in trials(trial.book).values() if entry < trial.entry]
    table, letter = _losses(trial, earlier)
    return loss_words(table, wanted_g(trial.question), letter)


def to_make_again(trial: BatchTrial) -> float | None:
    """Return g to make so that the plan's containers are filled, by what batches up to this one lost.

    None where the plan names no fill, or no batch was filled and weighed yet.
    """
    upto = [entry for entry in trials(trial.book).values() if entry <= trial.entry]
    wanted = wanted_g(trial.question)
    found, _ = past_loss(*_losses(trial, upto))
    return None if found is None or wanted is None else found.to_weigh_g(wanted)[0]


def wanted_g(question: Question) -> float | None:
    """Return g that the plan's containers take; None where it does not say."""
    return question.containers * question.fill_g if question.containers and question.fill_g else None


def _losses(trial: BatchTrial, entries: Sequence[str]) -> tuple[pd.DataFrame, str]:
    """Return what batches of the trial's maker lost, with the letters of their recipes, and its own."""
    whose = trial.question_row.first.maker
    others = [BatchTrial(trial.book, entry) for entry in entries]
    others = [each for each in others if each.question_row.first.maker == whose and each.filled]
    table = pd.DataFrame([_loss(each) for each in others], columns=["made_g", "filled_g", "loss"])
    letters = recipes([_shares(each) for each in (trial, *others)])
    return table.assign(recipe=letters[1:]), letters[0]


def recipes(shares: Sequence[Mapping[str, float]]) -> list[str]:
    """Return a letter for each recipe: the same where no share differs by more than `ALIKE`.

    >>> recipes([{"oil": 0.8, "wax": 0.2}, {"oil": 0.7, "wax": 0.3}, {"oil": 0.81, "wax": 0.19}])
    ['A', 'B', 'A']
    """
    kinds, found = list[Mapping[str, float]](), list[str]()
    for each in shares:
        at = next((at for at, kind in enumerate(kinds) if alike(kind, each)), len(kinds))
        if at == len(kinds):
            kinds.append(each)
        found.append(_letter(at))
    return found


def alike(one: Mapping[str, float], other: Mapping[str, float]) -> bool:
    """Return whether two recipes, as shares by name, are one: no share differs by more than `ALIKE`."""
    return all(abs(one.get(name, 0.0) - other.get(name, 0.0)) <= ALIKE for name in {*one, *other})


def _letter(at: int) -> str:
    return chr(ord("A") + at) if at < 26 else str(at + 1)


def _row(trial: BatchTrial) -> dict[str, Any]:
    return {
        "batch": trial.name,
        "entry": trial.entry,
        "made_at": trial.clock or trial.question_row.first.when,
        "ladder": trial.question.words,
        "shares": _shares(trial),
        **_heat(trial),
        **_cooling(trial),
        **_judged(trial),
        **_loss(trial),
    }


def _shares(trial: BatchTrial) -> dict[str, float]:
    """Return the shares of what went in; of what was planned where nothing was weighed."""
    grams = trial.went_in() or trial.question.grams
    total, shares = sum(grams.values()), dict[str, float]()
    for name, each in grams.items():
        shares[name.casefold()] = shares.get(name.casefold(), 0.0) + each / total
    return shares


def _heat(trial: BatchTrial) -> dict[str, float]:
    read = trial.temperatures()
    happened = trial.of(Happened)
    return {
        "reheats": float(sum(each.what == "reheated" for each in happened)) if happened else np.nan,
        "hottest_c": float(read["celsius"].max()) if len(read) else np.nan,
        "hot_min": minutes_above(read["minutes"].to_numpy(float), read["celsius"].to_numpy(float), HOT_C),
    }


def minutes_above(minutes: "np.ndarray", celsius: "np.ndarray", level: float) -> float:
    """Return how many minutes readings, joined by straight lines, stand above a level; NaN for fewer than 2.

    >>> minutes_above(np.array([0.0, 10.0, 20.0]), np.array([60.0, 80.0, 60.0]), 70.0)
    10.0
    """
    if len(minutes) < 2:
        return np.nan
    low, high = np.minimum(celsius[:-1], celsius[1:]), np.maximum(celsius[:-1], celsius[1:])
    flat = high == low
    part = np.where(flat, low > level, (high - level) / np.where(flat, 1.0, high - low))
    return float((np.diff(minutes) * np.clip(part, 0.0, 1.0)).sum())


def _cooling(trial: BatchTrial) -> dict[str, Any]:
    poured = trial.poured
    off = [
        each.at for each in trial.of(Happened) if each.what == "heat off" and poured and each.at <= poured.at
    ]
    wait = (poured.at - off[-1]).total_seconds() / 60.0 if poured and off else np.nan
    told: dict[str, Any] = {"off_to_pour_min": wait, "pour_c": np.nan, "pour_from": "", "tau_min": np.nan}
    try:
        fit = trial.cooling
    except LabError:
        fit = None
    if fit is not None:
        told["tau_min"] = fit.tau_min
    if poured and poured.celsius is not None:
        told |= {"pour_c": poured.celsius, "pour_from": "read"}
    elif poured and fit is not None and trial.minutes(poured.at) <= fit.last_min + AHEAD_MIN:
        told |= {"pour_c": float(fit.celsius_at(trial.minutes(poured.at))), "pour_from": "curve"}
    return told


def _judged(trial: BatchTrial) -> dict[str, float]:
    judged: list[Judged] = trial.of(Judged)
    rungs = [trial.question.words.index(each.word) for each in judged if each.word in trial.question.words]
    streaks = [each.streaks for each in judged if each.streaks is not None]
    counted = [(each.sink_holes, each.looked_at) for each in judged if each.sink_holes is not None]
    holes, of = (float(sum(each[at] or 0 for each in counted)) if counted else np.nan for at in (0, 1))
    return {
        "hardness": float(np.mean(rungs)) if rungs else np.nan,
        "streaks": float(np.mean(streaks)) if streaks else np.nan,
        "sink_holes": holes,
        "looked_at": of,
        "sink_share": holes / of if counted else np.nan,
    }


def _loss(trial: BatchTrial) -> dict[str, float]:
    made = float(sum(trial.went_in().values()))
    filled = float(sum(trial.filled.fills_g)) if trial.filled else np.nan
    known = made > 0.0 and np.isfinite(filled) and filled <= made
    return {
        "made_g": made or np.nan,
        "filled_g": filled,
        "loss": 1.0 - filled / made if known else np.nan,
    }
