"""The part of the panel with the blends that were kept, each of which can become a trial of its own."""

from collections.abc import Callable
from typing import TYPE_CHECKING

import ipywidgets

from labkit.book.trials import free_name
from labkit.errors import LabError
from labkit.shade.desk import Desk
from labkit.shade.record import Question
from labkit.shade.trial import KIND, ask
from labkit.shade.views import kept_table
from labkit.ui.parts import Choice, button

if TYPE_CHECKING:
    from labkit.shade.trial import ShadeTrial


class KeptPart(ipywidgets.VBox):
    """A table of kept blends, and a button that starts a trial of one.

    Parameters
    ----------
    desk
        The guard and the book.
    started
        Called with the new trial.
    """

    def __init__(self, desk: Desk, started: Callable[["ShadeTrial"], None]) -> None:
        self._desk, self._started = desk, started
        self.trial: ShadeTrial | None = None
        self.table = ipywidgets.HTML()
        self.choice = Choice("Kept blend", desk.guard, lambda _: None)
        self.start = button("Start a shade trial of it", desk.guard, self._start)
        super().__init__([self.table, ipywidgets.HBox([self.choice, self.start])])

    def offer(self, trial: "ShadeTrial") -> bool:
        """Show the blends kept from this trial, and say whether there are any."""
        self.trial = trial
        kept = trial.kept()
        if kept:
            self.table.value = kept_table(trial)
            self.choice.offer([(blend.name, row.entry) for row, blend in kept], kept[0][0].entry)
        return bool(kept)

    def _start(self) -> None:
        if self.trial is None:
            raise LabError("Open a trial first.")
        blend = next(blend for row, blend in self.trial.kept() if row.entry == self.choice.value)
        load = sum(blend.blend.values())
        question = self.trial.question.model_dump() | {
            "parts": blend.blend,
            "low_load": min(1.0, load / 2),
            "high_load": max(load, self.trial.question.high_load),
        }
        name = free_name(self._desk.book, KIND, blend.name)
        self._started(ask(self._desk.book, Question.of(question), name))
