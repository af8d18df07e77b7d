"""A day at the stove told line by line: sentences, tables and pictures for a notebook."""

from typing import TYPE_CHECKING

import pandas as pd

from labkit.batch import plot, views, wording
from labkit.batch.apart_plot import apart_figure
from labkit.batch.batches_apart import compare_batches
from labkit.batch.day import cooling_or_why, heating_order, melt_or_why, window_of
from labkit.batch.past import loss_before, past_batches
from labkit.batch.trial import BatchTrial, time_of
from labkit.errors import LabError

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def tell_batch(trial: BatchTrial) -> None:
    """Print what to do now, how it cools, and where the grams went."""
    cooling, melt = cooling_or_why(trial), melt_or_why(trial)
    window = window_of(trial, cooling, melt)
    cooled = wording.cooling_words(trial, cooling, window, melt)
    for said in (*wording.standing(trial, cooling, window), *cooled, *wording.balance_words(trial)):
        print(said)


def heating_table(trial: BatchTrial) -> pd.DataFrame:
    """Return in what order the recipe goes in: step, ingredient, grams, when, why."""
    rows = heating_order(trial.question).rows
    rows.insert(2, "grams", [trial.question.grams[name] for name in rows["ingredient"]])
    return rows


def pot_now(trial: BatchTrial) -> pd.DataFrame:
    """Return what is in the pot beside what was planned, as the panel shows it."""
    return views.pot_table(trial)


def cooling_curve(trial: BatchTrial) -> "Figure":
    """Draw the temperatures against the clock, with the fitted curve and the pour window.

    Raises
    ------
    LabError
        Where no temperature was read.
    """
    table = trial.temperatures()
    if table.empty or trial.clock is None:
        raise LabError("No temperature was read on this day yet.")
    fit = cooling_or_why(trial)
    window = window_of(trial, fit, melt_or_why(trial))
    fitted = None if isinstance(fit, str) else fit
    return plot.cooling_figure(table, trial.clock, fitted, window, trial.question.pour_c, views.events(trial))


def day_table(trial: BatchTrial) -> pd.DataFrame:
    """Return everything logged, in the order of its times: when, what, figures, remark."""
    rows = [(time_of(each), *views.called(each), each.remark) for _, each in trial.logged]
    return pd.DataFrame(rows, columns=["when", "what", "figures", "remark"])


def batch_summary(trial: BatchTrial) -> pd.DataFrame:
    """Return a few rounded figures of the day, to compare between runs."""
    fit = cooling_or_why(trial)
    known: dict[str, float] = {} if isinstance(fit, str) else {"tau, min": round(fit.tau_min, 1)}
    if not isinstance(fit, str) and fit.plateau_c is not None:
        known["sets at, °C"] = round(fit.plateau_c, 1)
    filled, pot = trial.filled, trial.went_in()
    if filled is not None and pot:
        known |= {"went in, g": round(sum(pot.values()), 1), "filled, g": round(sum(filled.fills_g), 1)}
    return pd.DataFrame([known])


def batches_table(trial: BatchTrial) -> pd.DataFrame:
    """Return the batches of the trial's maker, one row each, see `labkit.batch.past.past_batches`."""
    return past_batches(trial.book, trial.question_row.first.maker)


def tell_batches(trial: BatchTrial) -> None:
    """Print how pour temperature, cooling and reheats go with what comes out, and what batches lose."""
    found = compare_batches(batches_table(trial))
    shown = found.rows.loc[found.rows["shown"], "sentence"]
    for said in (*shown, *found.said, loss_before(trial)):
        print(said)


def batches_figure(trial: BatchTrial, outcome: str = "hardness") -> "Figure":
    """Draw "hardness", "streaks", "sink_share" or "loss" of the batches against how they were made.

    Raises
    ------
    LabError
        Where it is not known of two batches.
    """
    drawn = apart_figure(compare_batches(batches_table(trial)), outcome)
    if drawn is None:
        raise LabError("Not known of enough batches yet: pour, fill and judge some more.")
    return drawn
