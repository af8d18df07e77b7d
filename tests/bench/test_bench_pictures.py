"""What the pictures cost after a word is saved: read the ratio to a plain filled plot of the same points.

The pictures: both maps and the words against hours, of 20 pours with two notes each, as the
panel draws them. Beside them: pyplot's own triangulation, two filled plots and a scatter plot of
words, with nothing written on them. The fit itself is not counted.
"""

import io

import matplotlib as mpl
import numpy as np
import pandas as pd
import pytest

from labkit.texture.hardness import HardnessModel
from labkit.texture.plot import Map, map_figure, plot_words
from labkit.texture.region import Region
from labkit.texture.sheets import sheets_of
from labkit.ui.figure import png

mpl.use("agg")

POURS, WORDS, HOURS = 20, ["smears", "soft", "right", "firm", "hard"], (2.0, 48.0)
REGIONS = {
    3: {"butter": (0.2, 0.6), "oil": (0.2, 0.6), "wax": (0.1, 0.3)},
    5: {**dict.fromkeys(["shea", "mango", "castor", "jojoba"], (0.05, 0.5)), "wax": (0.1, 0.3)},
}


@pytest.fixture(params=REGIONS, ids=lambda parts: f"{parts} parts")
def trial(request):
    """An invented trial: the fitted model, region, pours and notes."""
    region, rng = Region(REGIONS[request.param]), np.random.default_rng(request.param)
    shares = pd.DataFrame(rng.permutation(region.grid(200))[:POURS], columns=list(region.parts))
    set_at = 2 + 14 * (shares["wax"].to_numpy() - 0.2)
    felt = set_at[:, None] - 2 * np.exp(-0.12 * np.array(HOURS)) + rng.normal(0, 0.3, (POURS, len(HOURS)))
    words = [WORDS[rung] for rung in np.clip(felt.round().astype(int), 0, len(WORDS) - 1).ravel()]
    pour = np.repeat(np.arange(POURS), len(HOURS))
    notes = pd.DataFrame({"pour": pour, "hours": np.tile(HOURS, POURS), "word": words})
    model = HardnessModel(WORDS).fit(shares.iloc[pour], words, notes["hours"], pour)
    return model, region, shares.assign(pour=range(POURS), word=words[1::2]), notes


def draw(model, region, pours, notes):
    shown = Map(model, region, "right", pours, pours.head(1), held=0.1)
    parts, hours = list(region.parts), list(np.geomspace(0.25, 168, 30))
    curves = {
        pour: model.set_curve(pours[parts].iloc[[pour]], hours, pour) for pour in range(POURS - 3, POURS)
    }
    figures = [map_figure(shown, ["hardness"]), map_figure(shown, ["chance"])]
    return [png(each) for each in [*figures, plot_words(notes, WORDS, "right", curves).figure]]


@pytest.mark.benchmark(group="20 pours: both maps and the words")
def test_labkit(benchmark, trial):
    pictures = benchmark(draw, *trial)
    assert all(each.startswith(b"\x89PNG") for each in pictures)


def draw_plainly(model, region, notes):
    from matplotlib import pyplot

    points = [sheet.mesh[0] for sheet in sheets_of(region)]
    told = [model.predict(pd.DataFrame(each, columns=list(region.parts))) for each in points]
    figures = []
    for what in ("hardness", "right"):
        figure, axes = pyplot.subplots(len(points), squeeze=False, figsize=(5.6, 5.0 * len(points)))
        for ax, each, table, sheet in zip(axes[:, 0], points, told, sheets_of(region), strict=True):
            ax.tricontourf(*each[:, sheet.columns(sheet.free[:2])].T, table[what])
        figures.append(figure)
    figure, ax = pyplot.subplots(figsize=(8.8, 3.7))
    ax.scatter(notes["hours"], [WORDS.index(word) for word in notes["word"]])
    for each in [*figures, figure]:
        each.savefig(io.BytesIO(), format="png", dpi=110)
        pyplot.close(each)


@pytest.mark.benchmark(group="20 pours: both maps and the words")
def test_pyplot(benchmark, trial):
    model, region, _, notes = trial
    benchmark(draw_plainly, model, region, notes)
