"""What the texture panel shows: where it stands, the region, the map."""

from datetime import datetime
from functools import cache
from typing import TYPE_CHECKING

import pandas as pd

from labkit.texture import wording
from labkit.texture.demo import example_trial
from labkit.texture.kept_forecasts import forecast_words, forecasts
from labkit.texture.marks_map import mark_figure, mark_label, marked
from labkit.texture.outcomes import outcomes_words
from labkit.texture.outcomes_plot import outcomes_figure
from labkit.texture.plot import Map, map_figure
from labkit.texture.story import how_pours_vary, map_of, region_words, trials_table, words_figure
from labkit.texture.trials_apart import trials_apart, trials_words
from labkit.texture.trials_plot import trials_figure
from labkit.texture.triangle import region_figure
from labkit.texture.usual import base_shares
from labkit.ui.figure import picture
from labkit.ui.parts import sentences
from labkit.ui.text import Html, html, joined

if TYPE_CHECKING:
    from labkit.texture.trial import TextureTrial

CAUTIONS = (
    "Hot fat burns and can catch fire: lowest heat or a water bath, never left alone, a lid at hand, "
    "no water near. Take the pan off the heat before you type.",
    "Fine powders: raise no dust, wear a mask, keep them from flames. Never try hot melt on skin or lips. "
    "For anything that is sold or given away, local rules and licensed advice come first.",
)

EXAMPLE = "invented example"
NO_NOTE_COUNTS = "Nothing that counts was felt in this trial yet: feel its usual, and it stands here."


def region_picture(trial: "TextureTrial") -> Html:
    """Return where the question lets one look, as a picture, with what its bounds leave."""
    usual, held = base_shares(trial.question.usual), trial.question.held_fraction
    words = region_words(trial.region, held)
    drawn = picture(region_figure(trial.region, usual, held), words)
    return html(
        '<div class="labkit-pictures">{}</div>{}',
        drawn,
        sentences([words, *_outside(trial), *trial.region.remarks(1 - held)], first=False),
    )


def _outside(trial: "TextureTrial") -> list[str]:
    usual = base_shares(trial.question.usual)
    inside = trial.region.contains([[usual[part] for part in trial.question.parts]])[0]
    return [] if inside else ["Your usual recipe itself lies outside your bounds and side rules."]


def map_picture(trial: "TextureTrial", suggestion: pd.DataFrame) -> Html:
    """Return the two maps as pictures, with what they say as alt text, and what they are about below."""
    pictures = _pictures(map_of(trial, suggestion), wording.best(trial))
    said = [wording.about(trial), *wording.loaded(trial), *wording.remarks(trial), *wording.cautions(trial)]
    return html("{}{}", pictures, sentences(said, first=False))


def vary_picture(trial: "TextureTrial") -> Html:
    """Return how the trial's outcomes vary as a picture, and in sentences."""
    found = how_pours_vary(trial)
    said = outcomes_words(found)
    drawn = picture(outcomes_figure(found), " ".join(said))
    return html("{}{}", drawn, sentences(said, first=False))


@cache
def example_picture() -> Html:
    """Return the maps of the invented example, small and stamped."""
    example = example_trial()
    return html(
        '<div class="labkit-small">{}</div>', _pictures(map_of(example, example.next_pour(), EXAMPLE), "")
    )


def _pictures(shown: Map, best: str) -> Html:
    stamp = f"{shown.stamp.capitalize()}. " if shown.stamp else ""
    hardness = picture(
        map_figure(shown, ["hardness"]), f"{stamp}Map of the base: how hard it is at 2 days. {best}"
    )
    chance = picture(
        map_figure(shown, ["chance"]), f"{stamp}Map of the base: chance of “{shown.wanted}” at 2 days. {best}"
    )
    return html('<div class="labkit-pictures">{}{}</div>', hardness, chance)


def words_picture(trial: "TextureTrial") -> Html:
    """Return each pour's words against hours as a picture."""
    last = trial.words().groupby("pour")["word"].last()
    if last.empty:
        return sentences(["No word was felt yet: readings and comparisons count in the map."], first=False)
    said = ", ".join(f"pour {pour} {word}" for pour, word in last.items())
    return picture(words_figure(trial), f"Words against hours. Last word of each pour: {said}.")


def marks_pictures(trial: "TextureTrial") -> Html:
    """Return a map for each mark that enough pours have."""
    pictures = [
        picture(mark_figure(trial, mark), f"Map of {mark_label(mark).lower()}, 0 to 10, over the base.")
        for mark in marked(trial)
    ]
    return html('<div class="labkit-pictures">{}</div>', joined(pictures))


def trials_picture(trial: "TextureTrial") -> Html:
    """Return this trial and the earlier ones at their usual recipes, as a picture and in sentences."""
    if trial.model is None:
        return sentences([NO_NOTE_COUNTS], first=False)
    told = trials_table(trial)
    said = trials_words(trials_apart(told, trial.question.ladder))
    drawn = picture(trials_figure(told, trial.question.ladder), " ".join(said))
    return html("{}{}", drawn, sentences(said, first=False))


def forecast_told(trial: "TextureTrial") -> Html:
    """Return how forecasts fared against what happened."""
    return sentences(forecast_words(forecasts(trial)), first=False)


def standing(trial: "TextureTrial", now: datetime) -> Html:
    """Return where the trial stands, the first sentence large."""
    return sentences(wording.standing(trial, now))


def cautions() -> Html:
    """Return the cautions that stand where the hot pan is."""
    return joined(html('<p class="labkit-caution">{}</p>', each) for each in CAUTIONS)
