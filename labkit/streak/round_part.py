"""The part of the panel where a round is graded or mended."""

import ipywidgets

from labkit.streak.desk import Desk
from labkit.streak.record import Round
from labkit.streak.round_form import check_round, read_round, round_groups
from labkit.streak.trial import StreakTrial
from labkit.streak.wording import CAUTIONS
from labkit.ui.form import Press, Saved, Values
from labkit.ui.parts import sentences


class RoundPart(ipywidgets.VBox):
    """The form of a round, with what must not be forgotten at the stove above it."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self.trial: StreakTrial | None = None
        self._saved: Round | None = None
        self.form = desk.form("round", self._pressed, self._check, "Save this look")
        super().__init__([ipywidgets.HTML(sentences(CAUTIONS[:1], first=False)), self.form])

    def offer(self, trial: StreakTrial) -> None:
        """Ask for the next round of this test."""
        self.trial, self._saved = trial, None
        label = f"Save round {len(trial.looks) + 1}"
        self.form.ask(round_groups(trial), trial.entry, press_label=label)

    def ask_mend(self, trial: StreakTrial, version: str) -> None:
        """Put the version of a round into the form."""
        self.trial, self._saved = trial, Round.of(self._desk.book.get(version).payload)
        label = "Save the mended round"
        groups = round_groups(trial, self._saved)
        self.form.ask(groups, f"{trial.entry}/{version}", press_label=label)
        self.form.bring_into_view()

    def _check(self, values: Values) -> dict[str, str]:
        return check_round(values, self.trial, self._saved) if self.trial else {}

    def _pressed(self, press: Press) -> Saved:
        name, _, about = press.key.partition("/")
        trial = self._desk.trial(name)
        if about:
            version = self._desk.book.get(about)
            fields = read_round(press.values, trial, press.at, Round.of(version.payload))
            trial.mend_round(version, press.id, **fields)
            return self._desk.saved("Saved: the round is mended, and what stood there before is kept.", name)
        after = trial.log_round(id=press.id, **read_round(press.values, trial, press.at))
        return self._desk.saved(f"Saved: round {len(after.looks)}.", name)
