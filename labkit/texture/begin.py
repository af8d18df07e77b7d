"""Beginning a trial in a book, and changing what it asks."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from labkit.errors import LabError
from labkit.texture.record import Question
from labkit.texture.standing import region_of
from labkit.texture.trial import TextureTrial
from labkit.texture.usual import make_question
from labkit.times import now

if TYPE_CHECKING:
    from labkit.book import TrialBook


def start_trial(
    book: "TrialBook", usual: Mapping[str, float], name: str = "", **question: Any
) -> TextureTrial:
    """Start a trial from a usual recipe in grams; further arguments as in `make_question`.

    Raises
    ------
    LabError
        Where the recipe, a bound or a word cannot be, or the name is taken.
    """
    return ask(book, make_question(usual, **question), name)


def ask(book: "TrialBook", question: Question, name: str = "", id: str | None = None) -> TextureTrial:
    """Write a trial's question; its first three pours follow from it, see `first_pours`."""
    region_of(question)
    return TextureTrial.begin(book, question, name, usual_name(question), id)


def change_question(trial: TextureTrial, question: Question, id: str | None = None) -> TextureTrial:
    """Write a changed question: other bounds, rules, wanted word, batch or scale.

    Raises
    ------
    LabError
        Where the change would make the trial's notes or pours mean something else.
    """
    region_of(question)
    if trial.casts and [(each.name, each.part) for each in question.usual] != [
        (each.name, each.part) for each in trial.question.usual
    ]:
        raise LabError(
            "This trial has pours of its ingredients, and its map is about those alone. "
            "Put them back, and start another trial for the others."
        )
    if len(trial.notes()) and question.ladder != trial.question.ladder:
        raise LabError(
            f"This trial has notes in these words: {', '.join(trial.question.ladder)}. "
            "Put them back, and start another trial for other words."
        )
    return trial.mend(trial.entry, question, id)


def usual_name(question: Question) -> str:
    """Return what a trial is called where nobody says otherwise."""
    plain = question.complaint if question.complaint.startswith("too ") else "texture"
    about = f"{question.parts[-1]} trial" if plain == "texture" else f"My usual is {plain}"
    return f"{about}, {now().day} {now():%b %Y}"
