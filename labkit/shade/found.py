"""What the panel shows of the blends that were found for a wanted colour."""

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from labkit.colour.cie import delta_e00, hex_of_lab
from labkit.shade.compare_plot import wanted_figure
from labkit.shade.film_colour import predict
from labkit.shade.load_sweep import BAND
from labkit.shade.many import predict_many
from labkit.shade.verdict import BANDS, verdict
from labkit.shade.weighing import weighing_effect
from labkit.shade.wish_form import Wanted
from labkit.ui.figure import picture
from labkit.ui.parts import sentences
from labkit.ui.text import Html, html, joined, table

if TYPE_CHECKING:
    from labkit.shade.trial import ShadeTrial

FILMS = np.arange(2.0, 25.0, 1.0)
SHEER_UM, FULL_UM = 5.0, 20.0
SAYS = {
    "match": "should match",
    "close": "should come close",
    "visible": "may differ visibly",
    "different": "may well look different",
}
"""By what half of the draws of the pigments' optics stay within."""


def blend_in(found: pd.DataFrame, at: int) -> dict[str, float]:
    """Return mass % by pigment of a row of what `find_shade` found."""
    row = found.iloc[at]
    return {name: float(row[name]) for name in pigments_in(found) if row[name] > 0}


def pigments_in(found: pd.DataFrame) -> list[str]:
    """Return the columns of `find_shade` that are pigments."""
    return list(found.columns[: found.columns.get_loc("load")])


def found_words(found: pd.DataFrame, wish: Wanted) -> list[str]:
    """Return what was found, the answer first."""
    if found.empty:
        return ["Nothing was found: tick more pigments, or allow more of them."]
    best = found.iloc[0]
    says = SAYS[verdict(best["delta_e00_median"])]
    low, high = best["delta_e00_low"], best["delta_e00_high"]
    blend = said_blend(blend_in(found, 0))
    words = [
        f"{_to_add(found)}Blend 1 {says}: {blend}.",
        f"It lies {best['delta_e00']:.1f} ΔE00 from the colour you want, in a film of {wish.film_um:g} µm "
        f"over {wish.backing}. Once poured, expect {low:.1f} to {high:.1f}, 9 times in 10. The forecast "
        f"rests on {best['rests_on'].replace(', ', ' and ').replace('estimate', 'estimates')}.",
    ]
    if verdict(best["delta_e00"]) == "different":
        words.append("These pigments cannot give that colour at this load: the strips show the nearest.")
    return [*words, *(each for each in found.attrs["remarks"] if not each.startswith("Once poured"))]


def _to_add(found: pd.DataFrame) -> str:
    """Return what to add to the pot for the first blend; nothing where there is no pot."""
    grams = {
        name.removeprefix("add ").removesuffix(" (g)"): found[name].iloc[0]
        for name in found.columns
        if name.startswith("add ")
    }
    listed = ", ".join(f"{gram:.2f} g {name}" for name, gram in grams.items() if gram >= 0.005)
    return f"Add {listed}. " if listed else ""


def worth_showing(found: pd.DataFrame) -> pd.DataFrame:
    """Return the blends that are not visibly further from the wanted colour than the best."""
    return found[found["delta_e00"] <= found["delta_e00"].iloc[0] + BANDS["visible"]]


def said_blend(blend: dict[str, float]) -> str:
    """Return a blend in words, the most first.

    >>> said_blend({"ultramarine": 0.5, "red iron oxide": 6})
    'red iron oxide 6.00 %, ultramarine 0.50 %'
    """
    ordered = sorted(blend.items(), key=lambda each: -each[1])
    return ", ".join(f"{name} {percent:.2f} %" for name, percent in ordered)


def found_picture(trial: "ShadeTrial", wish: Wanted, found: pd.DataFrame) -> Html:
    """Return strips, sentences and figures of what was found."""
    words = found_words(found, wish)
    if found.empty:
        return sentences(words)
    figure = wanted_figure(_strips(trial, wish, found), wish.lab, FILMS)
    return joined(
        [
            sentences(words[:1]),
            picture(figure, " ".join(words)),
            sentences(words[1:], first=False),
            html('<div class="labkit-wide">{}</div>', _figures(trial, wish, found)),
            html('<div class="labkit-wide">{}</div>', _weighing(trial, wish, found)),
        ]
    )


def _strips(trial: "ShadeTrial", wish: Wanted, found: pd.DataFrame) -> list[tuple[str, np.ndarray]]:
    names = pigments_in(found)
    loads = found[names].to_numpy()
    along = [
        predict_many(loads, names, film, wish.backing, trial.learned.pigments, trial.medium) for film in FILMS
    ]
    return [(f"blend {at + 1}", lab) for at, lab in enumerate(np.stack(along, axis=1))]


def _figures(trial: "ShadeTrial", wish: Wanted, found: pd.DataFrame) -> Html:
    names = pigments_in(found)
    adds = [name for name in found.columns if name.startswith("add ")]
    rows = [[f"blend {at + 1}", *_row(trial, wish, found, at, adds)] for at in range(len(found))]
    films = [f"in {film:g} µm" for film in _films(wish)]
    heads = ["", *adds, *names, "load", "wanted", *films]
    caption = "In % of the finished product; under each forecast its ΔE00 from the wanted colour (9 in 10)"
    return table(heads, rows, caption)


def _films(wish: Wanted) -> list[float]:
    """Return the asked film, and a sheer and a full one."""
    return sorted({SHEER_UM, wish.film_um, FULL_UM})


def _row(trial: "ShadeTrial", wish: Wanted, found: pd.DataFrame, at: int, adds: list[str]) -> list[object]:
    row = found.iloc[at]
    shares = [f"{row[name]:.2f}" if row[name] > 0 else "" for name in pigments_in(found)]
    colours = [_in_film(trial, wish, blend_in(found, at), film) for film in _films(wish)]
    added = [f"{row[name]:.2f}" for name in adds]
    return [*added, *shares, f"{row['load']:.2f} %", square(hex_of_lab(wish.lab)), *colours]


def _in_film(trial: "ShadeTrial", wish: Wanted, blend: dict[str, float], film_um: float) -> Html:
    """Return the forecast in a film: its colour, and how far it lies from the wanted one."""
    forecast = predict(blend, film_um, wish.backing, trial.learned.pigments, trial.medium)
    low, high = np.percentile(delta_e00(forecast.drawn, wish.lab), BAND)
    delta = float(delta_e00(forecast.lab, wish.lab))
    return html("{}<br>{}", square(forecast.hex), f"{delta:.1f} ({low:.1f} to {high:.1f})")


def square(code: str) -> Html:
    """Return a square of a colour, with its code as text."""
    style = f"display:inline-block;width:2.6em;height:1.6em;vertical-align:middle;background:{code}"
    return html('<span style="{}" role="img" aria-label="{}"></span> {}', Html(style), code, code)


def _weighing(trial: "ShadeTrial", wish: Wanted, found: pd.DataFrame) -> Html:
    """Return what the scale or a spoon does to the colour of the first blend, for the trial's batch."""
    told = weighing_effect(
        blend_in(found, 0), trial.question.batch_g, trial.question.step_g, film_um=wish.film_um,
        backing=wish.backing, pigments=trial.learned.pigments, medium=trial.medium,
    )  # fmt: skip
    rows = [
        [each["way"], f"{each['delta_e00_median']:.1f}", f"{each['delta_e00_90']:.1f}", each["matters_most"]]
        for _, each in told.iterrows()
    ]
    batch = f"What weighing does to blend 1 in a batch of {trial.question.batch_g:g} g"
    return table(["measured with", "half below, ΔE00", "9 in 10 below, ΔE00", "mostly from"], rows, batch)
