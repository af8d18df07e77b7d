"""The part of a panel where what was saved is mended, taken back and put back."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import ipywidgets

from labkit.book.entry import is_id
from labkit.book.story import history_frame
from labkit.errors import LabError
from labkit.times import spoken
from labkit.ui.guard import Guard
from labkit.ui.parts import Choice, button, confirm_button, sentences, show

if TYPE_CHECKING:
    import pandas as pd

    from labkit.book.standing import Standing

NOTHING, GONE = "nothing", "gone"
PUT_BACK = "It is not in your trial any more. “Put it back” puts it there as it stood."


@dataclass(frozen=True)
class Item:
    """Something saved that can be taken back, or was.

    Attributes
    ----------
    kind
        What the room calls such a thing; `GONE` for what was taken back.
    about
        Its version, or what else says which one it is.
    label
        How it is called in the list.
    told
        What to do with it, said once it is chosen.
    called
        How it is called once it was taken back; by default as in the list.
    take
        Takes it back where it is no entry of the book, and returns what to say.
    """

    kind: str
    about: str
    label: str
    told: str = PUT_BACK
    called: str = ""
    take: Callable[[], str] | None = None

    @property
    def gone(self) -> bool:
        """Whether it was taken back."""
        return self.kind == GONE


class Mending(ipywidgets.VBox):
    """A choice of what was saved, and what can be done with it.

    Parameters
    ----------
    label
        Beside the choice.
    guard
        Shows what goes wrong.
    chosen
        Called with the kind of what was chosen, and which, to put it into its form; `NOTHING` and ""
        to put the form back.
    changed
        Called after something was taken back or put back.
    """

    def __init__(
        self, label: str, guard: Guard, chosen: Callable[[str, str], None], changed: Callable[[], None]
    ) -> None:
        self._chosen, self._changed = chosen, changed
        self._items: dict[str, Item] = {}
        self._trial: Standing | None = None
        self.what = Choice(label, guard, self._choose)
        self.take_back = confirm_button(
            "Take it back", "Take it out of your trial? It stays in the history, and you can put it back.",
            guard, self._turn, yes="take it back",
        )  # fmt: skip
        self.put_back = button("Put it back", guard, self._turn)
        self.told = ipywidgets.HTML()
        bar = ipywidgets.HBox([self.what, self.take_back, self.put_back], layout={"flex_flow": "row wrap"})
        super().__init__([bar, self.told])

    def offer(self, trial: "Standing", items: Sequence[Item]) -> None:
        """Offer what a trial has or had."""
        self._trial, self.told.value = trial, ""
        self._items = {f"{each.kind} {each.about}": each for each in items}
        listed = [(each.label, value) for value, each in self._items.items()]
        self.what.offer([("choose…", NOTHING), *listed], NOTHING)
        show(self.take_back, False)
        show(self.put_back, False)

    def _choose(self, which: str) -> None:
        item = self._items.get(which)
        show(self.take_back, item is not None and not item.gone)
        show(self.put_back, item is not None and item.gone)
        told = [item.told, *self._before(item)] if item else []
        self.told.value = sentences(told, first=False)
        self._chosen(item.kind if item else NOTHING, item.about if item else "")

    def _before(self, item: Item) -> list[str]:
        """Return what became of it so far, in sentences."""
        if self._trial is None or not is_id(item.about):
            return []
        table = history_frame(self._trial.book, item.about)
        mended = table[table["what"] != "written"]
        return [_told(row) for _, row in mended.iterrows()]

    def _turn(self) -> None:
        item = self._items.get(str(self.what.value))
        if item is None or self._trial is None:
            raise LabError("Choose first what is to be taken back.")
        said = item.take() if item.take else self._turned(self._trial, item)
        self._changed()
        self.told.value = sentences([said], first=False)

    def _turned(self, trial: "Standing", item: Item) -> str:
        version = trial.book.get(item.about)
        if item.gone:
            trial.put_back(version)
            return "Put back as it stood."
        trial.take_back(version)
        return f"Taken back: {item.called or item.label}. It stands in this list, to put back."


def _told(row: "pd.Series[Any]") -> str:
    changed = "; ".join(str(row["changed"]).splitlines())
    return f"{spoken(row['when'].to_pydatetime())}: {row['what']}" + (f" ({changed})." if changed else ".")
