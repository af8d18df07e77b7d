"""The part of the panel where a note is written down or mended."""

from collections.abc import Callable
from typing import TYPE_CHECKING

import ipywidgets

from labkit.errors import LabError
from labkit.texture import wording
from labkit.texture.note_form import check_note, note_groups, read_note
from labkit.texture.record import Note
from labkit.texture.writing import now
from labkit.ui.form import Form, Press, Saved
from labkit.ui.guard import Guard

if TYPE_CHECKING:
    from labkit.book import TrialBook
    from labkit.texture.trial import TextureTrial


class NotePart(ipywidgets.VBox):
    """The form of a note.

    Parameters
    ----------
    guard
        Shows what goes wrong.
    book
        Keeps what is typed.
    open_trial
        Returns the trial as it stands, by its entry.
    saved
        Called with what to say and the trial's entry once a note is on disk.
    """

    def __init__(
        self,
        guard: Guard,
        book: "TrialBook",
        open_trial: Callable[[str], "TextureTrial"],
        saved: Callable[[str, str], Saved],
    ) -> None:
        self._book, self._open, self._saved = book, open_trial, saved
        desk = f"{book.maker}/texture/note"
        self.form = Form(
            desk, guard, book, self._felt, check_note, book.add_photo, press_label="Save this word"
        )
        super().__init__([self.form])

    def offer(self, trial: "TextureTrial") -> None:
        """Ask about the pour that was poured last."""
        groups = note_groups(
            trial.question, _labels(trial), last=trial.last_reading, testers=list(trial.testers.values())
        )
        self.form.ask(groups, trial.entry, press_label="Save this word")

    def ask_mend(self, trial: "TextureTrial", version: str) -> None:
        """Put the version of a note into the form."""
        note = Note.of(self._book.get(version).payload)
        label = next(cast.label for cast in trial.casts if cast.entry == note.pour)
        groups = note_groups(
            trial.question, _labels(trial), note, label,
            than=trial.than_words(note.than), tester=trial.testers.get(note.tester, ""),
            testers=list(trial.testers.values()),
        )  # fmt: skip
        self.form.ask(groups, f"{trial.entry}/{version}", press_label="Save the mended word")
        self.form.bring_into_view()

    def _felt(self, press: Press) -> Saved:
        name, _, about = press.key.partition("/")
        trial = self._open(name)
        label, read = read_note(press.values, press.at)
        if about:
            trial.mend_note(self._book.get(about), label, id=press.id, **read)
            return self._saved("Saved: the note is mended, and what stood there before is kept.", name)
        trial = trial.log_note(label, id=press.id, **read)
        say = f"Saved: pour {label}: {wording.said(read)}. {_forecast(trial, label)}"
        return self._saved(say.strip(), name)


def _forecast(trial: "TextureTrial", label: str) -> str:
    """Return when to judge the pour; nothing where the map cannot say: the note is on disk all the same."""
    try:
        return wording.not_yet(trial, trial.cast(label), now())
    except LabError:
        return ""


def _labels(trial: "TextureTrial") -> list[str]:
    return list(dict.fromkeys(cast.label for cast in trial.casts))
