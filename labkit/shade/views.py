"""What the shade panel shows: the sweep, forecast against swatches, the swatches, the kept blends."""

from typing import TYPE_CHECKING

import pandas as pd

from labkit.colour.cie import hex_of_lab
from labkit.quantities import show_grams
from labkit.rules import CAUTION, market_table
from labkit.shade.compare_plot import repeats_figure, told_figure
from labkit.shade.found import said_blend, square
from labkit.shade.learned import blend_of, lab_read
from labkit.shade.plot import coverage_figure, path_figure, strips_figure
from labkit.shade.wording import repeats_words, sweep_words, told_words
from labkit.times import spoken
from labkit.ui.figure import picture
from labkit.ui.parts import sentences
from labkit.ui.text import Html, html, joined, table

if TYPE_CHECKING:
    from labkit.shade.trial import ShadeTrial

FEW_STEPS = 10
"""A line of fewer steps of the scale is weighed to worse than a tenth."""
POWDERS = (
    "Fine powders: raise no dust, wear a mask. Take cosmetic grade with a certificate for lips only: soap-, "
    "candle- and art-grade colours do not belong there. Pearls, interference mica and staining dyes are not "
    "forecast."
)


def sweep_pictures(trial: "ShadeTrial", told: pd.DataFrame) -> Html:
    """Return the strips, coverage and the path of the colour, with what they say."""
    film = trial.question.film_um
    enough = trial.enough()
    said = sweep_words(told, film, enough)
    strips = picture(strips_figure(told), f"Strips of the forecast colour by load and film. {said[0]}")
    pair = joined(
        [
            picture(coverage_figure(told, film, enough), f"Coverage against load. {' '.join(said)}"),
            picture(path_figure(told, film), "The way of the colour from sheer to full in CIELAB."),
        ]
    )
    return joined(
        [strips, sentences(said), html('<div class="labkit-pictures">{}</div>', pair), _screen_words(told)]
    )


def _screen_words(told: pd.DataFrame) -> Html:
    sd = told[["L_sd", "a_sd", "b_sd"]].pow(2).sum(axis=1).pow(0.5).median()
    return sentences(
        [
            "A screen shows these colours only roughly: trust the figures. What is not known of the pigments "
            f"leaves about ±{sd:.0f} in L*a*b* (one standard deviation)."
        ],
        first=False,
    )


def rules_table(trial: "ShadeTrial") -> Html:
    """Return what the trial's market says of its pigments on lips, with the citations."""
    told = market_table(trial.pigment_names, trial.question.market)
    rows = [[row.colourant, row.ci, _status(row), row.why, _cited(row)] for row in told.itertuples()]
    grid = table(["pigment", "CI number", "on lips", "why", "rule"], rows, f"Lips, {trial.question.market}")
    return joined(
        [html('<div class="labkit-wide">{}</div>', grid), sentences([CAUTION, POWDERS], first=False)]
    )


def _status(row: object) -> str:
    limit = row.limit_percent  # type: ignore[attr-defined]
    at_most = "" if limit is None or limit != limit else f", at most {limit:g} %"
    return f"{row.status}{at_most}"  # type: ignore[attr-defined]


def _cited(row: object) -> Html:
    citation, link = row.citation, row.link  # type: ignore[attr-defined]
    if not link:
        return html("{}", citation)
    return html('<a href="{}" target="_blank" rel="noopener">{}</a>', link, citation)


def card(trial: "ShadeTrial") -> Html:
    """Return what to weigh for the lowest, the middle and the highest load of the trial's batch."""
    asked = trial.question
    loads = (asked.low_load, (asked.low_load + asked.high_load) / 2, asked.high_load)
    columns = [trial.grams(load) for load in loads]
    rows = [[name, *(show_grams(grams[name], asked.step_g) for grams in columns)] for name in columns[0]]
    heads = ["grams", *(f"{load:g} %" for load in loads)]
    caption = f"To weigh for {asked.batch_g:g} g of the product, by load of pigment"
    grid = table(heads, rows, caption, numbers=len(loads))
    return joined([grid, sentences([*_too_little(columns, asked.step_g), POWDERS], first=False)])


def _too_little(columns: list[dict[str, float]], step_g: float) -> list[str]:
    """Return which lines are so small that the scale's step matters."""
    small = [grams[name] for grams in columns for name in grams if 0 < grams[name] < FEW_STEPS * step_g]
    if not small:
        return []
    off = 100 * step_g / min(small)
    return [
        f"{show_grams(min(small), step_g)} g on a scale of {step_g:g} g may be {off:.0f} % off: make more at "
        "once, or weigh a mix of that pigment in oil."
    ]


def told_pictures(trial: "ShadeTrial") -> Html:
    """Return forecast against swatches, and how repeats vary."""
    told = trial.told()
    if told.empty:
        return sentences(["No swatch yet."], first=False)
    said = told_words(told)
    return joined(
        [
            sentences(said),
            picture(told_figure(told), " ".join(said)),
            _learned_table(trial),
            sentences(trial.misfits(), first=False),
            _repeats(trial),
        ]
    )


def _repeats(trial: "ShadeTrial") -> Html:
    said = repeats_words(trial.repeats())
    sets = trial.repeat_sets()
    drawn = picture(repeats_figure(sets), " ".join(said)) if sets else Html("")
    return html("{}{}", drawn, sentences(said, first=False))


def _learned_table(trial: "ShadeTrial") -> Html:
    told = trial.what_was_learned()
    if told.empty:
        return Html("")
    rows = [
        [row["pigment"], row["swatches"], *(_factor(row, what) for what in ("absorption", "scattering"))]
        for _, row in told.iterrows()
    ]
    heads = ["pigment", "swatches", "absorbs", "scatters"]
    return html('<div class="labkit-wide">{}</div>', table(heads, rows, "What your swatches changed"))


def _factor(row: pd.Series, what: str) -> str:
    return f"× {row[what]:.2f} (9 in 10: {row[f'{what}_low']:.2f} to {row[f'{what}_high']:.2f})"


def swatch_log(trial: "ShadeTrial") -> Html:
    """Return the swatches, one row each."""
    rows = []
    for number, (_, row) in enumerate(trial.swatches().iterrows(), 1):
        film = "thick" if row["film_um"] == float("inf") else f"{row['film_um']:.1f} µm"
        lab = lab_read(row)
        colour = html("{} {}", square(hex_of_lab(lab)), "{:.1f} {:.1f} {:.1f}".format(*lab))
        backing = row["backing"] if isinstance(row["backing"], str) else "my own"
        rows.append(
            [
                number,
                spoken(row["swatched"].to_pydatetime()),
                said_blend(blend_of(row)),
                film,
                backing,
                colour,
                row["batch"],
            ]
        )
    heads = ["", "swatched", "blend", "film", "over", "L*a*b*", "batch"]
    return html('<div class="labkit-wide">{}</div>', table(heads, rows, "Swatches"))


def kept_table(trial: "ShadeTrial") -> Html:
    """Return the blends that were kept, with grams for the trial's batch."""
    batch = trial.question.batch_g
    rows = []
    for _, kept in trial.kept():
        parts = sorted(kept.blend.items(), key=lambda each: -each[1])
        base = batch * (1 - sum(kept.blend.values()) / 100)
        grams = ", ".join(f"{name} {batch * percent / 100:.2f} g" for name, percent in parts)
        grams = f"{grams}, base {base:.2f} g"
        wanted = square(hex_of_lab(kept.wanted_lab)) if kept.wanted_lab else ""
        sd = sum(each**2 for each in kept.lab_sd) ** 0.5
        rows.append(
            [kept.name, said_blend(kept.blend), grams, square(hex_of_lab(kept.lab)), wanted, f"±{sd:.1f}"]
        )
    heads = ["name", "% of the product", f"for {batch:g} g", "forecast", "wanted", "L*a*b* within"]
    return html('<div class="labkit-wide">{}</div>', table(heads, rows, "Kept blends"))
