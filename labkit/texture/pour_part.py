"""The part of the panel where a pour is logged or mended."""

from typing import TYPE_CHECKING

import ipywidgets

from labkit.errors import LabError
from labkit.texture import views, wording
from labkit.texture.desk import Desk
from labkit.texture.pour_form import check_pour, pour_groups, read_pour
from labkit.texture.record import PlannedPour, Pour
from labkit.ui.form import Press, Saved
from labkit.ui.parts import Choice, sentences, show

if TYPE_CHECKING:
    from labkit.texture.trial import TextureTrial

OFF_CARD = "another"
JARS, STOCKS = "", " from stocks"
SOURCES = [("each ingredient", JARS), ("from stock melts", STOCKS)]
ALL_POURED = (
    "Every pour on the card is poured and saved. Feel them below, and the lab says what to pour next. "
    "A pour of your own can be saved here."
)


class PourPart(ipywidgets.VBox):
    """Cautions, which pour, weighed from what, and its form."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self.trial: TextureTrial | None = None
        self.which = Choice("Pour", desk.guard, self._ask)
        self.source = Choice("Weigh", desk.guard, lambda _: self._ask(str(self.which.value)))
        self.source.offer(SOURCES, JARS)
        self.all_poured, self.reach = ipywidgets.HTML(), ipywidgets.HTML()
        self.form = desk.form("pour", self._poured, check_pour, "Save it")
        super().__init__(
            [
                ipywidgets.HTML(views.cautions()),
                self.all_poured,
                self.which,
                self.source,
                self.reach,
                self.form,
            ]
        )

    def offer(self, trial: "TextureTrial") -> None:
        """Offer the pours on the card, and one that is not on it."""
        self.trial = trial
        waiting = [(f"{pour.number}: {pour.why}", str(pour.number)) for pour in trial.waiting]
        offered = [*waiting, ("one that is not on the card", OFF_CARD)]
        self.which.offer(offered, offered[0][1])
        self.all_poured.value = "" if waiting else sentences([ALL_POURED], first=False)
        show(self.which, True)
        show(self.source, len(trial.melts.melts) > 1)
        if len(trial.melts.melts) < 2:
            self.source.offer(SOURCES, JARS)
        self._ask(offered[0][1])

    def _ask(self, which: str) -> None:
        trial = self._here()
        planned = {str(pour.number): pour for pour in trial.planned}.get(which)
        number = str(trial.next_number) if which == OFF_CARD else which
        grams = trial.grams(planned) if planned else None
        stocks, why = self._stocks(trial, planned)
        self.reach.value = sentences([why] if why else [], first=False)
        groups = pour_groups(trial.question, grams, stocks=stocks)
        key = f"{trial.entry}/{which}{self.source.value or ''}"
        self.form.ask(groups, key, press_label=f"Pour {number} is poured: save it")

    def _here(self) -> "TextureTrial":
        if self.trial is None:
            raise LabError("Open a trial first.")
        return self.trial

    def _stocks(
        self, trial: "TextureTrial", planned: PlannedPour | None
    ) -> tuple[dict[str, float] | None, str]:
        """Return the grams of each stock, and why they are but the nearest; None for ingredients."""
        if self.source.value != STOCKS:
            return None, ""
        grams, why = trial.melts.nearest(planned) if planned else ({}, "")
        return dict.fromkeys(trial.melts.names, 0.0) | grams, why

    def ask_mend(self, version: str) -> None:
        """Put the version of a pour into the form."""
        trial, pour = self._here(), Pour.of(self._desk.book.get(version).payload)
        planned = {each.number: trial.grams(each) for each in trial.planned}
        if pour.stocks_g and set(pour.stocks_g) <= set(trial.melts.melts):
            stocks, beside = trial.melts.by_name(pour.stocks_g), trial.melts.beside(pour)
            groups = pour_groups(trial.question, None, pour, stocks, beside)
        else:
            groups = pour_groups(trial.question, planned.get(pour.number), pour)
        show(self.which, False)
        show(self.source, False)
        self.reach.value = ""
        self.all_poured.value = sentences([f"You are mending pour {pour.number}."], first=False)
        label = f"Save the mended pour {pour.number}"
        self.form.ask(groups, f"{trial.entry}/{version}", press_label=label)
        self.form.bring_into_view()

    def _poured(self, press: Press) -> Saved:
        name, _, about = press.key.partition("/")
        about, trial = about.removesuffix(STOCKS), self._desk.trial(name)
        read = read_pour(press.values, press.at, trial.melts.names)
        if about == OFF_CARD or about.isdigit():
            number = trial.next_number if about == OFF_CARD else int(about)
            planned = {pour.number: trial.grams(pour) for pour in trial.planned}.get(number, {})
            after = trial.log_pour(number, id=press.id, **read)
            odd = wording.far_from_plan(planned, after.cast(number).pour.weighed_g)
            return self._desk.saved(f"Saved: pour {number} is in your book. {odd}".strip(), name)
        trial.mend_pour(self._desk.book.get(about), id=press.id, **read)
        return self._desk.saved("Saved: the pour is mended, and what stood there before is kept.", name)
