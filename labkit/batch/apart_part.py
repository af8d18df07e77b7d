"""What the panel shows of past batches: how they were made and came out, and what they lost."""

import pickle
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import pandas as pd

from labkit.batch.apart_plot import apart_figure
from labkit.batch.batches_apart import OUTCOMES, BatchesApart, compare_batches
from labkit.batch.past import loss_before, past_batches
from labkit.ui.figure import picture
from labkit.ui.parts import sentences
from labkit.ui.text import Html, html, joined, table

if TYPE_CHECKING:
    from labkit.batch.trial import BatchTrial

_drawn: dict[bytes, list[Html]] = {}


def apart_view(trial: "BatchTrial") -> Html:
    """Return how the batches of a trial's maker differ: sentences, pictures, and the numbers."""
    found = compare_batches(past_batches(trial.book, trial.question_row.first.maker))
    links = [
        sentence for sentence, shown in zip(found.rows["sentence"], found.rows["shown"], strict=True) if shown
    ]
    return joined(
        [
            sentences([*links, *found.said], first=bool(links)),
            *_pictures(found),
            _questions(found),
            _table(found.batches),
        ]
    )


def _pictures(found: BatchesApart) -> list[Html]:
    """Return a picture of each outcome that is known; the same batches are drawn once."""
    key = pickle.dumps(found.batches.to_dict("list"))
    if key not in _drawn:
        _drawn.clear()
        _drawn[key] = [made for outcome in OUTCOMES if (made := _picture(found, outcome))]
    return _drawn[key]


def _picture(found: BatchesApart, outcome: str) -> Html | None:
    figure = apart_figure(found, outcome)
    if figure is None:
        return None
    said = found.rows.loc[found.rows["outcome"] == outcome, "sentence"]
    return picture(figure, f"{OUTCOMES[outcome][0].capitalize()} of past batches. {' '.join(said)}")


def _questions(found: BatchesApart) -> Html:
    rest = found.rows.loc[~found.rows["shown"], "sentence"]
    told = joined(html("<li>{}</li>", each) for each in rest)
    return html("<details><summary>Every question, one by one</summary><ul>{}</ul></details>", told)


def _table(batches: pd.DataFrame) -> Html:
    rows = [
        [
            row["batch"], row["recipe"], _shown(row["pour_c"], "{:.0f}") + _from(row["pour_from"]),
            _shown(row["tau_min"], "{:.0f}"), _shown(row["off_to_pour_min"], "{:.0f}"),
            *(_shown(row[each], "{:.0f}") for each in ("reheats", "hottest_c", "hot_min")), _word(row),
            _shown(row["streaks"], "{:g}"), _holes(row), _shown(100 * row["loss"], "{:.1f} %"),
        ]
        for row in batches.to_dict("records")
    ]  # fmt: skip
    heads = [
        "batch", "recipe", "poured at °C", "τ, min", "heat off to pour, min", "reheats", "hottest °C",
        "min over 65 °C", "hardness", "streaks", "sink holes (95 %)", "loss",
    ]  # fmt: skip
    return html('<div class="labkit-wide">{}</div>', table(heads, rows, "Batches of this book"))


def _shown(value: float, form: str) -> str:
    return "" if pd.isna(value) else form.format(value)


def _from(where: str) -> str:
    return " (curve)" if where == "curve" else ""


def _word(row: "Mapping[Any, Any]") -> str:
    rungs, words = row["hardness"], list(row["ladder"])
    return "" if pd.isna(rungs) else str(words[round(float(rungs))])


def _holes(row: "Mapping[Any, Any]") -> str:
    if pd.isna(row["sink_holes"]):
        return ""
    low, high = 100 * row["sink_low"], 100 * row["sink_high"]
    return f"{row['sink_holes']:.0f} of {row['looked_at']:.0f} ({low:.0f} to {high:.0f} %)"


def loss_view(trial: "BatchTrial") -> Html:
    """Return what batches before this one lost, and how much to make so that enough is filled."""
    return sentences([loss_before(trial)], first=False)
