"""A trial told in a notebook: one plain line for each thing that its panel shows."""

from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from labkit.texture import plot, wording
from labkit.texture.trial import TextureTrial, now

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def tell(trial: TextureTrial) -> None:
    """Print where a trial stands, what its map is about, and what to know beside it."""
    lines = [trial.name, *wording.standing(trial, now()), wording.about(trial), *wording.remarks(trial)]
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
    notes = trial.readings().sort_values("hours")
    pours = trial.pours().drop_duplicates("entry", keep="last")
    last = notes.groupby("cast")["word"].last()
    return plot.Map(
        trial.fitted(),
        trial.region,
        trial.question.wanted,
        pours[pours["entry"].isin(last.index)].assign(word=lambda frame: frame["entry"].map(last)),
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
    notes, parts = trial.readings(), list(trial.question.parts)
    model = trial.fitted()
    hours = np.geomspace(0.25, 168, 40)
    latest = notes.drop_duplicates("cast").tail(3)
    curves = {
        row["pour"]: model.set_curve(pd.DataFrame([row[parts]], dtype=float), list(hours))
        for _, row in latest.iterrows()
    }
    axes: Any = plot.plot_words(notes, model.scale, trial.question.wanted, curves)
    axes.set_title("Your words as the sticks set (line and band: the forecast, 9 in 10 inside)")
    return axes.figure


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
