"""What the panel of every experiment room does alike: one trial is open, forms first, pictures after."""

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any, ClassVar

import ipywidgets

from labkit.ui.form import Saved
from labkit.ui.guard import Guard
from labkit.ui.parts import Choice, Fold, button, show, style

if TYPE_CHECKING:
    from labkit.book import TrialBook

NEW_TRIAL = "new"


class TrialPanel(ipywidgets.VBox):
    """A panel on the trials of one room.

    A room says which trials there are (`known_trials`), makes its `places` (`make`), shows its forms, which
    takes no time that a hand would notice (`show_forms`), and what follows from the book (`show_pictures`).

    Parameters
    ----------
    book
        The trial book; by default the one of this lab.
    trial
        Name of the trial to open; by default the newest.

    Attributes
    ----------
    trial : the open trial, or None where a new one is being asked
    places : the parts of the panel, by name, from top to bottom; "question" is the form of the question
    errors : what went wrong so far, in words, for a check that nothing did
    """

    trial_word: ClassVar[str] = "Trial"
    change_words: ClassVar[str] = "Change the question"
    """What the room calls a trial, and changing what it asks."""

    def __init__(self, book: "TrialBook | None" = None, trial: str | None = None) -> None:
        super().__init__()
        self.guard = Guard()
        self.trial: Any = None
        self.places: dict[str, ipywidgets.Widget] = {}
        self._fill: dict[Fold, Callable[[], None]] = {}
        self.add_class("labkit-panel")
        self.children = [style(), self.guard.box]
        with self.guard:
            self.book = book if book is not None else _book_here()
            self.trials = Choice(self.trial_word, self.guard, self._chosen)
            self.change = button(self.change_words, self.guard, self._change_question)
            self.bar = ipywidgets.HBox([self.trials, self.change], layout={"flex_flow": "row wrap"})
            self.make()
            self.children = [*self.children, self.bar, *self.places.values()]
            self.open_trial(trial or next(iter(self.known_trials()), None))

    @property
    def errors(self) -> list[str]:
        """What went wrong so far, in words."""
        return self.guard.errors

    def known_trials(self) -> Mapping[str, str]:
        """Return the entry of each trial's question by the trial's name, the newest first."""
        raise NotImplementedError

    def make(self) -> None:
        """Make the desk, the forms and the places."""
        raise NotImplementedError

    def show_forms(self, name: str | None) -> None:
        """Read a trial and show its forms."""
        raise NotImplementedError

    def show_pictures(self) -> None:
        """Show what follows from the trial."""
        raise NotImplementedError

    def open_trial(self, name: str | None) -> None:
        """Open a trial by its name or the id of its question, or the blank question of a new one."""
        self.show_forms(name)
        self.show_pictures()

    def told(self, title: str, view: Callable[[Any], str]) -> Fold:
        """Return a fold whose content is made when it is opened, since it takes a while."""
        content = ipywidgets.HTML()

        def fill() -> None:
            with self.guard:
                content.value = view(self.trial) if self.trial else ""

        folded = Fold(title, content, opened=fill)
        self._fill[folded] = fill
        return folded

    def fill_open(self) -> None:
        """Make the content of the open folds anew."""
        for folded, fill in self._fill.items():
            if folded.is_open:
                fill()

    def show_bar(self) -> None:
        """Offer the trials, and to start another one."""
        known = self.known_trials()
        options = [*known.items(), (f"Start another {self.trial_word.lower()}", NEW_TRIAL)]
        self.trials.offer(options, self.key)
        show(self.bar, bool(known))
        show(self.change, self.trial is not None)

    @property
    def key(self) -> str:
        """What the question's form is about: the open trial, or a new one."""
        return self.trial.entry if self.trial else NEW_TRIAL

    def saved(self, say: str, name: str) -> Saved:
        """Show the forms anew before a press is answered: the next press means what it says."""
        with self.guard:
            self.show_forms(name)
        return Saved(say, self.show_pictures)

    def _change_question(self) -> None:
        show(self.places["question"], True)
        self.question_form.bring_into_view()

    def _chosen(self, name: str) -> None:
        self.open_trial(None if name == NEW_TRIAL else name)

    def mended(self) -> None:
        """Show the trial anew after something was taken back or put back."""
        self.open_trial(self.trial.entry if self.trial else None)


def _book_here() -> "TrialBook":
    from labkit.book import book_here

    return book_here()
