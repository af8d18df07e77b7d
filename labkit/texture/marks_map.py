"""Marks out of ten (glide, drag, payoff, breakage, warmth) over the same triangle as hardness."""

from typing import TYPE_CHECKING

import pandas as pd

from labkit.book.record import declarations
from labkit.texture import plot
from labkit.texture.hardness import HardnessModel
from labkit.texture.record import MARKED, Note
from labkit.texture.trial import TextureTrial
from labkit.texture.wording import MAP_FROM_POURS

if TYPE_CHECKING:
    from matplotlib.figure import Figure

TEN = tuple(str(mark) for mark in range(11))
"""Marks as a ladder of eleven rungs: their noise and curve are learnt as those of words are."""


def marked(trial: TextureTrial) -> list[str]:
    """Return the marks that enough pours have for a map of their own."""
    notes = trial.marks()
    counts = {mark: notes.loc[notes[mark].notna(), "cast"].nunique() for mark in MARKED}
    return [mark for mark, pours in counts.items() if pours >= MAP_FROM_POURS]


def mark_model(trial: TextureTrial, mark: str) -> HardnessModel:
    """Return the surface of one mark, fitted to all notes that have it; no part leans it either way.

    Raises
    ------
    LabError
        Where no note has it.
    """
    notes = trial.marks()
    notes = notes[notes[mark].notna()]
    words = [TEN[int(each)] for each in notes[mark]]
    return HardnessModel(TEN, hardens=()).fit(
        notes[list(trial.question.parts)].astype(float), words, None, notes["cast"].to_list()
    )


def mark_label(mark: str) -> str:
    """Return what a mark is called on the screen."""
    return declarations(Note)[mark].label


def mark_figure(trial: TextureTrial, mark: str) -> "Figure":
    """Draw one mark over the composition, 0 none to 10 most, with the pours that have it."""
    notes = trial.marks()
    notes = notes[notes[mark].notna()]
    last = notes.groupby("cast")[mark].last()
    pours = trial.pours().drop_duplicates("entry", keep="last")
    pours = pours[pours["entry"].isin(last.index)].assign(word="")
    shown = plot.Map(
        mark_model(trial, mark), trial.region, TEN[-1], pours, pd.DataFrame(),
        trial.question.held_fraction, what=f"{mark_label(mark)}, 0 to 10,",
    )  # fmt: skip
    return plot.map_figure(shown, ["hardness"])
