"""The part of the panel that asks the same notes a second question."""

from collections.abc import Callable
from typing import TYPE_CHECKING

import ipywidgets
import pandas as pd

from labkit.errors import LabError
from labkit.texture import wording
from labkit.texture.desk import Desk
from labkit.texture.second_form import check_second, read_second, second_groups
from labkit.ui.form import Press, Saved, Values
from labkit.ui.parts import button, sentences, show

if TYPE_CHECKING:
    from labkit.texture.second import Answer
    from labkit.texture.trial import TextureTrial

KNOWN = "the answer to your second question"
INTRO = (
    "Your notes can answer another question without a new pour: another word, with more butter, "
    "or without something that somebody cannot have."
)


class SecondQuestion(ipywidgets.VBox):
    """A form of wishes, the answer, and a button that puts what to pour for it on the card.

    Parameters
    ----------
    desk
        Where its form stands.
    changed
        Called with the trial after a pour was put on the card.
    """

    def __init__(self, desk: Desk, changed: Callable[["TextureTrial"], None]) -> None:
        self._changed = changed
        self.trial: TextureTrial | None = None
        self.answer: Answer | None = None
        self.form = desk.form("second", self._asked, self._check, "Ask")
        self.answered = ipywidgets.HTML()
        self.put = button("Put the answer on the weigh card", desk.guard, self._put)
        super().__init__(
            [ipywidgets.HTML(sentences([INTRO], first=False)), self.form, self.answered, self.put]
        )

    def offer(self, trial: "TextureTrial") -> bool:
        """Ask about this trial, and say whether it has notes; an older answer is taken away."""
        self.trial, self.answer, self.answered.value = trial, None, ""
        show(self.put, False)
        self.form.ask(second_groups(trial.question), trial.entry)
        return not trial.readings().empty

    def _check(self, values: Values) -> dict[str, str]:
        return dict(check_second(values, self.trial.question)) if self.trial else {}

    def _asked(self, press: Press) -> Saved:
        if self.trial is None:
            raise LabError("Open a trial first.")
        self.answer = self.trial.ask(**read_second(press.values, self.trial.question))
        self.answered.value = sentences(self.answer.sentences)
        show(self.put, True)
        return Saved("Answered.")

    def _put(self) -> None:
        if self.trial is None or self.answer is None:
            raise LabError("Ask first.")
        known = pd.DataFrame([self.answer.shares]).assign(why=KNOWN)
        pours = self.trial.for_card(known if self.answer.pour is None else self.answer.pour)
        self._changed(self.trial.put_on_card(pours))
        self.answered.value = sentences([wording.card_words(pours)])
