"""The panel of a day at the stove."""

from collections.abc import Mapping
from datetime import timedelta
from typing import TYPE_CHECKING

import ipywidgets
import numpy as np

from labkit.batch import mending, question_form, views
from labkit.batch.after_part import AfterPart
from labkit.batch.apart_part import apart_view, loss_view
from labkit.batch.cooling import CoolingFit
from labkit.batch.day import cooling_or_why, melt_or_why, scaled, window_of
from labkit.batch.demo import example_day
from labkit.batch.desk import Desk
from labkit.batch.handed import ColourOf, HardnessOf
from labkit.batch.past import to_make_again, wanted_g
from labkit.batch.pot_part import PotPart
from labkit.batch.record import Drip, Question
from labkit.batch.sheet import SHEET_STYLE, run_sheet
from labkit.batch.stove_part import StovePart
from labkit.batch.trial import BatchTrial, ask, trials
from labkit.batch.window import PourWindow
from labkit.batch.wording import standing
from labkit.ui.card import Card
from labkit.ui.clock import Clock
from labkit.ui.form import Press, Saved
from labkit.ui.mending import Mending
from labkit.ui.parts import Fold, button, section, sentences, show
from labkit.ui.trial_panel import NEW_TRIAL, TrialPanel

if TYPE_CHECKING:
    from labkit.book import TrialBook

EXAMPLE = (
    "Write down what you will make, and the lab prints your run sheet and follows the day.",
    "This is what you will get while it cools: an invented example.",
)


class BatchPanel(TrialPanel):
    """From the run sheet over the cooling pot to the mass balance, one day at the stove.

    Parameters and attributes: as `labkit.ui.trial_panel.TrialPanel` has them; ``hardness_of`` and
    ``colour_of`` say where to ask what the maker's own trials know of a pot, see `labkit.batch.handed`.
    """

    trial_word = "Batch"
    change_words = "Change the plan"

    def __init__(
        self,
        book: "TrialBook | None" = None,
        trial: str | None = None,
        hardness_of: HardnessOf | None = None,
        colour_of: ColourOf | None = None,
    ) -> None:
        self._hardness_of, self._colour_of = hardness_of, colour_of
        self._again: Question | None = None
        super().__init__(book, trial)

    def known_trials(self) -> Mapping[str, str]:
        """Return the entry of each batch by its name, the newest first."""
        return trials(self.book)

    # ------------------------------------------------------------ what it is made of

    def make(self) -> None:
        """Make the desk, the forms and the places."""
        self.trial: BatchTrial | None = None
        self.desk = Desk(self.guard, self.book, self.saved)
        self.question_form = self.desk.form(
            "question", self._asked, question_form.check_question, "Make my run sheet"
        )
        self.stove = StovePart(self.desk)
        self.pot_part = PotPart(self.desk, self._hardness_of, self._colour_of)
        self.after = AfterPart(self.desk)
        self.mending = Mending("Mend what was saved", self.guard, self._ask_mend, self.mended)
        self.sheet, self.clock = Card(), Clock()
        self.sheet.print_style = SHEET_STYLE
        self.standing, self.example, self.loss, self.pot, self.cools, self.logged = (
            ipywidgets.HTML() for _ in range(6)
        )
        again = button("Make this recipe again", self.guard, self._make_again)
        self.sized = button("Make it again, sized for your usual loss", self.guard, self._make_again_sized)
        self.places = {
            "standing": self.standing,
            "clock": self.clock,
            "example": self.example,
            "question": section("Your batch", self.question_form),
            "sheet": Fold("Run sheet, to print", self.loss, self.sheet, opened=self._show_loss),
            "pot": section("The pot", self.pot),
            "stove": self.stove,
            "drip": Fold("A drip: too soft, too orange? What to add", self.pot_part),
            "cooling": section("How it cools", self.cools),
            "after": section("After the pour", self.after),
            "apart": self.told("How your batches differ", apart_view),
            "log": Fold("Your log", self.logged, self.mending),
            "again": ipywidgets.HBox([again, self.sized], layout={"flex_flow": "row wrap"}),
        }

    # ------------------------------------------------------------ showing

    def show_forms(self, name: str | None) -> None:
        """Read a batch and show its forms, which takes no time that a hand would notice."""
        self.trial = BatchTrial(self.book, name) if name else None
        trial = self.trial
        self.desk.unsay()
        self.show_bar()
        saved = trial.question if trial else self._again
        label = "Save the changed plan" if trial else "Make my run sheet"
        self.question_form.ask(
            question_form.question_groups(saved, new=trial is None), self.key, press_label=label
        )
        if trial is not None:
            self._again = None
            self.sheet.html = run_sheet(trial)
            self.pot.value = views.pot(trial)
            self.stove.offer(trial)
            self.pot_part.offer(trial)
            self.after.offer(trial)
            self.mending.offer(trial, mending.saved(trial))
        logged = trial is not None and bool(trial.logged)
        shown = dict.fromkeys(("sheet", "pot", "stove", "again"), trial is not None)
        shown |= dict.fromkeys(("question", "example"), trial is None)
        shown |= {"clock": logged, "drip": logged, "after": trial is not None and trial.poured is not None}
        shown["cooling"] = trial is not None and not trial.temperatures().empty
        shown["apart"] = len(self.known_trials()) > 1 and logged
        shown["log"] = logged or bool(trial and trial.gone())
        for place, each in shown.items():
            show(self.places[place], each)

    def show_pictures(self) -> None:
        """Show what follows from the day's log."""
        trial = self.trial
        if trial is None:
            self.standing.value = sentences(EXAMPLE)
            self.example.value = example_day()
            return
        cooling = cooling_or_why(trial)
        melt = melt_or_why(trial)
        window = window_of(trial, cooling, melt)
        self.standing.value = sentences(standing(trial, cooling, window))
        self._show_clock(trial, cooling, window)
        self.cools.value = views.cooling(trial, cooling, window, melt)
        self.after.balance.value = views.balance(trial)
        self.after.found.value = views.judged(trial)
        self.logged.value = views.log(trial)
        show(self.sized, trial.filled is not None and wanted_g(trial.question) is not None)
        if trial.of(Drip):
            self.pot_part.show()
        self.fill_open()

    def _show_loss(self) -> None:
        with self.guard:
            self.loss.value = loss_view(self.trial) if self.trial else ""

    def _show_clock(self, trial: BatchTrial, cooling: CoolingFit | str, window: PourWindow | None) -> None:
        clock = trial.clock
        if clock is None:
            return
        since = {"since the day began": clock}
        until = {}
        if trial.poured is not None:
            since["since it was poured"] = trial.poured.at
        elif not isinstance(cooling, str):
            until = {
                label: clock + timedelta(minutes=float(at))
                for label, at in _to_come(trial, cooling, window).items()
                if np.isfinite(at)
            }
        self.clock.show(since, until)

    # ------------------------------------------------------------ presses

    def _asked(self, press: Press) -> Saved:
        question, name = question_form.read_question(press.values, press.at)
        if press.key == NEW_TRIAL:
            trial = ask(self.book, question, name, press.id)
            return self.saved("Saved. Your run sheet is below, to print.", trial.entry)
        BatchTrial(self.book, press.key).change(question, press.id)
        return self.saved("Saved: the plan is changed.", press.key)

    def _make_again(self) -> None:
        if self.trial is not None:
            self._start_from(self.trial.question)

    def _make_again_sized(self) -> None:
        total_g = to_make_again(self.trial) if self.trial else None
        if self.trial is not None and total_g is not None:
            self._start_from(scaled(self.trial.question, total_g))

    def _start_from(self, question: Question) -> None:
        self._again = question
        self.open_trial(None)
        self.question_form.bring_into_view()

    def _ask_mend(self, kind: str, version: str) -> None:
        assert self.trial is not None
        trial = self.trial
        self.stove.offer(trial)
        self.after.offer(trial)
        if not version:
            return
        if kind == Drip.kind:
            self.pot_part.ask_mend(trial, version)
        elif kind.startswith("batch.") and not self.stove.ask_mend(trial, kind, version):
            self.after.ask_mend(trial, kind, version)


def _to_come(trial: BatchTrial, cooling: CoolingFit, window: PourWindow | None) -> dict[str, float]:
    """Return what is to come, in minutes on the day's clock."""
    if window is not None and window.is_open:
        return {"pour window opens": window.opens_min, "pour window closes": window.closes_min}
    if trial.question.pour_c is not None:
        return {f"at {trial.question.pour_c:g} °C": float(cooling.minutes_until(trial.question.pour_c))}
    return {}
