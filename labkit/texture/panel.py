"""The panel of a texture trial."""

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING

import ipywidgets

from labkit.errors import LabError
from labkit.texture import next_forms, note_form, pour_form, question_form, views, wording
from labkit.texture.begin import ask, change_question
from labkit.texture.cards import card
from labkit.texture.logbook import log
from labkit.texture.look_part import LookAgain
from labkit.texture.mending import NOTE, POUR, Mending
from labkit.texture.old_part import OldTrials
from labkit.texture.record import Note, PlannedPour, Pour
from labkit.texture.second_part import SecondQuestion
from labkit.texture.stock_part import StockMelts
from labkit.texture.trial import TextureTrial
from labkit.texture.trials import trials
from labkit.texture.writing import now
from labkit.ui.card import Card
from labkit.ui.form import Form, Group, Press, Saved, Values
from labkit.ui.guard import Guard
from labkit.ui.parts import Choice, button, section, sentences, show, style
from labkit.ui.reading import Faults

if TYPE_CHECKING:
    from labkit.book import TrialBook

NEW_TRIAL = "new"
OFF_CARD = "another"
JARS, STOCKS = "", " from stocks"
SOURCES = [("each ingredient", JARS), ("from stock melts", STOCKS)]
EXAMPLE = (
    "Answer three questions, and the lab makes your first weigh card.",
    "This is what you will get after a few pours: a map of where to find the hardness that you want.",
)
PLAN = (
    "If you would rather pour several at once: the lab chooses the pours that teach most about the whole "
    "map, around those that you have."
)
ALL_POURED = "Every pour on the card is poured and saved. Ask below for the next one, or save another."


class TexturePanel(ipywidgets.VBox):
    """Ask, weigh, pour, feel, see the map, get the next pour: on a trial book that loses nothing.

    Parameters
    ----------
    book
        The trial book; by default the one of this lab.
    trial
        Name of the trial to open; by default the newest.

    Attributes
    ----------
    trial : the open trial, or None where a new one is being asked
    errors : what went wrong so far, in words, for a check that nothing did
    """

    def __init__(self, book: "TrialBook | None" = None, trial: str | None = None) -> None:
        super().__init__()
        self.guard = Guard()
        self.trial: TextureTrial | None = None
        self._offered = dict.fromkeys(("second", "look", "old", "stocks"), False)
        self.add_class("labkit-panel")
        self.children = [style(), self.guard.box]
        with self.guard:
            self.book = book if book is not None else _book_here()
            self._make_forms()
            self._make_places()
            self.open_trial(trial or next(iter(trials(self.book)), None))

    @property
    def errors(self) -> list[str]:
        """What went wrong so far, in words."""
        return self.guard.errors

    # ------------------------------------------------------------ what it is made of

    def _make_forms(self) -> None:
        self.question_form = self._form("question", self._asked, self._check_question, "Make my weigh card")
        self.pour_form = self._form("pour", self._poured, pour_form.check_pour, "Poured: save it")
        self.note_form = self._form("note", self._felt, note_form.check_note, "Save this word")
        self.next_form = self._form("next", self._next, next_forms.check_next, "Put it on the weigh card")
        self.plan_form = self._form("plan", self._planned, next_forms.check_plan, "Plan these pours")

    def _form(
        self,
        name: str,
        on_press: Callable[[Press], Saved],
        check: Callable[[Values], Mapping[str, str]],
        label: str,
    ) -> Form:
        desk = f"{self.book.maker}/texture/{name}"
        return Form(desk, self.guard, self.book, on_press, check, self.book.add_photo, press_label=label)

    def _make_places(self) -> None:
        self.trials = Choice("Trial", self.guard, self._chosen)
        self.change = button("Change the question", self.guard, self._change_question)
        self.which = Choice("Pour", self.guard, self._ask_pour)
        self.source = Choice("Weigh", self.guard, lambda _: self._ask_pour(str(self.which.value)))
        self.source.offer(SOURCES, JARS)
        self.mending = Mending(self.guard, self._ask_mend, self._mended)
        self.look_again = LookAgain(self.guard, self.book, self._trial, self._saved)
        self.stocks = StockMelts(self.guard, self.book, self._trial, self._saved)
        self.old = OldTrials(self.guard, self.book, self._trial, self._saved)
        self.second = SecondQuestion(self.guard, self.book, lambda trial: self.open_trial(trial.entry))
        (
            self.all_poured,
            self.standing,
            self.example,
            self.region,
            self.map,
            self.words,
            self.logged,
            self.advice,
            self.vary,
        ) = (ipywidgets.HTML() for _ in range(9))
        self.card = Card()
        self.places: dict[str, ipywidgets.Widget] = {
            "bar": ipywidgets.HBox([self.trials, self.change], layout={"flex_flow": "row wrap"}),
            "standing": self.standing,
            "example": self.example,
            "question": section("Your question", self.question_form),
            "card": section("Weigh", self.card),
            "region": section("Where your bounds let you look", self.region),
            "pour": section(
                "Pour",
                ipywidgets.HTML(views.cautions()),
                self.all_poured,
                self.which,
                self.source,
                self.pour_form,
            ),
            "note": section("Feel", self.note_form),
            "map": section("Map", self.map),
            "next": section("Pour next", self.advice, self.next_form),
            "words": section("As they set", self.words),
            "second": section("Ask your notes something else", self.second),
            "vary": section("How your pours vary", self.vary),
            "look": section("Look again", self.look_again),
            "old": section("Your earlier trials", self.old),
            "stocks": section("Stock melts", self.stocks),
            "plan": section(
                "Plan several pours", ipywidgets.HTML(sentences([PLAN], first=False)), self.plan_form
            ),
            "log": section("Your book", self.logged, self.mending),
        }
        self.children = [*self.children, *self.places.values()]

    # ------------------------------------------------------------ showing

    def open_trial(self, name: str | None) -> None:
        """Open a trial by its name or the id of its question, or the blank question of a new one."""
        self.show_forms(name)
        self.show_pictures()

    def show_forms(self, name: str | None) -> None:
        """Read a trial and show its forms, which takes no time that a hand would notice."""
        self.trial = TextureTrial(self.book, name) if name else None
        self._show_bar()
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

    def _saved(self, say: str, name: str) -> Saved:
        """Show the forms anew before a press is answered: the next press means what it says."""
        with self.guard:
            self.show_forms(name)
        return Saved(say, self.show_pictures)

    def _trial(self, entry: str) -> TextureTrial:
        return TextureTrial(self.book, entry)

    def _show_bar(self) -> None:
        known = trials(self.book)
        options = [*known.items(), ("Start another trial", NEW_TRIAL)]
        self.trials.offer(options, self.trial.entry if self.trial else NEW_TRIAL)
        show(self.places["bar"], bool(known))
        show(self.change, self.trial is not None)

    def _show_places(self) -> None:
        trial = self.trial
        poured = trial is not None and bool(trial.casts)
        felt = trial is not None and not trial.readings().empty
        mapped = trial is not None and trial.has_map
        shown = {"map": mapped} | dict.fromkeys(("next", "words", "vary"), felt)
        shown |= dict.fromkeys(("note", "plan"), poured)
        shown |= dict.fromkeys(("card", "pour", "log"), trial is not None)
        shown |= dict.fromkeys(("question", "example"), trial is None)
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
        self._offer_pours(trial)
        self.mending.offer(trial)
        if trial.casts:
            self._ask_note(trial)
            self.plan_form.ask(next_forms.plan_groups(), trial.entry)
            self.next_form.ask(next_forms.next_groups(), trial.entry)
        self._offered = {
            "second": self.second.offer(trial),
            "look": self.look_again.offer(trial),
            "old": self.old.offer(trial),
            "stocks": self.stocks.offer(trial),
        }

    def _ask_note(self, trial: TextureTrial) -> None:
        groups = note_form.note_groups(
            trial.question, _labels(trial), last=trial.last_reading, testers=list(trial.testers.values())
        )
        self.note_form.ask(groups, trial.entry, press_label="Save this word")

    def _show_trial(self, trial: TextureTrial) -> None:
        self.standing.value = views.standing(trial, now())
        self.logged.value = log(trial) if trial.casts else ""
        if not trial.has_map:
            self.region.value = views.region_picture(trial)
        if trial.model is None:
            return
        suggestion = trial.next_pour()
        self.advice.value = sentences(wording.suggestion_words(trial, suggestion))
        self.words.value = views.words_picture(trial)
        self.vary.value = views.vary_picture(trial)
        if trial.has_map:
            self.map.value = views.map_picture(trial, suggestion)

    # ------------------------------------------------------------ the question

    def _ask_question(self) -> None:
        saved = self.trial.question if self.trial else None
        self._counted = saved.usual if saved else ()
        label = "Save the changed question" if saved else "Make my weigh card"
        key = self.trial.entry if self.trial else NEW_TRIAL
        self.question_form.ask(self._question_groups(), key, press_label=label)

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

    def _change_question(self) -> None:
        show(self.places["question"], True)
        self.question_form.bring_into_view()

    def _asked(self, press: Press) -> Saved:
        question, name = question_form.read_question(press.values)
        if press.key == NEW_TRIAL:
            trial = ask(self.book, question, name, press.id)
            return self._saved(f"Saved. Your first weigh card is below: “{trial.name}”.", trial.entry)
        change_question(TextureTrial(self.book, press.key), question, press.id)
        return self._saved("Saved: the question is changed.", press.key)

    def _chosen(self, name: str) -> None:
        self.open_trial(None if name == NEW_TRIAL else name)

    # ------------------------------------------------------------ pours and notes

    def _offer_pours(self, trial: TextureTrial) -> None:
        waiting = [(f"{pour.number}: {pour.why}", str(pour.number)) for pour in trial.waiting]
        offered = [*waiting, ("one that is not on the card", OFF_CARD)]
        self.which.offer(offered, offered[0][1])
        self.all_poured.value = "" if waiting else sentences([ALL_POURED], first=False)
        show(self.which, True)
        show(self.source, len(trial.melts.melts) > 1)
        if len(trial.melts.melts) < 2:
            self.source.offer(SOURCES, JARS)
        self._ask_pour(offered[0][1])

    def _ask_pour(self, which: str) -> None:
        assert self.trial is not None
        trial = self.trial
        planned = {str(pour.number): pour for pour in trial.planned}.get(which)
        number = str(trial.next_number) if which == OFF_CARD else which
        grams = trial.grams(planned) if planned else None
        groups = pour_form.pour_groups(trial.question, grams, stocks=self._stocks(trial, planned))
        label = f"Pour {number} is poured: save it"
        self.pour_form.ask(groups, f"{trial.entry}/{which}{self.source.value or ''}", press_label=label)

    def _stocks(self, trial: TextureTrial, planned: PlannedPour | None) -> dict[str, float] | None:
        """Return the grams of each stock, 0 where they cannot give it; None where ingredients are weighed."""
        if self.source.value != STOCKS:
            return None
        try:
            return trial.melts.planned(planned) if planned else dict.fromkeys(trial.melts.names, 0.0)
        except LabError:
            return dict.fromkeys(trial.melts.names, 0.0)

    def _poured(self, press: Press) -> Saved:
        name, _, about = press.key.partition("/")
        about = about.removesuffix(STOCKS)
        trial = TextureTrial(self.book, name)
        read = pour_form.read_pour(press.values, press.at, trial.melts.names)
        if about == OFF_CARD or about.isdigit():
            number = trial.next_number if about == OFF_CARD else int(about)
            trial.log_pour(number, id=press.id, **read)
            return self._saved(f"Saved: pour {number} is in your book.", name)
        trial.mend_pour(self.book.get(about), id=press.id, **read)
        return self._saved("Saved: the pour is mended, and what stood there before is kept.", name)

    def _felt(self, press: Press) -> Saved:
        name, _, about = press.key.partition("/")
        trial = TextureTrial(self.book, name)
        label, read = note_form.read_note(press.values, press.at)
        if about:
            trial.mend_note(self.book.get(about), label, id=press.id, **read)
            return self._saved("Saved: the note is mended, and what stood there before is kept.", name)
        trial = trial.log_note(label, id=press.id, **read)
        say = f"Saved: pour {label}: {wording.said(read)}."
        return self._saved(f"{say} {wording.not_yet(trial, trial.cast(label), now())}".strip(), name)

    # ------------------------------------------------------------ what to pour next

    def _next(self, press: Press) -> Saved:
        trial = TextureTrial(self.book, press.key)
        pours = trial.for_card(trial.next_pour(next_forms.read_next(press.values)))
        trial.put_on_card(pours, press.id)
        return self._saved(wording.card_words(pours), trial.entry)

    def _planned(self, press: Press) -> Saved:
        trial = TextureTrial(self.book, press.key)
        plan = trial.plan(*next_forms.read_plan(press.values))
        trial.put_on_card(trial.for_card(plan), press.id)
        return self._saved(wording.plan_words(plan), trial.entry)

    # ------------------------------------------------------------ mending

    def _ask_mend(self, kind: str, version: str) -> None:
        """Put what was chosen into its form, or the forms back to what is next."""
        assert self.trial is not None
        trial = self.trial
        self._offer_pours(trial)
        if trial.casts:
            self._ask_note(trial)
        if kind == POUR:
            self._mend_pour(trial, version)
        elif kind == NOTE:
            self._mend_note(trial, version)

    def _mend_pour(self, trial: TextureTrial, version: str) -> None:
        pour = Pour.of(self.book.get(version).payload)
        planned = {each.number: trial.grams(each) for each in trial.planned}
        if pour.stocks_g:
            stocks, beside = trial.melts.by_name(pour.stocks_g), trial.melts.beside(pour)
            groups = pour_form.pour_groups(trial.question, None, pour, stocks, beside)
        else:
            groups = pour_form.pour_groups(trial.question, planned.get(pour.number), pour)
        show(self.which, False)
        show(self.source, False)
        label = f"Save the mended pour {pour.number}"
        self.pour_form.ask(groups, f"{trial.entry}/{version}", press_label=label)
        self.pour_form.bring_into_view()

    def _mend_note(self, trial: TextureTrial, version: str) -> None:
        note = Note.of(self.book.get(version).payload)
        label = next(cast.label for cast in trial.casts if cast.entry == note.pour)
        groups = note_form.note_groups(
            trial.question, _labels(trial), note, label,
            than=trial.than_words(note.than), tester=trial.testers.get(note.tester, ""),
            testers=list(trial.testers.values()),
        )  # fmt: skip
        self.note_form.ask(groups, f"{trial.entry}/{version}", press_label="Save the mended word")
        self.note_form.bring_into_view()

    def _mended(self) -> None:
        self.open_trial(self.trial.entry if self.trial else None)


def _labels(trial: TextureTrial) -> list[str]:
    return list(dict.fromkeys(cast.label for cast in trial.casts))


def _book_here() -> "TrialBook":
    from labkit.book import book_here

    return book_here()
