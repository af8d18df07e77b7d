"""What the batch panel shows: the pot, the cooling, the balance, the log."""

from typing import TYPE_CHECKING

import pandas as pd

from labkit.batch.cooling import CoolingFit
from labkit.batch.melt import Melt
from labkit.batch.plot import cooling_figure, fills_figure
from labkit.batch.record import Added, Drip, Filled, Happened, Judged, Reading, Readings, Taken
from labkit.batch.trial import time_of
from labkit.batch.window import PourWindow
from labkit.batch.wording import balance_words, cooling_words, judged_words
from labkit.quantities import show_grams
from labkit.times import spoken
from labkit.ui.figure import picture
from labkit.ui.parts import sentences
from labkit.ui.text import Html, html, joined, table

if TYPE_CHECKING:
    from labkit.batch.trial import BatchTrial


def pot(trial: "BatchTrial") -> Html:
    """Return what is in the pot beside what was planned, in g and %."""
    rows = [
        [
            row["ingredient"],
            *(row[name] for name in ("planned g", "planned %", "in the pot g", "in the pot %")),
        ]
        for _, row in pot_table(trial).iterrows()
    ]
    grid = table(["", "planned, g", "%", "in the pot, g", "%"], rows, "The pot", numbers=4)
    return html('<div class="labkit-wide">{}</div>', grid)


def pot_table(trial: "BatchTrial") -> pd.DataFrame:
    """Return for each ingredient planned and real g and %, as text; "" where there is none."""
    asked, real = trial.question, trial.pot()
    names = list(dict.fromkeys([*asked.grams, *(real.grams if real else ())]))
    planned_total = sum(asked.grams.values())
    rows = []
    for name in names:
        planned, there = asked.grams.get(name), real.grams.get(name) if real else None
        rows.append(
            {
                "ingredient": name,
                "planned g": "" if planned is None else show_grams(planned, asked.step_g),
                "planned %": "" if planned is None else f"{100 * planned / planned_total:.1f}",
                "in the pot g": "" if there is None else show_grams(there, asked.step_g),
                "in the pot %": "" if there is None or real is None else f"{real.percent[name]:.1f}",
            }
        )
    return pd.DataFrame(rows)


def cooling(trial: "BatchTrial", fit: CoolingFit | str, window: PourWindow | None, melt: Melt | str) -> Html:
    """Return the temperatures against the clock, and what they say."""
    said = cooling_words(trial, fit, window, melt)
    table_ = trial.temperatures()
    if table_.empty or trial.clock is None:
        return sentences(["No temperature yet. " + said[0]], first=False)
    drawn = cooling_figure(
        table_,
        trial.clock,
        None if isinstance(fit, str) else fit,
        window,
        trial.question.pour_c,
        events(trial),
    )
    return joined([picture(drawn, " ".join(said)), sentences(said, first=False)])


def events(trial: "BatchTrial") -> dict[str, float]:
    """Return what happened, with its minutes on the day's clock; of a word that comes twice, the last."""
    return {each.what: trial.minutes(each.at) for each in trial.of(Happened)}


def balance(trial: "BatchTrial") -> Html:
    """Return where the grams went, and the fill weights."""
    filled = trial.filled
    if filled is None:
        return Html("")
    said = sentences(balance_words(trial), first=False)
    if len(filled.fills_g) < 2:
        return said
    drawn = fills_figure(filled.fills_g, trial.question.fill_g)
    alt = "Fill weights in g: " + ", ".join(f"{each:g}" for each in filled.fills_g)
    return joined([said, html('<div class="labkit-small">{}</div>', picture(drawn, alt))])


def judged(trial: "BatchTrial") -> Html:
    """Return how the sticks were found, in sentences."""
    return sentences([judged_words(each) for each in trial.of(Judged)], first=False)


def log(trial: "BatchTrial") -> Html:
    """Return everything logged, in the order of its times."""
    rows = [[spoken(time_of(each)), *called(each), each.remark] for _, each in trial.logged]
    return html('<div class="labkit-wide">{}</div>', table(["when", "what", "", "remark"], rows, "Log"))


def called(logged: object) -> tuple[str, str]:
    """Return what something logged is, and its figures, in words."""
    match logged:
        case Added():
            lot = f", lot {logged.lot}" if logged.lot else ""
            return f"{logged.ingredient} in", f"{logged.grams:g} g{lot}"
        case Taken():
            return f"taken out ({logged.why})", f"{logged.grams:g} g"
        case Reading():
            return "temperature", f"{logged.celsius:g} °C"
        case Readings():
            return "thermometer's file", f"{len(logged.celsius)} readings over {logged.minutes[-1]:.0f} min"
        case Happened():
            return logged.what, "" if logged.celsius is None else f"{logged.celsius:g} °C"
        case Drip():
            colour = f"colour {logged.colour}" if logged.colour else ""
            return "drip", ", ".join(each for each in (logged.felt, colour) if each)
        case Filled():
            return "filled", f"{len(logged.fills_g)} of {sum(logged.fills_g):g} g together"
        case Judged():
            return "judged", judged_words(logged).partition(": ")[2].rstrip(".")
    raise TypeError(f"{type(logged).__name__} is not logged on a batch's day")
