"""The panel of a texture trial."""

from collections.abc import Mapping

import ipywidgets

from labkit.texture import next_forms, question_form, views, wording
from labkit.texture.begin import ask, change_question
from labkit.texture.cards import card
from labkit.texture.desk import Desk
from labkit.texture.logbook import log
from labkit.texture.look_part import LookAgain
from labkit.texture.marks_map import marked
from labkit.texture.mending import NOTE, POUR, saved
from labkit.texture.note_part import NotePart
from labkit.texture.old_part import OldTrials
from labkit.texture.pour_part import PourPart
from labkit.texture.second_part import SecondQuestion
from labkit.texture.stock_part import StockMelts
from labkit.texture.trial import TextureTrial
from labkit.texture.trials import trials
from labkit.times import now
from labkit.ui.card import Card
from labkit.ui.form import Group, Press, Saved, Values
from labkit.ui.mending import Mending
from labkit.ui.parts import Fold, section, sentences, show
from labkit.ui.reading import Faults
from labkit.ui.trial_panel import NEW_TRIAL, TrialPanel

EXAMPLE = (
    "Answer three questions, and the lab makes your first weigh card.",
    "This is what you will get after a few pours: a map of where to find the hardness that you want.",
)
PLAN = (
    "If you would rather pour several at once: the lab chooses the pours that teach most about the whole "
    "map, around those that you have."
)


class TexturePanel(TrialPanel):
    """Ask, weigh, pour, feel, see the map, get the next pour: on a trial book that loses nothing.

    Parameters and attributes: as `labkit.ui.trial_panel.TrialPanel` has them.
    """

    def known_trials(self) -> Mapping[str, str]:
        """Return the entry of each texture trial by its name, the newest first."""
        return trials(self.book)

    # ------------------------------------------------------------ what it is made of

    def make(self) -> None:
        """Make the desk, the forms and the places."""
        self.trial: TextureTrial | None = None
        self._pictured = ""
        self._offered = dict.fromkeys(("second", "look", "old", "stocks"), False)
        self.desk = Desk(self.guard, self.book, self.saved)
        self._make_forms()
        self._make_places()

    def _make_forms(self) -> None:
        self.question_form = self.desk.form(
            "question", self._asked, self._check_question, "Make my weigh card"
        )
        self.next_form = self.desk.form("next", self._next, next_forms.check_next, "Put it on the weigh card")
        self.plan_form = self.desk.form("plan", self._planned, next_forms.check_plan, "Plan these pours")

    def _make_places(self) -> None:
        self.pour_part, self.note_part = PourPart(self.desk), NotePart(self.desk)
        self.mending = Mending("Mend what was saved", self.guard, self._ask_mend, self.mended)
        self.look_again, self.stocks, self.old = (
            LookAgain(self.desk),
            StockMelts(self.desk),
            OldTrials(self.desk),
        )
        self.second = SecondQuestion(self.desk, lambda trial: self.open_trial(trial.entry))
        (
            self.standing,
            self.example,
            self.region,
            self.map,
            self.words,
            self.logged,
            self.advice,
        ) = (ipywidgets.HTML() for _ in range(7))
        self.card = Card()
        self.places = {
            "standing": self.standing,
            "example": self.example,
            "question": section("Your question", self.question_form),
            "card": section("Weigh", self.card),
            "region": section("Where your bounds let you look", self.region),
            "pour": section("Pour", self.pour_part),
            "note": section("Feel", self.note_part),
            "map": section("Map", self.map),
            "next": section("Pour next", self.advice, self.next_form),
            "words": section("As they set", self.words),
            "second": Fold("Ask your notes something else", self.second),
            "vary": self.told("How your pours vary", views.vary_picture),
            "forecast": self.told("What was forecast, and what happened", views.forecast_told),
            "marks": self.told("Maps of your marks", views.marks_pictures),
            "look": Fold("Look again", self.look_again),
            "old": Fold("Your earlier trials", self.old),
            "trials": self.told("Your trials side by side", views.trials_picture),
            "stocks": Fold("Stock melts", self.stocks),
            "plan": Fold(
                "Plan several pours", ipywidgets.HTML(sentences([PLAN], first=False)), self.plan_form
            ),
            "log": section("Your book", self.logged, self.mending),
        }

    # ------------------------------------------------------------ showing

    def show_forms(self, name: str | None) -> None:
        """Read a trial and show its forms, which takes no time that a hand would notice."""
        self.trial = TextureTrial(self.book, name) if name else None
        self.desk.unsay()
        self.show_bar()
        self._ask_question()
        if self.trial is not None:
            self._ask_trial(self.trial)
        self._show_places()

    def show_pictures(self) -> None:
        """Show what follows from the trial's notes: sentences, maps, advice."""
        if self.trial is None:
            self._show_example()
        else:
            self._show_trial(self.trial)

    def _show_places(self) -> None:
        trial = self.trial
        poured = trial is not None and bool(trial.casts)
        felt = trial is not None and not trial.readings().empty
        mapped = trial is not None and trial.has_map
        shown = {"map": mapped} | dict.fromkeys(("next", "words", "vary", "forecast"), felt)
        shown |= dict.fromkeys(("note", "plan"), poured)
        shown |= dict.fromkeys(("card", "pour", "log"), trial is not None)
        shown |= dict.fromkeys(("question", "example"), trial is None)
        shown["trials"] = felt and self._offered["old"]
        shown["marks"] = trial is not None and bool(marked(trial))
        shown |= {place: trial is not None and offered for place, offered in self._offered.items()}
        shown["region"] = trial is not None and not mapped
        for place, each in shown.items():
            show(self.places[place], each)

    def _show_example(self) -> None:
        self.standing.value = sentences(EXAMPLE)
        self.example.value = views.example_picture()

    def _ask_trial(self, trial: TextureTrial) -> None:
        self.card.html = card(trial)
        self.card.printable = bool(trial.waiting)
        self.pour_part.offer(trial)
        self.mending.offer(trial, saved(trial))
        if trial.casts:
            self.note_part.offer(trial)
            self.plan_form.ask(next_forms.plan_groups(), trial.entry)
            self.next_form.ask(next_forms.next_groups(), trial.entry)
        self._offered = {
            "second": self.second.offer(trial),
            "look": self.look_again.offer(trial),
            "old": self.old.offer(trial),
            "stocks": self.stocks.offer(trial),
        }

    def _show_trial(self, trial: TextureTrial) -> None:
        self.standing.value = views.standing(trial, now())
        self.logged.value = log(trial) if trial.casts else ""
        if trial.shown_key == self._pictured:
            return
        try:
            self._draw(trial)
        except Exception:
            for place in (self.advice, self.words, self.map):
                place.value = ""
            raise
        self._pictured = trial.shown_key

    def _draw(self, trial: TextureTrial) -> None:
        """Show what takes a while to make: where to pour next, the words, the map, and what is unfolded."""
        if not trial.has_map:
            self.region.value = views.region_picture(trial)
        if trial.model is not None:
            suggestion = trial.next_pour()
            self.advice.value = sentences(wording.suggestion_words(trial, suggestion))
            self.words.value = views.words_picture(trial)
            if trial.has_map:
                self.map.value = views.map_picture(trial, suggestion)
        self.fill_open()

    # ------------------------------------------------------------ the question

    def _ask_question(self) -> None:
        saved = self.trial.question if self.trial else None
        self._counted = saved.usual if saved else ()
        label = "Save the changed question" if saved else "Make my weigh card"
        self.question_form.ask(self._question_groups(), self.key, press_label=label)

    def _question_groups(self) -> list[Group]:
        saved, lines = self.trial.question if self.trial else None, self._counted
        told = question_form.counted_words(lines)
        return question_form.question_groups(*question_form.parts_of(lines), saved=saved, told=told)

    def _check_question(self, values: Values) -> Mapping[str, str]:
        lines = tuple(question_form.read_usual(values, Faults()))
        if lines != self._counted:
            self._counted = lines
            self.question_form.ask(self._question_groups(), self.question_form.key)
        return question_form.check_question(values)

    def _asked(self, press: Press) -> Saved:
        question, name = question_form.read_question(press.values)
        if press.key == NEW_TRIAL:
            trial = ask(self.book, question, name, press.id)
            return self.saved(f"Saved. Your first weigh card is below: “{trial.name}”.", trial.entry)
        change_question(TextureTrial(self.book, press.key), question, press.id)
        return self.saved("Saved: the question is changed.", press.key)

    # ------------------------------------------------------------ what to pour next

    def _next(self, press: Press) -> Saved:
        trial = TextureTrial(self.book, press.key)
        pours = trial.for_card(trial.next_pour(next_forms.read_next(press.values)))
        trial.put_on_card(pours, press.id)
        return self.saved(wording.card_words(pours), trial.entry)

    def _planned(self, press: Press) -> Saved:
        trial = TextureTrial(self.book, press.key)
        plan = trial.plan(*next_forms.read_plan(press.values))
        trial.put_on_card(trial.for_card(plan), press.id)
        return self.saved(wording.plan_words(plan), trial.entry)

    # ------------------------------------------------------------ mending

    def _ask_mend(self, kind: str, version: str) -> None:
        """Put what was chosen into its form, or the forms back to what is next."""
        assert self.trial is not None
        trial = self.trial
        self.pour_part.offer(trial)
        if trial.casts:
            self.note_part.offer(trial)
        if kind == POUR:
            self.pour_part.ask_mend(version)
        elif kind == NOTE:
            self.note_part.ask_mend(trial, version)
