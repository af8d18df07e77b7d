"""The form of a round: how many streaks of each pigment, where the spatula was drawn, a photo."""

from typing import TYPE_CHECKING, Any

from labkit.quantities import read_pot_c
from labkit.streak.record import Round
from labkit.streak.rounds import WORDS
from labkit.ui.form import Field, Group, Values
from labkit.ui.reading import NO_PRESS, Faults, declared_fields, only, read_fields

if TYPE_CHECKING:
    from labkit.streak.trial import StreakTrial

GRADES = tuple(f"{grade} {word}" for grade, word in enumerate(WORDS))
NOT_TOLD = "don't know"
CHOICES = (*GRADES, NOT_TOLD)
INTRO = "Draw the spatula through, look for streaks of each pigment's own colour, and press what you see."
DETAILS = ("graded_at", "stirred", "untold", "width_mm", "remark")


def round_groups(trial: "StreakTrial", saved: Round | None = None) -> list[Group]:
    """Return what is asked; where and how stand as they were the last time."""
    grades = saved.grades if saved else {}
    fields = tuple(
        Field(str(at), name, "choice", choices=CHOICES, big=True, start=_shown(grades, name))
        for at, name in enumerate(_names(trial, saved))
    )
    last = saved or (trial.looks[-1][1] if trial.looks else None)
    celsius = f"{saved.celsius:g}" if saved and saved.celsius is not None else ""
    how = (
        Field("where", "Spatula through the", "choice", choices=("melt", "paste", "set stick"), big=True,
              start=last.where if last else "melt"),
        Field("how", "It was", "choice", choices=("drawn", "rubbed"), big=True,
              hint="Rubbing out under pressure shows clumps that drawing hides.",
              start=last.how if last else "drawn"),
        Field("celsius", "Pot, if you know", "number", "°C", start=celsius),
        Field("photo", "Photo, if you like", "photo", start=saved.photo if saved else ""),
    )  # fmt: skip
    rest = declared_fields(Round, DETAILS, saved, {"remark": "long"})
    return [
        Group("grades", fields, "Streaks of", INTRO),
        Group("how", how),
        Group("more", rest, "And", more=True),
    ]


def _names(trial: "StreakTrial", saved: Round | None) -> tuple[str, ...]:
    """Return the pigments of the recipe, and those that a saved round has beside them."""
    return tuple(dict.fromkeys((*trial.question.names, *(saved.grades if saved else ()))))


def _shown(grades: dict[str, int | None], name: str) -> str:
    if name not in grades:
        return ""
    grade = grades[name]
    return NOT_TOLD if grade is None else GRADES[grade]


def read_round(
    values: Values, trial: "StreakTrial", pressed_at: str, saved: Round | None = None
) -> dict[str, Any]:
    """Return the fields of a `Round` but its question.

    Raises
    ------
    FormError
        With a message at each place that is missing or wrong.
    """
    faults = Faults()
    fields = _read(values, trial, pressed_at, faults, saved)
    told = only(values, "grades")
    for at, name in enumerate(_names(trial, saved)):
        if not told.get(str(at), ""):
            faults.found[f"grades//{at}"] = f"Streaks of {name}: press one, or “{NOT_TOLD}”."
    faults.stop()
    return fields


def check_round(values: Values, trial: "StreakTrial", saved: Round | None = None) -> dict[str, str]:
    """Return what is wrong with what was typed so far; what is missing is not wrong yet."""
    faults = Faults()
    _read(values, trial, NO_PRESS, faults, saved)
    return faults.found


def _read(
    values: Values, trial: "StreakTrial", at: str, faults: Faults, saved: Round | None
) -> dict[str, Any]:
    fields = read_fields(Round, values, ("more",), at, faults)
    told, how = only(values, "grades"), only(values, "how")
    pressed = {name: told.get(str(each), "") for each, name in enumerate(_names(trial, saved))}
    grades = {name: GRADES.index(said) if said in GRADES else None for name, said in pressed.items() if said}
    celsius = how.get("celsius", "").strip()
    return {
        **fields,
        "grades": grades,
        "where": how.get("where") or "melt",
        "how": how.get("how") or "drawn",
        "celsius": faults.read("how//celsius", read_pot_c, celsius) if celsius else None,
        "photo": how.get("photo", ""),
    }
