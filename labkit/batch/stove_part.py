"""The part of the panel at the stove: what happened, what went in, what came out, a thermometer's file."""

import ipywidgets

from labkit.batch.day import next_in
from labkit.batch.desk import Desk
from labkit.batch.file_part import FilePart
from labkit.batch.record import Added, Taken
from labkit.batch.stove_forms import (
    added_groups,
    check_added,
    check_event,
    check_taken,
    event_groups,
    read_added,
    read_event,
    read_taken,
    taken_groups,
)
from labkit.batch.trial import LOGGED, BatchTrial
from labkit.batch.wording import cautions_now
from labkit.ui.form import Press, Saved
from labkit.ui.parts import Fold, section, sentences

EVENT_KINDS = ("batch.event", "batch.reading")
SAVE_EVENT, SAVE_ADDED, SAVE_TAKEN = "Log it, now", "It is in the pot", "It is out of the pot"
MENDED = "Saved: it is mended, and what stood there before is kept."


class StovePart(ipywidgets.VBox):
    """The forms of a day, each one press to one entry."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self.event = desk.form("event", self._happened, check_event, SAVE_EVENT)
        self.added = desk.form("added", self._went_in, check_added, SAVE_ADDED)
        self.taken = desk.form("taken", self._came_out, check_taken, SAVE_TAKEN)
        self.file = FilePart(desk)
        self.cautions = ipywidgets.HTML()
        self.cautions.add_class("labkit-caution")
        super().__init__(
            [
                self.cautions,
                section("What went in", self.added),
                section("What happens", self.event),
                Fold("Taken out before the pour", self.taken),
                Fold("Take temperatures from a thermometer's file", self.file),
            ]
        )

    def offer(self, trial: BatchTrial) -> None:
        """Ask for what comes next on this day, with the cautions for it."""
        self.cautions.value = sentences(cautions_now(trial), first=False)
        self.event.ask(event_groups(), trial.entry, press_label=SAVE_EVENT)
        self.added.ask(added_groups(trial, next_in(trial)), trial.entry, press_label=SAVE_ADDED)
        self.taken.ask(taken_groups(), trial.entry, press_label=SAVE_TAKEN)
        self.file.offer(trial)

    def ask_mend(self, trial: BatchTrial, kind: str, version: str) -> bool:
        """Put the version of something logged into its form; return whether there is one here."""
        record = next(each for each in LOGGED if each.kind == kind)
        saved = record.of(self._desk.book.get(version).payload)
        key = f"{trial.entry}/{version}"
        if kind in EVENT_KINDS:
            form, groups = self.event, event_groups(saved)  # type: ignore[arg-type]
        elif isinstance(saved, Added):
            form, groups = self.added, added_groups(trial, "", saved)
        elif isinstance(saved, Taken):
            form, groups = self.taken, taken_groups(saved)
        else:
            return False
        form.ask(groups, key, press_label="Save what is mended")
        form.bring_into_view()
        return True

    def _happened(self, press: Press) -> Saved:
        record, fields = read_event(press.values, press.at)
        return self._write(press, record, fields)

    def _went_in(self, press: Press) -> Saved:
        return self._write(press, Added, read_added(press.values, press.at))

    def _came_out(self, press: Press) -> Saved:
        return self._write(press, Taken, read_taken(press.values, press.at))

    def _write(self, press: Press, record: type, fields: dict[str, object]) -> Saved:
        name, _, about = press.key.partition("/")
        trial = self._desk.trial(name)
        if about:
            trial.mend_logged(self._desk.book.get(about), press.id, **fields)
            return self._desk.saved(MENDED, name)
        trial.log(record, press.id, **fields)
        return self._desk.saved("Saved.", name)
