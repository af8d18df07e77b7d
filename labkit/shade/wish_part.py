"""The part of the panel where a colour is asked for, and a blend that gives it is kept."""

from typing import TYPE_CHECKING

import ipywidgets
import pandas as pd

from labkit.errors import LabError
from labkit.shade.desk import Desk
from labkit.shade.found import blend_in, found_picture, found_words, worth_showing
from labkit.shade.photo_part import PhotoPart
from labkit.shade.wanted import find_shade
from labkit.shade.wish_form import AMONG_INTRO, Wanted, allowed_pigments, check_wish, read_wish, wish_groups
from labkit.ui.form import Field, Group, Press, Saved
from labkit.ui.parts import Fold, sentences, show
from labkit.ui.reading import only, whole_number

if TYPE_CHECKING:
    from labkit.shade.trial import ShadeTrial

INTRO = "Say which colour you want on the lip; the lab looks through all blends of your pigments."


class WishPart(ipywidgets.VBox):
    """A form of the wish, the blends found, and a form that sends one of them on.

    Parameters
    ----------
    desk
        Where its forms stand.
    """

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self.trial: ShadeTrial | None = None
        self._about: tuple[str, ...] = ()
        self.wish: Wanted | None = None
        self.market: str | None = None
        self.found = pd.DataFrame()
        self.form = desk.form("wish", self._asked, lambda values: check_wish(values), "Find blends")
        self.keep_form = desk.form("keep", self._kept, lambda _: {}, "Keep it for a recipe")
        self.photo = PhotoPart(desk, self._from_photo, "Want this colour", "the wanted colour")
        self.answered = ipywidgets.HTML()
        super().__init__(
            [
                ipywidgets.HTML(sentences([INTRO], first=False)),
                Fold("Take the colour from a photo", self.photo),
                self.form,
                self.answered,
                self.keep_form,
            ]
        )
        show(self.keep_form, False)

    def offer(self, trial: "ShadeTrial") -> None:
        """Ask about this trial; an answer that no longer holds is taken away."""
        about = (trial.question_row.head.id, *trial.learned.swatches["version"])
        if about != self._about:
            self._about, self.wish, self.answered.value = about, None, ""
            show(self.keep_form, False)
        self.trial = trial
        names, told = allowed_pigments(trial.question.market)
        self.market = None if told != AMONG_INTRO else trial.question.market
        self.form.ask(wish_groups(trial, names, told), trial.entry)

    def _from_photo(self, read: dict[str, str]) -> None:
        self.form.fill({"colour": read["colour"]})
        self.form.bring_into_view()

    def _asked(self, press: Press) -> Saved:
        if self.trial is None:
            raise LabError("Open a trial first.")
        trial, wish = self.trial, read_wish(press.values)
        found = find_shade(
            wish.lab, wish.among, wish.max_load, wish.film_um, wish.backing, self.market, wish.pot,
            trial.learned.pigments, medium=trial.medium,
        )  # fmt: skip
        self.wish, self.found = wish, worth_showing(found)
        self.answered.value = found_picture(trial, wish, self.found)
        self.keep_form.ask(_keep_groups(len(self.found)), f"{trial.entry}/{press.id}")
        show(self.keep_form, True)
        return Saved(found_words(self.found, wish)[0])

    def _kept(self, press: Press) -> Saved:
        if self.trial is None or self.wish is None or self.found.empty:
            raise LabError("Ask for a colour first: what was found before is no longer on the screen.")
        if press.key != self.keep_form.key:
            raise LabError(
                "Other blends were found since you chose this one. Look at them, and choose again."
            )
        typed = only(press.values, "keep")
        at = whole_number(typed.get("which", ""), "which blend", 1, len(self.found)) - 1
        blend = blend_in(self.found, at)
        name = typed.get("name", "").strip() or f"{self.trial.name}: blend {at + 1}"
        trial = self.trial.keep_blend(name, blend, press.id, **_forecast(self.found.iloc[at], self.wish))
        return self._desk.saved(f"Saved: “{name}” is kept for a recipe, see “Kept blends”.", trial.entry)


def _keep_groups(found: int) -> list[Group]:
    which = Field(
        "which",
        "Which blend?",
        "choice",
        choices=tuple(str(at) for at in range(1, found + 1)),
        start="1",
        big=True,
    )
    return [Group("keep", (which, Field("name", "Call it", placeholder="a name for the recipe")))]


def _forecast(row: pd.Series, wish: Wanted) -> dict[str, object]:
    return {
        "wanted_lab": tuple(wish.lab.tolist()),
        "lab": tuple(float(row[name]) for name in "Lab"),
        "lab_sd": tuple(float(row[f"{name}_sd"]) for name in "Lab"),
        "film_um": wish.film_um,
        "backing": wish.backing,
    }
