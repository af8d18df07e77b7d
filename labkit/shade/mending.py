"""The part of the panel where saved swatches are mended, taken back and put back."""

from collections.abc import Callable
from typing import TYPE_CHECKING

import ipywidgets

from labkit.errors import LabError
from labkit.shade.found import said_blend
from labkit.shade.record import Swatch
from labkit.shade.trial import ShadeTrial
from labkit.times import spoken
from labkit.ui.guard import Guard
from labkit.ui.parts import Choice, button, confirm_button, sentences, show

if TYPE_CHECKING:
    from labkit.book import Entry

NOTHING, HERE, GONE = "nothing", "here", "gone"
TOLD = {
    NOTHING: (),
    HERE: ("It stands above, under “Swatch”: change it there and save it, or take it back.",),
    GONE: ("It is not in your trial any more. “Put it back” puts it there as it stood.",),
}


class SwatchMending(ipywidgets.VBox):
    """A choice of saved swatches, and what can be done with each.

    Parameters
    ----------
    guard
        Shows what goes wrong.
    chosen
        Called with the version to put into its form, or "" to put the form back.
    changed
        Called after something was taken back or put back.
    """

    def __init__(self, guard: Guard, chosen: Callable[[str], None], changed: Callable[[], None]) -> None:
        self._chosen, self._changed = chosen, changed
        self.trial: ShadeTrial | None = None
        self.what = Choice("Mend a swatch", guard, self._choose)
        self.take_back = confirm_button(
            "Take it back", "Take it out of your trial? It stays in the history, and you can put it back.",
            guard, self._take_back, yes="take it back",
        )  # fmt: skip
        self.put_back = button("Put it back", guard, self._put_back)
        self.told = ipywidgets.HTML()
        bar = ipywidgets.HBox([self.what, self.take_back, self.put_back], layout={"flex_flow": "row wrap"})
        super().__init__([bar, self.told])

    def offer(self, trial: ShadeTrial) -> None:
        """Offer all swatches that the trial has or had."""
        self.trial, self.told.value = trial, ""
        here = [
            (f"{number}: {_called(row.head)}", f"{HERE} {row.head.id}")
            for number, row in enumerate(trial.swatch_rows, 1)
        ]
        gone = [(f"taken back: {_called(each)}", f"{GONE} {each.id}") for each in trial.gone()]
        self.what.offer([("choose…", NOTHING), *here, *gone], NOTHING)
        show(self.take_back, False)
        show(self.put_back, False)

    def _choose(self, which: str) -> None:
        kind, _, version = which.partition(" ")
        show(self.take_back, kind == HERE)
        show(self.put_back, kind == GONE)
        self.told.value = sentences(TOLD[kind], first=False)
        self._chosen(version if kind == HERE else "")

    def _take_back(self) -> None:
        trial, version = self._asked(HERE)
        trial.take_back(trial.book.get(version))
        self._done("Taken back. It stands in this list, to put back.")

    def _put_back(self) -> None:
        trial, version = self._asked(GONE)
        trial.put_back(trial.book.get(version))
        self._done("Put back as it stood.")

    def _asked(self, wanted: str) -> tuple[ShadeTrial, str]:
        kind, _, version = str(self.what.value).partition(" ")
        if self.trial is None or kind != wanted:
            raise LabError("Choose a swatch first.")
        return self.trial, version

    def _done(self, said: str) -> None:
        self._changed()
        self.told.value = sentences([said], first=False)


def _called(entry: "Entry") -> str:
    swatch = Swatch.of(entry.payload)
    return f"{spoken(swatch.swatched_at)}, {said_blend(swatch.blend)}, over {swatch.backing}"
