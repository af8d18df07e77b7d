"""The part of the panel where a drip is felt and looked at, and the pot is put right."""

from typing import TYPE_CHECKING
from uuid import UUID

import ipywidgets

from labkit.batch.cautions import cautions_for
from labkit.batch.day import kinds_of
from labkit.batch.handed import NO_HARDNESS, ColourOf, HardnessOf
from labkit.batch.pot_answer import SHOWN, Answer, Offer, answer
from labkit.batch.pot_form import (
    added_groups,
    check_added,
    check_drip,
    drip_groups,
    read_added,
    read_drip,
)
from labkit.batch.pot_views import answer_view
from labkit.batch.record import Added, Drip
from labkit.batch.trial import BatchTrial
from labkit.quantities import show_grams
from labkit.ui.form import Press, Saved, Values
from labkit.ui.parts import sentences, show

if TYPE_CHECKING:
    from labkit.ui.desk import Desk

CAUTIONS = (cautions_for("hot fat")[0], cautions_for("trying")[0])
NO_DRIP = "No drip yet."
STALE = "Something went in since the last drip: stir until it is clear again, then try another one."
EMPTY = "The pot is empty on paper: write down what went in, and the lab can say what to add."
POURED = "It is poured: what a drip says now is for the next batch."


class PotPart(ipywidgets.VBox):
    """The form of a drip, and what to add now, each addition logged with one press.

    Parameters
    ----------
    desk
        Of the batch panel.
    hardness_of, colour_of
        Where to ask what other rooms know of a pot; None where nobody does.
    """

    def __init__(
        self, desk: "Desk", hardness_of: HardnessOf | None = None, colour_of: ColourOf | None = None
    ) -> None:
        self._desk, self._hardness_of, self._colour_of = desk, hardness_of, colour_of
        self.trial: BatchTrial | None = None
        self.form = desk.form("drip", self._dripped, self._check, "What to add now?")
        self.told = ipywidgets.HTML()
        self.adding = [
            desk.form(f"adding {at}", self._added, check_added, "This went in") for at in range(2 * SHOWN)
        ]
        self.offered = ipywidgets.VBox(self.adding)
        caution = ipywidgets.HTML(sentences(CAUTIONS, first=False))
        caution.add_class("labkit-caution")
        super().__init__([caution, self.form, self.told, self.offered])

    # ------------------------------------------------------------ showing

    def offer(self, trial: BatchTrial) -> None:
        """Ask for the next drip of this batch."""
        self.trial = trial
        self.form.ask(drip_groups(self._at_hand(trial)), trial.entry, press_label="What to add now?")
        self.told.value = ""
        show(self.offered, False)

    def ask_mend(self, trial: BatchTrial, version: str) -> None:
        """Put the version of a drip into the form."""
        self.trial = trial
        saved = Drip.of(self._desk.book.get(version).payload)
        key, label = f"{trial.entry}/{version}", "Save the mended drip"
        self.form.ask(drip_groups((), saved), key, press_label=label)
        self.form.bring_into_view()

    def show(self) -> None:
        """Show what the last drip says; the maker's maps and swatches are asked only here."""
        if self.trial is None:
            return
        found = self._answer(self.trial)
        pot, step = self.trial.pot(), self.trial.question.step_g
        if isinstance(found, str) or pot is None:
            self.told.value = sentences([str(found)], first=False)
            show(self.offered, False)
            return
        self.told.value = answer_view(found, pot, step)
        self._offer_additions(self.trial, found.offers, step)

    def _answer(self, trial: BatchTrial) -> Answer | str:
        """Return what the last drip says, or why it says nothing."""
        drips, pot = trial.of(Drip), trial.pot()
        if not drips:
            return NO_DRIP
        if pot is None:
            return EMPTY
        drip = drips[-1]
        if trial.poured:
            return POURED
        if any(each.added_at > drip.dripped_at for each in trial.of(Added)):
            return STALE
        maker, question = trial.question_row.first.maker, trial.question
        hardness = (
            self._hardness_of(trial.book, question.lines, maker)
            if self._hardness_of and drip.felt in ("too soft", "too hard")
            else NO_HARDNESS
        )
        colour = self._colour_of(trial.book, maker) if self._colour_of else None
        kinds = kinds_of(question, {**question.grams, **pot.grams})
        return answer(pot, drip.felt, drip.colour, kinds, question.step_g, hardness, colour, drip.at_hand)

    def _offer_additions(self, trial: BatchTrial, offers: list[Offer], step_g: float) -> None:
        shown = dict(zip(self.adding, offers, strict=False))
        last = trial.rows(Drip.kind)[-1].head.id
        for at, form in enumerate(self.adding):
            offer = shown.get(form)
            show(form, offer is not None)
            if offer is not None:
                grams = show_grams(sum(offer.parts_g.values()), step_g)
                key = f"{trial.entry}/{last}/{at}/{grams} {offer.name}"
                form.ask(added_groups(offer.parts_g, step_g), key, title=f"{grams} g {offer.name}")
        show(self.offered, bool(offers))

    def _at_hand(self, trial: BatchTrial) -> tuple[str, ...]:
        """Return the pigments that were at hand at the last drip of this batch."""
        drips = trial.of(Drip)
        return drips[-1].at_hand if drips else ()

    # ------------------------------------------------------------ presses

    def _check(self, values: Values) -> dict[str, str]:
        return check_drip(values)

    def _dripped(self, press: Press) -> Saved:
        name, _, about = press.key.partition("/")
        trial = BatchTrial(self._desk.book, name)
        fields = read_drip(press.values, press.at)
        if about:
            trial.mend_logged(self._desk.book.get(about), press.id, **fields)
            return self._desk.saved("Saved: the drip is mended, and what stood there before is kept.", name)
        trial.log(Drip, press.id, **fields)
        return self._desk.saved("Saved. What to add stands below.", name)

    def _added(self, press: Press) -> Saved:
        name = press.key.partition("/")[0]
        trial = BatchTrial(self._desk.book, name)
        fields = read_added(press.values, press.at)
        for each, id in zip(fields, _ids(press.id, len(fields)), strict=True):
            trial = trial.log(Added, id, **each)
        said = ", ".join(f"{each['grams']:g} g {each['ingredient']}" for each in fields)
        return self._desk.saved(f"Saved: {said} went in. Stir until it is clear, then another drip.", name)


def _ids(press_id: str, count: int) -> list[str]:
    """Return an id for each entry of a press, the press's own the last: sent again, they are the same.

    >>> _ids("01890a5d-ac96-774b-bcce-b302099a8057", 2)
    ['01890a5d-ac96-774b-bcce-b302099a8056', '01890a5d-ac96-774b-bcce-b302099a8057']
    """
    return [str(UUID(int=UUID(press_id).int ^ at)) for at in reversed(range(count))]
