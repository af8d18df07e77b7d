"""The panel of a recipe, in the order of a maker's day: poured, sized, weighed, permitted, "
"labelled, published."""

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING

import ipywidgets

from labkit.errors import LabError
from labkit.recipe import question_form, views
from labkit.recipe.card import CARD_STYLE, card_of, markup
from labkit.recipe.desk import Desk
from labkit.recipe.handed import Colour
from labkit.recipe.publish import write_card
from labkit.recipe.wording import standing, told_words
from labkit.recipe.written import Poured, WrittenRecipe, poured, recipes, write_recipe
from labkit.ui.card import Card
from labkit.ui.form import Press, Saved
from labkit.ui.parts import Choice, Fold, button, section, sentences, show
from labkit.ui.trial_panel import NEW_TRIAL, TrialPanel

if TYPE_CHECKING:
    from labkit.book import TrialBook

ColourOf = Callable[["TrialBook"], Colour | None]
NOTHING = "nothing"
INTRO = (
    "Take what you poured, or type it, and the lab says what it becomes at your size and on "
    "your scale, where it "
    "may be worn, what stands on its label, and makes the card that a stranger can remake it from.",
)


class RecipePanel(TrialPanel):
    """From a poured trial to a published card.

    Parameters and attributes: as `labkit.ui.trial_panel.TrialPanel` has them; ``colour_of`` gives from the
    book a forecast of the colour by the load of each pigment.
    """

    trial_word = "Recipe"
    change_words = "Change it into another"

    def __init__(
        self, book: "TrialBook | None" = None, trial: str | None = None, colour_of: ColourOf | None = None
    ) -> None:
        self._colour_of = colour_of
        self._start: Poured | None = None
        super().__init__(book, trial)

    def known_trials(self) -> Mapping[str, str]:
        """Return the entry of each recipe by its name, the newest first."""
        return recipes(self.book)

    # ------------------------------------------------------------ what it is made of

    def make(self) -> None:
        """Make the desk, the forms and the places."""
        self.trial: WrittenRecipe | None = None
        self.desk = Desk(self.guard, self.book, self.saved)
        self.question_form = self.desk.form(
            "question", self._asked, question_form.check_question, "Save this recipe"
        )
        self.begin = Choice("Begin with", self.guard, self._begin)
        self.other = Choice("Compare with", self.guard, self._beside)
        self.material = Choice("Instead of", self.guard, lambda _: self._stand_in())
        self.avoid = ipywidgets.Text(
            description="avoid", placeholder="nuts, bee, castor", continuous_update=False
        )
        self.avoid.observe(lambda _: self._stand_in(), "value")
        self.publish = button("Write the card as a web page and as Markdown", self.guard, self._publish)
        self.card = Card()
        self.card.print_style = CARD_STYLE
        names = (
            "standing",
            "becomes",
            "weighed",
            "permitted",
            "labelled",
            "cost",
            "compared",
            "instead",
            "done",
        )
        self.shown = {name: ipywidgets.HTML() for name in names}
        self.places = {
            "standing": self.shown["standing"],
            "begin": self.begin,
            "question": section("Your recipe", self.question_form),
            "becomes": section("What it becomes at this size", self.shown["becomes"]),
            "weighed": section("Weigh it out", self.shown["weighed"]),
            "permitted": section("May it?", self.shown["permitted"]),
            "labelled": Fold("Its label", self.shown["labelled"]),
            "cost": Fold("What a tube costs", self.shown["cost"]),
            "instead": Fold(
                "Something is out of stock, or somebody reacts to it",
                ipywidgets.HBox([self.material, self.avoid]), self.shown["instead"],
            ),
            "compared": Fold("Beside another recipe", self.other, self.shown["compared"]),
            "card": section("The card", self.card, self.publish, self.shown["done"]),
        }  # fmt: skip

    # ------------------------------------------------------------ showing

    def show_forms(self, name: str | None) -> None:
        """Read a recipe and show its forms, which takes no time that a hand would notice."""
        self.trial = WrittenRecipe(self.book, name) if name else None
        trial = self.trial
        self.desk.unsay()
        self.show_bar()
        saved = trial.written if trial else None
        label = "Save it as another recipe" if trial else "Save this recipe"
        self.question_form.ask(
            question_form.question_groups(saved, self._start if not trial else None),
            self._key(),
            press_label=label,
        )
        self.begin.offer([("nothing, I type it", NOTHING), *self._poured()], NOTHING)
        self.shown["done"].value = ""
        if trial is not None:
            self._start = None
            self._offer(trial)
        for place in self.places:
            show(self.places[place], trial is not None or place in ("standing", "question"))
        show(self.places["question"], trial is None)
        show(self.begin, trial is None and bool(self._poured()))
        show(self.places["compared"], trial is not None and len(self.known_trials()) > 1)

    def _key(self) -> str:
        """What the question's form is about: the open recipe, or a new one from what was poured."""
        return f"{NEW_TRIAL}/{self._start.label}" if self._start and not self.trial else self.key

    def _poured(self) -> list[tuple[str, str]]:
        return [(each.label, str(at)) for at, each in enumerate(poured(self.book))]

    def _offer(self, trial: WrittenRecipe) -> None:
        names = [(name, name) for name in trial.recipe.weighed_g]
        self.material.offer([("choose…", NOTHING), *names], NOTHING)
        others = [(name, entry) for name, entry in self.known_trials().items() if entry != trial.entry]
        self.other.offer([("choose…", NOTHING), *others], NOTHING)
        self.shown["instead"].value = self.shown["compared"].value = ""

    def show_pictures(self) -> None:
        """Show what follows from the recipe."""
        trial = self.trial
        if trial is None:
            self.shown["standing"].value = sentences(INTRO)
            return
        colour = self._colour(trial)
        self.shown["standing"].value = sentences(standing(trial))
        self.shown["becomes"].value = views.becomes(trial)
        self.shown["weighed"].value = views.weighed(trial, colour)
        self.shown["permitted"].value = views.permitted(trial)
        self.shown["labelled"].value = views.labelled(trial)
        self.shown["cost"].value = views.cost(trial)
        self.card.html = markup(card_of(trial, told_words(trial, colour)))

    def _colour(self, trial: WrittenRecipe) -> Colour | None:
        """Return the forecast of the colour where it knows every pigment of the recipe."""
        colour = self._colour_of(self.book) if self._colour_of else None
        if colour is None or not trial.recipe.loads():
            return None
        try:
            colour(trial.recipe.loads())
        except LabError:
            return None
        return colour

    # ------------------------------------------------------------ presses

    def _begin(self, at: str) -> None:
        self._start = None if at == NOTHING else poured(self.book)[int(at)]
        start = self._start
        self.question_form.ask(question_form.question_groups(None, start), self._key())

    def _asked(self, press: Press) -> Saved:
        new = press.key.partition("/")[0] == NEW_TRIAL
        before = None if new else WrittenRecipe(self.book, press.key)
        came_from = before.recipe.version if before else ""
        written, name = question_form.read_question(press.values, came_from)
        if new and self._start is not None:
            written = written.model_copy(update={"source": self._start.label})
        trial = write_recipe(self.book, written, name, press.id)
        return self.saved(
            f"Saved. “{trial.name}” is a recipe of its own; nothing was overwritten.", trial.entry
        )

    def _beside(self, entry: str) -> None:
        other = WrittenRecipe(self.book, entry) if entry != NOTHING else None
        trial = self.trial
        self.shown["compared"].value = views.compared(trial, other) if trial and other else ""

    def _stand_in(self) -> None:
        with self.guard:
            material = str(self.material.value)
            self.shown["instead"].value = (
                "" if material == NOTHING else views.stand_ins(material, self.avoid.value)
            )

    def _publish(self) -> None:
        if self.trial is None:
            raise LabError("Save a recipe first.")
        made = write_card(self.trial, told_words(self.trial, self._colour(self.trial)))
        self.shown["done"].value = sentences(
            [f"Written: {', '.join(each.name for each in made)}."], first=False
        )
