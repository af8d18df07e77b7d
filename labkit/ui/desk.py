"""What every part of a panel works with: the guard, the book, what a save says."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, ClassVar

from labkit.ui.form import Form, Press, Saved, Values
from labkit.ui.guard import Guard

if TYPE_CHECKING:
    from labkit.book import TrialBook


@dataclass(frozen=True)
class Desk:
    """Where a part's form stands.

    Attributes
    ----------
    guard
        Shows what goes wrong.
    book
        Keeps what is typed, and photos.
    saved
        Called with what to say and the trial's entry once something is on disk.
    forms
        The forms of all parts.
    """

    room: ClassVar[str]

    guard: Guard
    book: "TrialBook"
    saved: Callable[[str, str], Saved]
    forms: list[Form] = field(default_factory=list)

    def form(
        self,
        name: str,
        on_press: Callable[[Press], Saved],
        check: Callable[[Values], Mapping[str, str]],
        label: str,
    ) -> Form:
        """Return a form whose drafts are kept under its name."""
        at = f"{self.book.maker}/{self.room}/{name}"
        made = Form(at, self.guard, self.book, on_press, check, self.book.add_photo, press_label=label)
        self.forms.append(made)
        return made

    def unsay(self) -> None:
        """Take away what the forms say of earlier presses: what they stood for is shown anew."""
        for form in self.forms:
            form.unsay()
