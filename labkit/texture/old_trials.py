"""Earlier trials of the same book that may count for a trial: which, how alike, and whether they do."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime

import pandas as pd

from labkit.texture.earlier import Earlier, alikeness
from labkit.texture.record import HELD, Question
from labkit.texture.standing import Standing
from labkit.texture.trials import trials

MOST_POURS = 24
"""So many pours of earlier trials count together (a judgement: what a fit does in under a second)."""
COUNTS_FROM = 0.5
"""An earlier trial at least this alike counts unless the maker says otherwise (a judgement, no source)."""


@dataclass(frozen=True)
class Old:
    """An earlier trial with the same parts and words.

    Attributes
    ----------
    entry, name : str
    alike : float
        0 to 1, by what its parts were made of; see `alikeness`.
    counts : bool
        Whether its notes count as knowledge.
    words : DataFrame
        As `Standing.words`.
    """

    entry: str
    name: str
    alike: float
    counts: bool
    words: pd.DataFrame = field(repr=False, compare=False)

    @property
    def notes(self) -> int:
        """How many words were noted in it."""
        return len(self.words)


def old_trials(trial: Standing) -> list[Old]:
    """Return the trials begun before with the same parts and words, that have notes of the same form.

    Sticks and pots are not mixed. The most alike come first.
    """
    said, found = trial.counted, []
    for name, entry in trials(trial.book).items():
        other = Standing(trial.book, entry)
        later = entry >= trial.entry
        if later or other.form != trial.form or not _comparable(trial.question, other.question):
            continue
        alike, words = alike_questions(trial.question, other.question), other.words()
        if len(words):
            found.append(Old(entry, name, alike, said.get(entry, alike >= COUNTS_FROM), words))
    return sorted(found, key=lambda each: -each.alike)


def _comparable(one: Question, other: Question) -> bool:
    return set(one.parts) == set(other.parts) and one.ladder == other.ladder


def alike_questions(one: Question, other: Question) -> float:
    """Return how alike two trials are, by the ingredients of their parts and what they hold constant."""
    return alikeness(_inside(one), _inside(other), _held(one), _held(other))


def _inside(question: Question) -> dict[str, dict[str, float]]:
    return {
        part: {each.name: each.grams for each in question.usual if each.part == part}
        for part in question.parts
    }


def _held(question: Question) -> dict[str, float]:
    return {each.name: each.grams / question.usual_g for each in question.usual if each.part == HELD}


def knowledge(olds: Sequence[Old], parts: Sequence[str], before: datetime | None = None) -> list[Earlier]:
    """Return the words of the earlier trials that count, for `HardnessModel.fit`.

    The most alike come first, up to `MOST_POURS` pours together, of a trial the last ones:
    more would hardly tell more, and would make every fit slow. ``before`` leaves out what
    was felt from then on.
    """
    found, room = list[Earlier](), MOST_POURS
    for old in olds:
        if old.counts and room:
            words = old.words if before is None else old.words[old.words["felt"] < before]
            pours = list(dict.fromkeys(words.sort_values("felt", ascending=False)["cast"]))[:room]
            words, room = words[words["cast"].isin(pours)], room - len(pours)
            shares = words[list(parts)]
            found.append(Earlier(shares, words["word"], words["hours"], words["cast"], old.alike, old.name))
    return [each for each in found if len(each.shares)]
