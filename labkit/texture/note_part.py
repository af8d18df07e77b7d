"""The part of the panel where a note is written down or mended."""

from typing import TYPE_CHECKING

import ipywidgets

from labkit.errors import LabError
from labkit.texture import wording
from labkit.texture.desk import Desk
from labkit.texture.note_form import check_note, note_groups, read_note
from labkit.texture.record import Note
from labkit.times import now
from labkit.ui.form import Press, Saved, Values

if TYPE_CHECKING:
    from labkit.texture.trial import TextureTrial


class NotePart(ipywidgets.VBox):
    """The form of a note."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self.trial: TextureTrial | None = None
        self.form = desk.form("note", self._felt, self._check, "Save this word")
        super().__init__([self.form])

    def offer(self, trial: "TextureTrial") -> None:
        """Ask about the pour that was poured last."""
        self.trial = trial
        groups = note_groups(
            trial.question, trial.labels, last=trial.last_reading, testers=list(trial.testers.values()),
            sticks=trial.sticks,
        )  # fmt: skip
        self.form.ask(groups, trial.entry, press_label="Save this word")

    def ask_mend(self, trial: "TextureTrial", version: str) -> None:
        """Put the version of a note into the form."""
        note = Note.of(self._desk.book.get(version).payload)
        label = next(cast.label for cast in trial.casts if cast.entry == note.pour)
        groups = note_groups(
            trial.question, trial.labels, note, label,
            than=trial.than_words(note.than), tester=trial.testers.get(note.tester, ""),
            testers=list(trial.testers.values()), sticks=trial.sticks,
        )  # fmt: skip
        self.form.ask(groups, f"{trial.entry}/{version}", press_label="Save the mended word")
        self.form.bring_into_view()

    def _check(self, values: Values) -> dict[str, str]:
        return check_note(values, self.trial.compared_with) if self.trial else {}

    def _felt(self, press: Press) -> Saved:
        name, _, about = press.key.partition("/")
        trial = self._desk.trial(name)
        label, read = read_note(press.values, press.at, trial.compared_with)
        if about:
            trial.mend_note(self._desk.book.get(about), label, id=press.id, **read)
            return self._desk.saved("Saved: the note is mended, and what stood there before is kept.", name)
        trial = trial.log_note(label, id=press.id, **read)
        say = f"Saved: pour {label}: {wording.said(read)}. {_forecast(trial, label)}"
        return self._desk.saved(say.strip(), name)


def _forecast(trial: "TextureTrial", label: str) -> str:
    """Return when to judge the pour; nothing where the map cannot say: the note is on disk all the same."""
    try:
        return wording.not_yet(trial, trial.cast(label), now())
    except LabError:
        return ""
