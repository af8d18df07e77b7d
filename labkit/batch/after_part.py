"""The part of the panel after the pour: what was filled and lost, and how the sticks are a day later."""

import ipywidgets

from labkit.batch.after_forms import (
    check_filled,
    check_judged,
    fill_groups,
    judge_groups,
    read_filled,
    read_judged,
)
from labkit.batch.cautions import cautions_for
from labkit.batch.desk import Desk
from labkit.batch.record import Filled, Judged
from labkit.batch.trial import BatchTrial
from labkit.ui.form import Press, Saved
from labkit.ui.parts import section, sentences

SAVE_FILLED, SAVE_JUDGED = "Save the fills", "Save what you see"


class AfterPart(ipywidgets.VBox):
    """The forms of the fills and of the judged sticks, each with what follows from it."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self.filled = desk.form("filled", self._was_filled, check_filled, SAVE_FILLED)
        self.judged = desk.form("judged", self._was_judged, check_judged, SAVE_JUDGED)
        self.balance, self.found = ipywidgets.HTML(), ipywidgets.HTML()
        cleaning = ipywidgets.HTML(sentences(cautions_for("cleaning"), first=False))
        super().__init__(
            [
                section("What is in each", cleaning, self.filled, self.balance),
                section("A day or two later", self.judged, self.found),
            ]
        )

    def offer(self, trial: BatchTrial) -> None:
        """Ask for the fills and for the sticks of this batch."""
        self.filled.ask(fill_groups(trial.filled), self._filled_key(trial), press_label=SAVE_FILLED)
        self.judged.ask(judge_groups(trial), trial.entry, press_label=SAVE_JUDGED)

    def ask_mend(self, trial: BatchTrial, kind: str, version: str) -> bool:
        """Put the version of something logged into its form; return whether there is one here."""
        entry = self._desk.book.get(version)
        key = f"{trial.entry}/{version}"
        if kind == Filled.kind:
            self.filled.ask(fill_groups(Filled.of(entry.payload)), key, press_label="Save what is mended")
            self.filled.bring_into_view()
        elif kind == Judged.kind:
            self.judged.ask(
                judge_groups(trial, Judged.of(entry.payload)), key, press_label="Save what is mended"
            )
            self.judged.bring_into_view()
        else:
            return False
        return True

    def _filled_key(self, trial: BatchTrial) -> str:
        """What was filled is one entry: what stands there already is mended."""
        here = [entry.id for entry, each in trial.logged if isinstance(each, Filled)]
        return f"{trial.entry}/{here[-1]}" if here else trial.entry

    def _was_filled(self, press: Press) -> Saved:
        return self._write(press, Filled, read_filled(press.values, press.at))

    def _was_judged(self, press: Press) -> Saved:
        return self._write(press, Judged, read_judged(press.values, press.at))

    def _write(self, press: Press, record: type, fields: dict[str, object]) -> Saved:
        name, _, about = press.key.partition("/")
        trial = self._desk.trial(name)
        if about:
            trial.mend_logged(self._desk.book.get(about), press.id, **fields)
            return self._desk.saved("Saved: it is mended, and what stood there before is kept.", name)
        trial.log(record, press.id, **fields)
        return self._desk.saved("Saved.", name)
