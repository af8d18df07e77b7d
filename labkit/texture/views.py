"""What the texture panel shows: the weigh card, the map, the log."""

from collections.abc import Sequence
from datetime import datetime
from functools import cache
from typing import TYPE_CHECKING

import pandas as pd

from labkit.quantities import show_grams
from labkit.texture import wording
from labkit.texture.demo import example_trial
from labkit.texture.plot import Map, map_figure
from labkit.texture.record import HELD, PlannedPour, Question
from labkit.texture.story import map_of, words_figure
from labkit.ui.figure import picture
from labkit.ui.parts import sentences
from labkit.ui.text import Html, html, joined, table

if TYPE_CHECKING:
    from labkit.texture.trial import TextureTrial

CAUTIONS = (
    "Hot fat burns and can catch fire: lowest heat or a water bath, never left alone, a lid at hand, "
    "no water near. Take the pan off the heat before you type.",
    "Fine powders: raise no dust, wear a mask, keep them from flames. Never try hot melt on skin or lips. "
    "For anything that is sold or given away, local rules and licensed advice come first.",
)

EXAMPLE = "invented example"
READING = (
    "A circle is a pour, the star is where to pour next; nearer to a corner means more of that part. "
    "Hatched: your notes say little there yet."
)


def card(question: Question, pours: Sequence[PlannedPour]) -> Html:
    """Return the weigh card: a column of grams per pour, room to write what was really weighed."""
    if not pours:
        return html("<p>{}</p>", "Nothing is on the card. Ask for the next pour, or plan several.")
    step = question.step_g
    names = [each.name for each in question.usual]
    rows = [[name, *(show_grams(pour.grams.get(name, 0.0), step) for pour in pours)] for name in names]
    total = ["together", *(show_grams(sum(pour.grams.values()), step) for pour in pours)]
    days = len({pour.day for pour in pours}) > 1
    heads = ["grams", *(f"Pour {pour.number}" + (f", day {pour.day}" if days else "") for pour in pours)]
    why = sentences((f"Pour {pour.number}: {pour.why}." for pour in pours if pour.why), first=False)
    grid = table(heads, [*rows, total], "Weigh card", numbers=len(pours))
    return html('<div class="labkit-wide">{}</div>{}', grid, why)


def map_picture(trial: "TextureTrial", suggestion: pd.DataFrame) -> Html:
    """Return the two maps as pictures, with what they say as alt text, and what they are about below."""
    pictures = _pictures(map_of(trial, suggestion), wording.best(trial))
    said = [READING, wording.about(trial), *wording.remarks(trial)]
    return html("{}{}", pictures, sentences(said, first=False))


@cache
def example_picture() -> Html:
    """Return the maps of the invented example, small and stamped."""
    example = example_trial()
    return html(
        '<div class="labkit-small">{}</div>', _pictures(map_of(example, example.next_pour(), EXAMPLE), "")
    )


def _pictures(shown: Map, best: str) -> Html:
    stamp = f"{shown.stamp.capitalize()}. " if shown.stamp else ""
    hardness = picture(map_figure(shown, ["hardness"]), f"{stamp}Map of the base: how hard it sets. {best}")
    chance = picture(
        map_figure(shown, ["chance"]), f"{stamp}Map of the base: chance of “{shown.wanted}”. {best}"
    )
    return html('<div class="labkit-pictures">{}{}</div>', hardness, chance)


def words_picture(trial: "TextureTrial") -> Html:
    """Return each pour's words against hours as a picture."""
    last = trial.readings().groupby("pour")["word"].last()
    said = ", ".join(f"pour {pour} {word}" for pour, word in last.items())
    return picture(words_figure(trial), f"Words against hours. Last word of each pour: {said}.")


def log(trial: "TextureTrial") -> Html:
    """Return all pours with their words."""
    notes = trial.notes()
    parts = [*trial.question.parts, HELD] if trial.question.held_fraction else list(trial.question.parts)
    rows = []
    for _, pour in trial.pours().iterrows():
        felt = notes[notes["cast"] == pour["entry"]]
        said = "; ".join(
            f"{word} at {hours_words(hours)}" for word, hours in zip(felt["word"], felt["hours"], strict=True)
        )
        product = [f"{pour[f'{part} %']:.1f}" for part in parts]
        rows.append(
            [
                f"Pour {pour['pour']}",
                f"{pour['poured'].to_pydatetime().astimezone():%a %d %b, %H:%M}",
                said or "not felt yet",
                *product,
            ]
        )
    heads = ["", "Poured", "Felt", *(f"{part}, % of product" for part in parts)]
    return html(
        '<div class="labkit-wide">{}</div>', table(heads, rows, "What is in your book", numbers=len(parts))
    )


def hours_words(hours: float) -> str:
    """Return hours as a maker says them.

    >>> hours_words(0.5), hours_words(5.2), hours_words(49)
    ('30 min', '5 h', '2 days')
    """
    if hours < 1:
        return f"{60 * hours:.0f} min"
    return f"{hours:.0f} h" if hours < 36 else f"{hours / 24:.0f} days"


def standing(trial: "TextureTrial", now: datetime) -> Html:
    """Return where the trial stands, the first sentence large."""
    return sentences(wording.standing(trial, now))


def cautions() -> Html:
    """Return the cautions that stand where the hot pan is."""
    return joined(html('<p class="labkit-caution">{}</p>', each) for each in CAUTIONS)
