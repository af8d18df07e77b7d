"""The original of a shared recipe: what its own maker read of it, and how they made it."""

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from labkit.book.trials import find_trial

if TYPE_CHECKING:
    from labkit.book import TrialBook
    from labkit.book.frame import Row

PROCESS = {
    "pour_c": ("pour temperature", "°C", 3.0),
    "hottest_c": ("hottest temperature", "°C", 3.0),
    "hot_min": ("time hot", "min", 5.0),
    "stirred_min": ("time stirred", "min", 3.0),
    "room_c": ("room", "°C", 3.0),
    "judged_h": ("age when judged", "h", 12.0),
    "batch_g": ("batch", "g", 20.0),
    "step_g": ("step of the scale", "g", 0.05),
}
"""Name, unit, and the difference between makers from which a recipe should say it (practice, no source)."""
WAYS = {"heat": "heated", "set_where": "set"}
"""What is told in words, not figures."""


@dataclass(frozen=True)
class Made:
    """One pour of a recipe, its own maker's or a remake.

    Attributes
    ----------
    entry, maker : str
    words : tuple of str
        Hardness, a word for each piece that was felt.
    ladder : tuple of str
    labs : tuple of L*, a*, b*
    process : dict
        What is known of `PROCESS` and `WAYS`.
    poured_at, changed : as they were logged
    original : bool
    """

    entry: str
    maker: str
    words: tuple[str, ...]
    ladder: tuple[str, ...]
    labs: tuple[tuple[float, float, float], ...]
    process: dict[str, Any]
    poured_at: Any
    changed: str = ""
    original: bool = False


def original(book: "TrialBook", recipe: "Row") -> Made | None:
    """Return the pour that a recipe is, where it is one: a texture pour, or a day at the stove."""
    made = {"texture.pour": _poured, "batch.question": _batch}.get(recipe.head.kind)
    return made(book, recipe) if made else None


def _poured(book: "TrialBook", recipe: "Row") -> Made | None:
    from labkit.texture.record import Pour
    from labkit.texture.standing import Standing
    from labkit.texture.wording import FAIR_AFTER_H

    pour = Pour.of(recipe.head.payload)
    trial = Standing(book, find_trial(book, "texture.question", pour.question)[1])
    notes = trial.notes()
    felt = notes[(notes["cast"] == recipe.entry) & (notes["word"] != "") & (notes["hours"] >= FAIR_AFTER_H)]
    process = {name: getattr(pour, name) for name in ("pour_c", "hottest_c", "hot_min", "set_where")}
    rooms, hours = felt["room_c"].astype(float).dropna(), felt["hours"].astype(float)
    process |= {
        "room_c": float(rooms.mean()) if len(rooms) else None,
        "judged_h": float(hours.mean()) if len(hours) else None,
        "step_g": trial.question.step_g,
        "batch_g": sum(pour.weighed_g.values()),
    }
    ladder = trial.question.ladder
    return _made(recipe, tuple(felt["word"]), ladder, process, pour.poured_at) if len(felt) else None


def _batch(book: "TrialBook", recipe: "Row") -> Made | None:
    from labkit.batch.past import past_batches
    from labkit.batch.record import Judged
    from labkit.batch.trial import BatchTrial

    trial = BatchTrial(book, recipe.entry)
    judged = [each for each in trial.of(Judged) if each.word in trial.question.words]
    batches = past_batches(book, recipe.first.maker).set_index("entry")
    if not judged or recipe.entry not in batches.index:
        return None
    row: Any = batches.loc[recipe.entry]
    process: dict[str, Any] = {name: float(row[name]) for name in ("pour_c", "hottest_c", "hot_min")}
    question = trial.question
    process |= {
        "room_c": question.room_c,
        "heat": question.heat,
        "step_g": question.step_g,
        "batch_g": sum(question.grams.values()),
    }
    return _made(recipe, tuple(each.word for each in judged), question.words, process, row["made_at"])


def _made(
    recipe: "Row", words: tuple[str, ...], ladder: tuple[str, ...], process: dict[str, Any], poured_at: Any
) -> Made:
    return Made(recipe.entry, recipe.first.maker, words, tuple(ladder), (), process, poured_at, original=True)
