"""The panel of a shade trial."""

from collections.abc import Mapping

import ipywidgets

from labkit.shade import mending, question_form, views
from labkit.shade.demo import example_shade
from labkit.shade.desk import Desk
from labkit.shade.kept_part import KeptPart
from labkit.shade.swatch_part import SwatchPart
from labkit.shade.trial import ShadeTrial, ask, trials
from labkit.shade.wish_part import WishPart
from labkit.shade.wording import standing
from labkit.ui.card import Card
from labkit.ui.form import Press, Saved, Values
from labkit.ui.mending import Mending
from labkit.ui.parts import Fold, section, sentences, show
from labkit.ui.reading import Faults, only
from labkit.ui.trial_panel import NEW_TRIAL, TrialPanel

EXAMPLE = (
    "Name your pigments, and the lab draws their colour from sheer to full before you weigh anything.",
    "This is what you will get: an invented example.",
)


class ShadePanel(TrialPanel):
    """Ask, see the sweep, swatch, see what it taught, ask for a colour: on a trial book that loses nothing.

    Parameters and attributes: as `labkit.ui.trial_panel.TrialPanel` has them.
    """

    def known_trials(self) -> Mapping[str, str]:
        """Return the entry of each shade trial by its name, the newest first."""
        return trials(self.book)

    # ------------------------------------------------------------ what it is made of

    def make(self) -> None:
        """Make the desk, the forms and the places."""
        self.trial: ShadeTrial | None = None
        self._told_of: tuple[str, ...] = ()
        self.desk = Desk(self.guard, self.book, self.saved)
        self.question_form = self.desk.form("question", self._asked, self._check_question, "Draw the sweep")
        self.swatch_part = SwatchPart(self.desk)
        self.wish_part = WishPart(self.desk)
        self.kept_part = KeptPart(self.desk, self._started)
        self.mending = Mending("Mend a swatch", self.guard, self._ask_mend, self.mended)
        self.standing, self.example, self.rules, self.swept, self.logged = (
            ipywidgets.HTML() for _ in range(5)
        )
        self.card = Card()
        self.places = {
            "standing": self.standing,
            "example": self.example,
            "question": section("Your question", self.question_form),
            "sweep": section("From sheer to full", self.swept),
            "rules": Fold("May these pigments go on lips?", self.rules),
            "card": Fold("What to weigh", self.card),
            "swatch": section("Swatch", self.swatch_part),
            "told": self.told("Forecast against swatches", views.told_pictures),
            "wish": section("Find a blend for a colour", self.wish_part),
            "kept": Fold("Kept blends", self.kept_part),
            "log": Fold("Your swatches", self.logged, self.mending),
        }

    # ------------------------------------------------------------ showing

    def show_forms(self, name: str | None) -> None:
        """Read a trial and show its forms, which takes no time that a hand would notice."""
        self.trial = ShadeTrial(self.book, name) if name else None
        self.desk.unsay()
        self.show_bar()
        self._ask_question()
        trial = self.trial
        if trial is not None:
            self.card.html = views.card(trial)
            self.rules.value = views.rules_table(trial)
            self.swatch_part.offer(trial)
            self.wish_part.offer(trial)
            self.mending.offer(trial, mending.saved(trial))
        kept = trial is not None and self.kept_part.offer(trial)
        swatched = trial is not None and bool(trial.swatch_rows)
        shown = dict.fromkeys(("sweep", "rules", "card", "swatch", "wish"), trial is not None)
        shown |= dict.fromkeys(("question", "example"), trial is None)
        shown |= {"kept": kept, "told": swatched, "log": swatched or bool(trial and trial.gone())}
        for place, each in shown.items():
            show(self.places[place], each)

    def show_pictures(self) -> None:
        """Show what follows from the question and the swatches."""
        if self.trial is None:
            self.standing.value = sentences(EXAMPLE)
            self.example.value = example_shade()
            return
        self.standing.value = sentences(standing(self.trial))
        self.swept.value = views.sweep_pictures(self.trial, self.trial.sweep())
        self.logged.value = views.swatch_log(self.trial) if self.trial.swatch_rows else ""
        self.fill_open()

    # ------------------------------------------------------------ the question

    def _ask_question(self, told: str = "") -> None:
        saved = self.trial.question if self.trial else None
        label = "Save the changed question" if saved else "Draw the sweep"
        self.question_form.ask(question_form.question_groups(saved, told), self.key, press_label=label)

    def _check_question(self, values: Values) -> Mapping[str, str]:
        market = only(values, "market").get("market", "")
        picked = question_form.read_pigments(values, "", Faults())
        told = (market, *picked)
        if market and told != self._told_of:
            self._told_of = told
            self._ask_question(question_form.market_words(picked, market))
        return question_form.check_question(values)

    def _asked(self, press: Press) -> Saved:
        question, name = question_form.read_question(press.values)
        if press.key == NEW_TRIAL:
            trial = ask(self.book, question, name, press.id)
            return self.saved(f"Saved. The sweep of “{trial.name}” is below.", trial.entry)
        ShadeTrial(self.book, press.key).change(question, press.id)
        return self.saved("Saved: the question is changed.", press.key)

    def _started(self, trial: ShadeTrial) -> None:
        self.open_trial(trial.entry)
        self.swatch_part.form.bring_into_view()

    # ------------------------------------------------------------ mending

    def _ask_mend(self, kind: str, version: str) -> None:
        assert self.trial is not None
        if kind == mending.SWATCH:
            self.swatch_part.ask_mend(self.trial, version)
        else:
            self.swatch_part.offer(self.trial)
