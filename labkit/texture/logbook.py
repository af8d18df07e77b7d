"""What a trial's book holds, to read: pours with their words, and all that was written beside them."""

from base64 import b64encode
from collections.abc import Iterable
from typing import Any

from labkit.book.record import Record, declarations
from labkit.errors import LabError
from labkit.texture.record import HELD, Note
from labkit.texture.standing import Cast
from labkit.texture.trial import TextureTrial
from labkit.texture.wording import hours_words, said
from labkit.times import spoken
from labkit.ui.form import small_photo
from labkit.ui.text import Html, html, joined, table

SAID = ("pour", "felt_at", "word", "relation", "than", "read_with", "reading", "tester")
"""Fields of a note that are told beside its pour."""
THUMBNAIL = 320
"""Pixels of the longer side of a photo beside its pour."""


def log(trial: TextureTrial) -> Html:
    """Return all pours with their words, and below them what else was written down."""
    notes = trial.notes()
    parts = [*trial.question.parts, HELD] if trial.question.held_fraction else list(trial.question.parts)
    rows = []
    for cast in trial.casts:
        felt = notes[notes["cast"] == cast.entry]
        told = "; ".join(f"{said(row)} at {hours_words(row['hours'])}" for _, row in felt.iterrows())
        product = trial.weighing.fractions(cast.pour.weighed_g)
        rows.append(
            [
                f"Pour {cast.label}",
                spoken(cast.pour.poured_at),
                told or "not felt yet",
                *(f"{100 * product[part]:.1f}" for part in parts),
            ]
        )
    heads = ["", "Poured", "Felt", *(f"{part}, % of product" for part in parts)]
    grid = table(heads, rows, "What is in your book", numbers=len(parts))
    return html('<div class="labkit-wide">{}</div>{}', grid, _details(trial))


def _details(trial: TextureTrial) -> Html:
    """Return what was written beside the grams and the words, a fold for each pour that has any."""
    notes = trial.notes()
    folds = []
    for cast in trial.casts:
        lines = [*_pour_lines(trial, cast), *_note_lines(trial, notes[notes["cast"] == cast.entry])]
        if lines:
            body = joined(html("<p>{}</p>", line) for line in lines)
            folds.append(html("<details><summary>More on pour {}</summary>{}</details>", cast.label, body))
    return joined(folds)


def _pour_lines(trial: TextureTrial, cast: Cast) -> Iterable[str]:
    if cast.pour.stocks_g:
        stocks = trial.melts.by_name(cast.pour.stocks_g)
        yield "From stock melts: " + ", ".join(f"{grams:.6g} g {name}" for name, grams in stocks.items())
    told = written(cast.pour, leave=("question", "number", "weighed_g", "stocks_g", "poured_at", "photo"))
    if told:
        yield told
    if cast.pour.photo:
        yield photo(trial, cast.pour.photo)


def _note_lines(trial: TextureTrial, notes: Any) -> Iterable[str]:
    for _, row in notes.iterrows():
        note = Note.of(trial.book.get(row["version"]).payload)
        told = written(note, leave=SAID)
        by = [f"felt by {row['tester']}"] if row["tester"] else []
        if told or by:
            yield f"{said(row)} at {hours_words(row['hours'])}: {'; '.join([*by, *filter(None, [told])])}"


def written(record: Record, leave: Iterable[str] = ()) -> str:
    """Return the fields of a record that were filled in, as a maker reads them."""
    told = declarations(record.__class__)
    values = {name: getattr(record, name) for name in told if name not in leave}
    return "; ".join(
        f"{told[name].label.lower()} {value:g} {told[name].unit}".strip()
        if isinstance(value, int | float)
        else f"{told[name].label.lower()}: {value}"
        for name, value in values.items()
        if value != told[name].default
    )


def photo(trial: TextureTrial, name: str) -> Html:
    """Return a photo of the book, small; a sentence where it is not beside the book."""
    try:
        small = small_photo(trial.book.photo_path(name), THUMBNAIL)
    except (LabError, OSError) as error:
        return html("{}", f"Its photo cannot be shown: {error}")
    return html('<img alt="Photo of the pour" src="data:image/jpeg;base64,{}">', b64encode(small).decode())
