"""A trial told in a notebook: one plain line for each thing that its panel shows."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from labkit.quantities import in_ten
from labkit.texture import plot, wording
from labkit.texture.learn import SET_FROM, learn
from labkit.texture.outcomes import Outcomes, outcomes, outcomes_words, rung_residuals
from labkit.texture.outcomes_plot import outcomes_figure
from labkit.texture.record import HELD
from labkit.texture.region import Region
from labkit.texture.source import counted
from labkit.texture.standing import PROCESS
from labkit.texture.trial import TextureTrial
from labkit.texture.trials_plot import trials_figure
from labkit.texture.usual import base_shares
from labkit.times import now, spoken

if TYPE_CHECKING:
    from matplotlib.figure import Figure


SAME = 0.005
"""Shares this near are one recipe."""


def tell(trial: TextureTrial) -> None:
    """Print where a trial stands, what its map is about, and what to know beside it."""
    lines = [trial.name, *wording.standing(trial, now()), wording.about(trial)]
    lines += [*wording.loaded(trial), *wording.remarks(trial), *wording.cautions(trial)]
    print(*lines, sep="\n")


def map_figure(trial: TextureTrial, suggestion: pd.DataFrame | None = None, stamp: str = "") -> "Figure":
    """Draw a trial's map with its pours, and where to pour next.

    Raises
    ------
    LabError
        Before the first note.
    """
    return plot.map_figure(map_of(trial, trial.next_pour() if suggestion is None else suggestion, stamp))


def map_of(trial: TextureTrial, suggestion: pd.DataFrame, stamp: str = "") -> plot.Map:
    """Return what a trial's map is drawn from."""
    last = trial.words().sort_values("hours").groupby("cast")["word"].last()
    pours = trial.pours().drop_duplicates("entry", keep="last")
    pours = pours[pours["entry"].isin(trial.readings()["cast"])]
    return plot.Map(
        trial.fitted(),
        trial.region,
        trial.question.wanted,
        pours.assign(word=pours["entry"].map(last).fillna("")),
        suggestion,
        trial.question.held_fraction,
        stamp=stamp,
    )


def words_figure(trial: TextureTrial) -> "Figure":
    """Draw each pour's words against hours, with the forecast for the last three pours.

    Raises
    ------
    LabError
        Before the first note.
    """
    labels = {cast.entry: cast.label for cast in trial.casts}
    notes, model = trial.words(), trial.fitted()
    notes["pour"] = notes["cast"].map(labels)
    hours = list(np.geomspace(0.25, 168, 30))
    latest = notes.drop_duplicates("cast").tail(3)
    curves = {
        row["pour"]: model.set_curve(
            pd.DataFrame([row[list(trial.question.parts)]], dtype=float), hours, cast
        )
        for cast, row in latest.set_index("cast").iterrows()
    }
    axes: Any = plot.plot_words(notes, model.scale, trial.question.wanted, curves)
    axes.set_title("Your words as the sticks set (lines: the forecast)")
    return axes.figure


def region_words(region: Region, held_fraction: float = 0.0) -> str:
    """Return what a trial may pour: each part from low to high in % of the product, how many corners.

    >>> region_words(Region({"oil": (0.6, 0.9), "wax": (0.1, 0.5)}), held_fraction=0.1)
    'You may pour oil 54 to 81 %, wax 9 to 36 % of the finished product: 2 corners.'
    """
    corners = 100 * (1 - held_fraction) * region.corners()
    parts = ", ".join(
        f"{part} {low}" + (f" to {high}" if high != low else "") + " %"
        for part, low, high in (
            (part, f"{corners[part].min():.0f}", f"{corners[part].max():.0f}") for part in region.parts
        )
    )
    if len(corners) == 1:
        return f"You may pour one composition alone: {parts} of the finished product."
    return f"You may pour {parts} of the finished product: {len(corners)} corners."


def pours_table(trial: TextureTrial) -> pd.DataFrame:
    """Return the pours to read: when, % of the finished product, shares of the base in %."""
    pours, parts = trial.pours(), list(trial.question.parts)
    held = [HELD] if trial.question.held_fraction else []
    product = {f"{part}, % of product": pours[f"{part} %"].astype(float).round(1) for part in [*parts, *held]}
    base = {f"{part}, % of base": (100 * pours[part].astype(float)).round(1) for part in parts}
    when = [spoken(each.to_pydatetime()) for each in pours["poured"]]
    return _by_pour(pours, {"poured": when, **product, **base})


def notes_table(trial: TextureTrial) -> pd.DataFrame:
    """Return the notes to read: when after the pour, the word, and what was written beside it."""
    notes = trial.notes()
    columns = {
        "felt after": [wording.hours_words(hours) for hours in notes["hours"]],
        "what": [wording.said(row) for _, row in notes.iterrows()],
        "stick or pot": notes["form"],
        "room, °C": [f"{each:g}" if pd.notna(each) else "" for each in notes["room_c"]],
        "remark": notes["remark"].fillna(""),
    }
    return _by_pour(notes, columns)


def next_table(trial: TextureTrial, pours: int = 1) -> pd.DataFrame:
    """Return where to pour next, to read: why, % of the finished product, the chance of the wanted word.

    Raises
    ------
    LabError
        Before the first note.
    """
    suggested, product = trial.next_pour(pours), 100 * (1 - trial.question.held_fraction)
    shares = {f"{part}, % of product": (product * suggested[part]).round(1) for part in trial.question.parts}
    chance = [in_ten(each) for each in suggested["chance"]]
    columns = {"why": suggested["why"], **shares, f"chance of “{trial.question.wanted}”": chance}
    return pd.DataFrame(columns).set_axis(range(1, len(suggested) + 1)).rename_axis("next")


def _by_pour(table: pd.DataFrame, columns: Mapping[str, Any]) -> pd.DataFrame:
    shown = {name: list(column) for name, column in columns.items()}
    return pd.DataFrame(shown, index=pd.Index(table["pour"], name="pour"))


def summary(trial: TextureTrial) -> dict[str, Any]:
    """Return a trial in a few rounded figures, for whoever runs its notebook again."""
    best = trial.likeliest if trial.model else None
    return {
        "pours": len(trial.casts),
        "notes": len(trial.notes()),
        "most likely right": {part: round(float(best[part]), 2) for part in trial.question.parts}
        if best is not None
        else {},
        "chance": round(float(best["chance"]), 1) if best is not None else None,
    }


def how_pours_vary(trial: TextureTrial) -> Outcomes:
    """Return how outcomes vary: notes on a pour, pours of a recipe, days, testers, lots, ways of making."""
    pours = trial.pours().drop_duplicates("entry", keep="last").set_index("entry")
    rows = trial.words().join(pours[["poured", *PROCESS]], on="cast")
    residual = rung_residuals(trial.fitted(), rows) if len(rows) else np.empty(0)
    return outcomes(rows, residual, list(trial.question.parts), trial.question.ladder)


def vary_figure(trial: TextureTrial) -> "Figure":
    """Draw how outcomes vary, a row for each source with its 90 % interval, and the repeats themselves."""
    return outcomes_figure(how_pours_vary(trial))


def vary_words(trial: TextureTrial) -> list[str]:
    """Return how outcomes vary in sentences, the most important first."""
    return outcomes_words(how_pours_vary(trial))


def trials_table(trial: TextureTrial) -> pd.DataFrame:
    """Return this trial and the earlier ones of its parts and words at their usual recipes, the oldest first.

    A row for each word that was felt on a set stick of the usual, or one with nan where there is
    none: "trial", "hardness" and "sd" there by its own notes alone, "rung", and "wordless", what was
    noted in a trial without a word.

    Raises
    ------
    LabError
        Before the first note.
    """
    found = []
    for entry in sorted([trial.entry, *(each.entry for each in trial.olds)]):
        one = trial if entry == trial.entry else TextureTrial(trial.book, entry)
        usual = pd.DataFrame([base_shares(one.question.usual)])[list(one.question.parts)]
        told = (learn(one) or one.fitted()).predict(usual).iloc[0]
        words = one.words()
        near = (words[list(one.question.parts)].astype(float) - usual.iloc[0]).abs().max(axis=1) <= SAME
        set_words = words[near & (words["hours"] >= SET_FROM * wording.FAIR_AFTER_H)]["word"]
        rungs = [float(one.question.ladder.index(word)) for word in set_words] or [np.nan]
        here = [one.name, float(told["hardness"]), float(told["sd"])]
        found += [[*here, rung, "" if len(words) else _beside_words(one)] for rung in rungs]
    return pd.DataFrame(found, columns=["trial", "hardness", "sd", "rung", "wordless"])


def _beside_words(trial: TextureTrial) -> str:
    """Return how many readings and comparisons a trial has."""
    notes = trial.readings()
    counts = {"reading": notes["reading"].notna().sum(), "comparison": (notes["relation"] != "").sum()}
    return " and ".join(counted(int(count), what) for what, count in counts.items() if count)


def earlier_figure(trial: TextureTrial) -> "Figure":
    """Draw how hard the usual came out in this trial and in earlier ones of the same parts and words.

    Raises
    ------
    LabError
        Before the first note.
    """
    return trials_figure(trials_table(trial), trial.question.ladder)
