"""The panel of a streak test."""

from collections.abc import Mapping
from datetime import datetime
from typing import TYPE_CHECKING

import ipywidgets

from labkit.streak import mending, question_form, stick_form, views
from labkit.streak.demo import example_streak
from labkit.streak.desk import Desk
from labkit.streak.photo_read import LabOf, photos_read
from labkit.streak.round_part import RoundPart
from labkit.streak.trial import StreakTrial, ask, trials
from labkit.streak.wording import CAUTIONS, standing
from labkit.ui.clock import Clock
from labkit.ui.form import Press, Saved
from labkit.ui.mending import Mending
from labkit.ui.parts import Fold, section, sentences, show
from labkit.ui.trial_panel import NEW_TRIAL, TrialPanel

if TYPE_CHECKING:
    from labkit.book import TrialBook

EXAMPLE = (
    "Say what you stir, then grade the streaks round by round: the lab says when you can stop.",
    "This is what you will get: an invented example.",
)
STICK_INTRO = (
    "A day later: is the stick as dark at its foot as at its head? Pigment that sank is seen there. Read "
    "each end, and say how far repeats of one spot differ."
)


class StreakPanel(TrialPanel):
    """Grade streaks at the stove, know when to stop, and see how ways of stirring differ.

    Parameters and attributes: as `labkit.ui.trial_panel.TrialPanel` has them; and ``lab_of``, from a
    pigment's name to its full colour, for pigments whose colour the maker does not give.
    """

    trial_word = "Streak test"
    change_words = "Change the test"

    def __init__(
        self, book: "TrialBook | None" = None, trial: str | None = None, lab_of: LabOf | None = None
    ) -> None:
        self._lab_of = lab_of
        super().__init__(book, trial)

    def known_trials(self) -> Mapping[str, str]:
        """Return the entry of each streak test by its name, the newest first."""
        return trials(self.book)

    # ------------------------------------------------------------ what it is made of

    def make(self) -> None:
        """Make the desk, the forms and the places."""
        self.trial: StreakTrial | None = None
        self.desk = Desk(self.guard, self.book, self.saved)
        self.question_form = self.desk.form(
            "question", self._asked, question_form.check_question, "Start the clock"
        )
        self.round_part = RoundPart(self.desk)
        self.stick_form = self.desk.form("stick", self._read, stick_form.check_stick, "Save this check")
        self.mending = Mending("Mend what was saved", self.guard, self._ask_mend, self.mended)
        self.clock = Clock()
        self.standing, self.example, self.drawn, self.seen, self.checked, self.logged = (
            ipywidgets.HTML() for _ in range(6)
        )
        cautions = ipywidgets.HTML(sentences(CAUTIONS, first=False))
        stick_intro = ipywidgets.HTML(sentences([STICK_INTRO], first=False))
        self.places = {
            "standing": self.standing,
            "clock": self.clock,
            "example": self.example,
            "question": section("Your streak test", cautions, self.question_form),
            "round": section("Look", self.round_part),
            "chances": section("When to stop", self.drawn),
            "photos": section("What the photo shows", self.seen),
            "between": self.told("How ways of stirring differ", views.between),
            "stick": Fold("Top and bottom of a set stick", stick_intro, self.stick_form, self.checked),
            "log": Fold("Your rounds", self.logged, self.mending),
        }

    # ------------------------------------------------------------ showing

    def show_forms(self, name: str | None) -> None:
        """Read a test and show its forms, which takes no time that a hand would notice."""
        self.trial = StreakTrial(self.book, name) if name else None
        trial = self.trial
        self.desk.unsay()
        self.show_bar()
        saved = trial.question if trial else None
        label = "Save the changed test" if saved else "Start the clock"
        self.question_form.ask(question_form.question_groups(saved), self.key, press_label=label)
        if trial is not None:
            self.round_part.offer(trial)
            self.stick_form.ask(stick_form.stick_groups(), trial.entry)
            self.mending.offer(trial, mending.saved(trial))
            self.clock.show(_since(trial))
        looked = trial is not None and bool(trial.looks)
        shown = dict.fromkeys(("clock", "round", "stick"), trial is not None)
        shown |= dict.fromkeys(("question", "example"), trial is None)
        shown |= {"chances": trial is not None and trial.graded > 0, "between": looked}
        shown["photos"] = trial is not None and any(look.photo for _, look in trial.looks)
        shown["log"] = looked or bool(trial and (trial.gone() or trial.sticks()))
        for place, each in shown.items():
            show(self.places[place], each)

    def show_pictures(self) -> None:
        """Show what follows from the rounds."""
        trial = self.trial
        if trial is None:
            self.standing.value = sentences(EXAMPLE)
            self.example.value = example_streak()
            return
        told = trial.told() if trial.graded else None
        self.standing.value = sentences(standing(trial, told))
        self.drawn.value = "" if told is None else views.chances(trial, told)
        read = photos_read(trial, self._lab_of)
        self.seen.value = views.photos(read) if read else ""
        self.checked.value = views.sticks(trial)
        self.logged.value = views.log(trial) if trial.looks else ""
        self.fill_open()

    # ------------------------------------------------------------ presses

    def _asked(self, press: Press) -> Saved:
        question, name = question_form.read_question(press.values, press.at)
        if press.key == NEW_TRIAL:
            trial = ask(self.book, question, name, press.id)
            return self.saved("Saved. Stir, then look: the clock runs.", trial.entry)
        StreakTrial(self.book, press.key).change(question, press.id)
        return self.saved("Saved: the test is changed.", press.key)

    def _read(self, press: Press) -> Saved:
        fields = stick_form.read_stick(press.values, press.at)
        StreakTrial(self.book, press.key).log_stick(id=press.id, **fields)
        return self.saved("Saved: the check of the stick.", press.key)

    def _ask_mend(self, kind: str, version: str) -> None:
        assert self.trial is not None
        if kind == mending.LOOK:
            self.round_part.ask_mend(self.trial, version)
        else:
            self.round_part.offer(self.trial)


def _since(trial: StreakTrial) -> "dict[str, datetime]":
    since = {"since stirring began": trial.question.began_at}
    if trial.looks:
        since[f"since round {len(trial.looks)}"] = trial.looks[-1][1].graded_at
    return since
