"""The part of the panel that says which earlier trials count."""

from typing import TYPE_CHECKING

import ipywidgets

from labkit.texture.desk import Desk
from labkit.texture.old_trials import Old
from labkit.ui.form import Field, Group, Press, Saved, Values
from labkit.ui.parts import sentences
from labkit.ui.reading import only

if TYPE_CHECKING:
    from labkit.texture.trial import TextureTrial

INTRO = (
    "Earlier trials with the same parts and words count here as knowledge, the more the more alike their "
    "ingredients are. Take the tick away, and one does not count."
)


def old_groups(olds: list[Old]) -> list[Group]:
    """Return a tick for each earlier trial, under the name that says how alike it is."""
    return [
        Group(
            "old",
            tuple(Field(old.entry, _called(old), "tick", start="yes" if old.counts else "") for old in olds),
        )
    ]


def _called(old: Old) -> str:
    return f"{old.name}: {old.notes} notes, {100 * old.alike:.0f} % alike"


class OldTrials(ipywidgets.VBox):
    """A tick for each earlier trial that could count."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self.form = desk.form("old", self._chosen, lambda _: {}, "Save which count")
        super().__init__([ipywidgets.HTML(sentences([INTRO], first=False)), self.form])

    def offer(self, trial: "TextureTrial") -> bool:
        """Ask about the earlier trials that could count; say whether there are any."""
        if olds := trial.olds:
            self.form.ask(old_groups(olds), trial.entry)
        return bool(olds)

    def _chosen(self, press: Press) -> Saved:
        trial = self._desk.trial(press.key)
        ticked = {entry for entry, tick in _ticks(press.values).items() if tick}
        trial.let_count({old.entry: old.entry in ticked for old in trial.olds}, press.id)
        count = len(ticked)
        said = "No earlier trial counts." if not count else f"{count} earlier trial{'s' * (count > 1)} count."
        return self._desk.saved(f"Saved: {said}", trial.entry)


def _ticks(values: Values) -> dict[str, str]:
    return only(values, "old")
