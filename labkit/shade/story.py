"""A shade trial told line by line: sentences, tables and pictures for a notebook."""

from typing import TYPE_CHECKING

import pandas as pd

from labkit.colour.cie import hex_of_lab
from labkit.errors import LabError
from labkit.shade import compare_plot, plot, wording
from labkit.shade.learned import lab_read, pigments_of
from labkit.shade.trial import ShadeTrial

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def tell(trial: ShadeTrial) -> None:
    """Print where a trial stands and what its sweep shows."""
    for said in (*wording.standing(trial), *_swept(trial)):
        print(said)


def _swept(trial: ShadeTrial) -> list[str]:
    return wording.sweep_words(trial.sweep(), trial.question.film_um, trial.enough())


def tell_swatches(trial: ShadeTrial) -> None:
    """Print how forecasts fared against swatches, and how repeats vary."""
    for said in (*wording.told_words(trial.told()), *wording.repeats_words(trial.repeats())):
        print(said)


def strips_figure(trial: ShadeTrial) -> "Figure":
    """Draw the strips of forecast colour by load and film, over each backing."""
    return plot.strips_figure(trial.sweep())


def coverage_figure(trial: ShadeTrial) -> "Figure":
    """Draw coverage against load."""
    return plot.coverage_figure(trial.sweep(), trial.question.film_um, trial.enough())


def path_figure(trial: ShadeTrial) -> "Figure":
    """Draw the way of the colour from sheer to full in CIELAB."""
    return plot.path_figure(trial.sweep(), trial.question.film_um)


def told_figure(trial: ShadeTrial) -> "Figure":
    """Draw each swatch beside its forecast."""
    return compare_plot.told_figure(trial.told())


def repeats_figure(trial: ShadeTrial) -> "Figure":
    """Draw how repeat swatches vary within and between batches.

    Raises
    ------
    LabError
        Where nothing was swatched twice.
    """
    if not (sets := trial.repeat_sets()):
        raise LabError("Nothing was swatched twice yet: repeat one blend, film and backing.")
    return compare_plot.repeats_figure(sets)


def swatches_table(trial: ShadeTrial) -> pd.DataFrame:
    """Return the swatches: when, mass % of each pigment, film, backing, L, a, b, hex, batch."""
    table = trial.swatches()
    pigments = pigments_of(table.columns)
    lab = pd.DataFrame(
        [lab_read(row) for _, row in table.iterrows()], columns=["L", "a", "b"], index=table.index
    )
    told = table[["swatched", *pigments, "film_um", "backing", "batch"]].assign(**lab)
    return told.assign(hex=hex_of_lab(lab.to_numpy()) if len(lab) else [])


def summary(trial: ShadeTrial) -> pd.DataFrame:
    """Return a few rounded figures of the trial, to compare between runs."""
    rows = trial.sweep().query("film_um == @trial.question.film_um")
    middle = rows[rows["load"] == sorted(rows["load"].unique())[len(rows["load"].unique()) // 2]]
    columns = ["load", "backing", "L", "a", "b", "contrast_ratio"]
    return (
        middle[columns].round({"load": 1, "L": 0, "a": 0, "b": 0, "contrast_ratio": 2}).reset_index(drop=True)
    )
