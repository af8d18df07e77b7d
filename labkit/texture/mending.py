"""The part of the panel where what was saved is mended, taken back and put back."""

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import ipywidgets

from labkit.book.story import history_frame
from labkit.errors import LabError
from labkit.texture.trial import TextureTrial
from labkit.texture.wording import hours_words, said
from labkit.times import spoken
from labkit.ui.guard import Guard
from labkit.ui.parts import Choice, button, confirm_button, sentences, show

if TYPE_CHECKING:
    import pandas as pd

    from labkit.book import Entry

NOTHING = "nothing"
POUR, NOTE, LOOK, STOCK, CARD, GONE = "pour", "note", "look", "stock", "card", "gone"
TOLD = {
    NOTHING: (),
    POUR: ("It stands above, under “Pour”: change it there and save it, or take it back with its notes.",),
    NOTE: ("It stands above, under “Feel”: change it there and save it, or take it back.",),
    LOOK: ("A look can be taken back; look again and save what you see now.",),
    STOCK: (
        "A stock can be taken back; what was poured from it stays as it is. "
        "Where something in it is wrong, take it back and write it down anew.",
    ),
    GONE: ("It is not in your trial any more. “Put it back” puts it there as it stood.",),
    CARD: ("It has not been poured. Take it back, and it is off the card.",),
}


class Mending(ipywidgets.VBox):
    """A choice of what was saved, and what can be done with it.

    Parameters
    ----------
    guard
        Shows what goes wrong.
    chosen
        Called with what kind of thing was chosen, and which, to put it into its form.
    changed
        Called after something was taken back or put back.
    """

    def __init__(self, guard: Guard, chosen: Callable[[str, str], None], changed: Callable[[], None]) -> None:
        self._chosen, self._changed = chosen, changed
        self.what = Choice("Mend what was saved", guard, self._choose)
        self.take_back = confirm_button(
            "Take it back", "Take it out of your trial? It stays in the history, and you can put it back.",
            guard, self._take_back, yes="take it back",
        )  # fmt: skip
        self.put_back = button("Put it back", guard, self._put_back)
        self.told = ipywidgets.HTML()
        super().__init__(
            [
                ipywidgets.HBox([self.what, self.take_back, self.put_back], layout={"flex_flow": "row wrap"}),
                self.told,
            ]
        )
        self.trial: TextureTrial | None = None

    def offer(self, trial: TextureTrial) -> None:
        """Offer all that the trial's book and card hold."""
        self.trial, self.told.value = trial, ""
        self.what.offer([("choose…", NOTHING), *_saved(trial)], NOTHING)
        show(self.take_back, False)
        show(self.put_back, False)

    def _choose(self, which: str) -> None:
        kind, _, about = which.partition(" ")
        show(self.take_back, kind not in (NOTHING, GONE))
        show(self.put_back, kind == GONE)
        self.told.value = sentences([*TOLD[kind], *self._before(kind, about)], first=False)
        self._chosen(kind, about)

    def _before(self, kind: str, about: str) -> list[str]:
        """Return what became of it so far, in sentences."""
        if kind not in (POUR, NOTE, LOOK, STOCK, GONE) or self.trial is None:
            return []
        table = history_frame(self.trial.book, about)
        mended = table[table["what"] != "written"]
        return [_told(row) for _, row in mended.iterrows()]

    def _take_back(self) -> None:
        kind, _, about = str(self.what.value).partition(" ")
        if self.trial is None or kind == NOTHING:
            raise LabError("Choose first what is to be taken back.")
        if kind == CARD:
            self.trial.take_off_card(int(about))
            said = f"Taken off the card: pour {about}."
        else:
            said = f"Taken back: {self._called(kind, about)}. It stands in this list, to put back."
            self.trial.take_back(self.trial.book.get(about))
        self._changed()
        self.told.value = sentences([said], first=False)

    def _called(self, kind: str, about: str) -> str:
        assert self.trial is not None
        if kind == STOCK:
            return f"the stock “{self.trial.book.get(about).payload['name']}”"
        if kind != POUR:
            return f"the {kind}"
        cast = next(each for each in self.trial.casts if each.version.id == about)
        notes = int((self.trial.notes()["cast"] == cast.entry).sum())
        with_it = ("", ", and with it its note")[notes] if notes < 2 else f", and with it its {notes} notes"
        return f"pour {cast.label}{with_it}"

    def _put_back(self) -> None:
        kind, _, about = str(self.what.value).partition(" ")
        if self.trial is None or kind != GONE:
            raise LabError("Choose first what is to be put back.")
        self.trial.put_back(self.trial.book.get(about))
        self._changed()
        self.told.value = sentences(["Put back as it stood."], first=False)


def _saved(trial: TextureTrial) -> list[tuple[str, str]]:
    """Return all that the book and the card hold: in words, and as kind and version."""
    pours = [(f"pour {cast.label}", f"{POUR} {cast.version.id}") for cast in trial.casts]
    notes = [
        (f"note: pour {row['pour']} {said(row)} at {hours_words(row['hours'])}", f"{NOTE} {row['version']}")
        for _, row in trial.notes().iterrows()
    ]
    looks = [
        (f"look: pour {row['pour']} {', '.join(row['defects']) or 'sound'}", f"{LOOK} {row['version']}")
        for _, row in trial.looks().iterrows()
    ]
    stocks = [
        (f"stock “{head.payload['name']}”", f"{STOCK} {head.id}") for head in trial.stock_versions.values()
    ]
    gone = [(f"taken back: {_gone(trial, each)}", f"{GONE} {each.id}") for each in trial.gone()]
    card = [(f"on the card: pour {pour.number}", f"{CARD} {pour.number}") for pour in trial.waiting]
    return [*pours, *notes, *looks, *stocks, *card, *gone]


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


def _told(row: "pd.Series[Any]") -> str:
    changed = "; ".join(str(row["changed"]).splitlines())
    return f"{spoken(row['when'].to_pydatetime())}: {row['what']}" + (f" ({changed})." if changed else ".")
