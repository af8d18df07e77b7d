"""The weigh card: what to weigh for each pour, on the screen and on paper."""

from collections.abc import Sequence

import pandas as pd

from labkit.errors import LabError
from labkit.texture.record import PlannedPour
from labkit.texture.stock_error import composition_error, error_words, rung_error, slope_at
from labkit.texture.trial import TextureTrial
from labkit.texture.usual import base_shares
from labkit.texture.weigh import shown_grams
from labkit.times import now
from labkit.ui.parts import sentences
from labkit.ui.text import Html, html, joined, table

EMPTY = "Nothing is on the card. Once you have felt what you poured, ask for the next pour, or plan several."
BY_HAND = ("poured, time", "hottest, °C", "pour temperature, °C", "sticks, pots", "remark")
"""What is written on the paper at the stove."""


def card(trial: TextureTrial) -> Html:
    """Return the weigh card: on paper with its trial, its day and room for what was really weighed."""
    pours = trial.waiting
    if not pours:
        return html("<p>{}</p>", EMPTY)
    stocks = _stocks(trial, pours)
    screen = html('<div class="labkit-wide labkit-screen">{}</div>', _grams(trial, pours))
    heads = [html("<h1>{}</h1><p>{}</p>", trial.name, f"{now():%A} {now().day} {now():%B %Y}")]
    paper = html('<div class="labkit-paper">{}{}</div>', joined(heads), _grams(trial, pours, by_hand=True))
    why = sentences((f"Pour {pour.number}: {pour.why}." for pour in pours if pour.why), first=False)
    said = sentences([*_outside(trial, pours), *trial.weighing.remarks()], first=False)
    return joined([screen, paper, stocks, why, said])


def _stocks(trial: TextureTrial, pours: Sequence[PlannedPour]) -> Html:
    """Return the same pours in grams of each stock melt; nothing where there are fewer than two."""
    if len(trial.melts.melts) < 2:
        return Html("")
    rows, whys = {name: list[str]() for name in trial.melts.names}, dict[str, list[str]]()
    for pour in pours:
        grams, why = trial.melts.nearest(pour)
        if why:
            whys.setdefault(why, []).append(str(pour.number))
        for name, cells in rows.items():
            cells.append(_cell(grams[name], trial) if grams else "–")
    grid = table(
        ["grams", *(f"Pour {pour.number}" for pour in pours)],
        [[name, *cells] for name, cells in rows.items()],
        "The same base from your stock melts",
        numbers=len(pours),
    )
    said = [f"Pour {', '.join(numbers)}: {why}" for why, numbers in whys.items()]
    said += _stock_error(trial, pours)
    return html('<div class="labkit-wide">{}</div>{}', grid, sentences(said, first=False))


def _stock_error(trial: TextureTrial, pours: Sequence[PlannedPour]) -> list[str]:
    """Return what the weighing of stocks does to the map, once there is one."""
    reached = [grams for pour in pours if (grams := _from_stocks(trial, pour))]
    if trial.model is None or not reached:
        return []
    parts, step = trial.question.parts, trial.question.step_g
    error = composition_error(pd.DataFrame(reached), trial.melts.stocks, step, parts=parts)
    at = {part: float(trial.likeliest[part]) for part in parts}
    return [error_words(rung_error(error, slope_at(trial.model, at)))]


def _from_stocks(trial: TextureTrial, pour: PlannedPour) -> dict[str, float]:
    """Return grams of each stock for a pour; nothing where they cannot give it."""
    try:
        return trial.melts.planned(pour)
    except LabError:
        return {}


def _outside(trial: TextureTrial, pours: Sequence[PlannedPour]) -> list[str]:
    """Return which pours the bounds do not allow: the bounds were changed, or a second question asked."""
    parts = trial.question.parts
    usual = base_shares(trial.question.usual)
    inside = trial.region.contains([[pour.shares[part] for part in parts] for pour in pours])
    out = [
        str(pour.number)
        for pour, here in zip(pours, inside, strict=True)
        if not here and pour.shares != usual
    ]
    return [f"Outside your bounds: pour {', '.join(out)}."] if out else []


def _grams(trial: TextureTrial, pours: Sequence[PlannedPour], by_hand: bool = False) -> Html:
    """Return the table of grams; by hand with an empty column beside each pour, and lines for the stove."""
    names = [each.name for each in trial.question.usual]
    columns = [trial.grams(pour) for pour in pours]
    rows = [[name, *(_cell(grams[name], trial) for grams in columns)] for name in names]
    rows.append(["together", *(_cell(sum(grams.values()), trial) for grams in columns)])
    days = max(pour.day for pour in trial.planned) > 1
    heads = [f"Pour {pour.number}" + (f", day {pour.day}" if days else "") for pour in pours]
    if by_hand:
        heads = [head for each in heads for head in (each, "weighed")]
        rows = [[row[0], *(cell for each in row[1:] for cell in (each, ""))] for row in rows]
        rows += [[line, *[""] * len(heads)] for line in BY_HAND]
    return table(["grams", *heads], rows, "Weigh card", numbers=len(heads))


def _cell(grams: float, trial: TextureTrial) -> str:
    return shown_grams(grams, trial.question.step_g)
