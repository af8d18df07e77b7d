"""What of a texture trial can be mended, taken back and put back."""

from typing import TYPE_CHECKING

from labkit.texture.trial import TextureTrial
from labkit.texture.wording import hours_words, said
from labkit.ui.mending import GONE, Item

if TYPE_CHECKING:
    from labkit.book import Entry
    from labkit.texture.standing import Cast

POUR, NOTE, LOOK, STOCK, CARD = "pour", "note", "look", "stock", "card"
TOLD = {
    POUR: "It stands above, under “Pour”: change it there and save it, or take it back with its notes.",
    NOTE: "It stands above, under “Feel”: change it there and save it, or take it back.",
    LOOK: "A look can be taken back; look again and save what you see now.",
    STOCK: (
        "A stock can be taken back; what was poured from it stays as it is. "
        "Where something in it is wrong, take it back and write it down anew."
    ),
    CARD: "It has not been poured. Take it back, and it is off the card.",
}


def saved(trial: TextureTrial) -> list[Item]:
    """Return all that a trial's book and card hold."""
    pours = [
        Item(POUR, cast.version.id, f"pour {cast.label}", TOLD[POUR], _with_notes(trial, cast))
        for cast in trial.casts
    ]
    notes = [
        Item(
            NOTE, row["version"], f"note: pour {row['pour']} {said(row)} at {hours_words(row['hours'])}",
            TOLD[NOTE], "the note",
        )
        for _, row in trial.notes().iterrows()
    ]  # fmt: skip
    looks = [
        Item(
            LOOK, row["version"], f"look: pour {row['pour']} {', '.join(row['defects']) or 'sound'}",
            TOLD[LOOK], "the look",
        )
        for _, row in trial.looks().iterrows()
    ]  # fmt: skip
    stocks = [
        Item(STOCK, head.id, f"stock “{name}”", TOLD[STOCK], f"the stock “{name}”")
        for head in trial.stock_versions.values()
        for name in [head.payload["name"]]
    ]
    card = [_on_card(trial, pour.number) for pour in trial.waiting]
    gone = [Item(GONE, each.id, f"taken back: {_gone(trial, each)}") for each in trial.gone()]
    return [*pours, *notes, *looks, *stocks, *card, *gone]


def _with_notes(trial: TextureTrial, cast: "Cast") -> str:
    notes = int((trial.notes()["cast"] == cast.entry).sum())
    with_it = ("", ", and with it its note")[notes] if notes < 2 else f", and with it its {notes} notes"
    return f"pour {cast.label}{with_it}"


def _on_card(trial: TextureTrial, number: int) -> Item:
    def take() -> str:
        trial.take_off_card(number)
        return f"Taken off the card: pour {number}."

    return Item(CARD, str(number), f"on the card: pour {number}", TOLD[CARD], take=take)


def _gone(trial: TextureTrial, entry: "Entry") -> str:
    """Return what something that was taken back was, in words."""
    if entry.kind == "texture.pour":
        return f"pour {entry.payload['number']}"
    if entry.kind == "texture.stock":
        return f"stock “{entry.payload['name']}”"
    called = {"texture.note": "note", "texture.look": "look"}[entry.kind]
    cast = next((each.label for each in trial.all_casts if each.entry == entry.payload["pour"]), "")
    what = f"{called} on pour {cast}" if cast else f"{called} on a pour that was taken back"
    return f"{what} “{entry.payload['word']}”" if entry.payload.get("word") else what
