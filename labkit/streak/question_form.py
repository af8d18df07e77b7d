"""The form of a streak test's question: pigments, how they are stirred, since when."""

from typing import Any

from labkit.colour.typed import read_colour
from labkit.streak.record import WAYS, Question
from labkit.ui.form import Field, Group, Values
from labkit.ui.reading import NO_PRESS, Faults, declared_fields, only, read_fields

PIGMENTS_INTRO = (
    "Those in the pan. With its colour, a photo can say which one the streaks are like; without it, the lab "
    "takes the colour that it knows, or none."
)
OWN = "in my own words, below"


def question_groups(saved: Question | None = None) -> list[Group]:
    """Return what is asked, with what was saved."""
    starts: tuple[dict[str, str], ...] = ({}, {}, {})
    if saved:
        starts = tuple({"name": each.name, "colour": _shown(each.lab)} for each in saved.pigments)
    fields = (
        Field("name", "Pigment"),
        Field("colour", "Its full colour", "colour", hint="#8a3b2c or L*a*b*"),
    )
    pigments = Group(
        "pigments", fields, "1. Which pigments?", PIGMENTS_INTRO, "grow", starts, grow_label="Another pigment"
    )
    way = saved.method if saved and saved.method in WAYS else OWN if saved else ""
    own = saved.method if saved and way == OWN else ""
    how = (
        Field("way", "2. How is it stirred in?", "choice", choices=(*WAYS, OWN), big=True, start=way),
        Field("own", "In my own words", start=own),
        *declared_fields(Question, ("began_at",), saved),
    )
    name = () if saved else (Field("name", "Name of this test", placeholder="made from your answers"),)
    rest = (*name, *declared_fields(Question, ("limit_percent", "remark"), saved, {"remark": "long"}))
    return [pigments, Group("how", how), Group("details", rest, "And", more=True)]


def _shown(lab: tuple[float, float, float] | None) -> str:
    return " ".join(f"{each:.2f}" for each in lab) if lab else ""


def read_question(values: Values, pressed_at: str) -> tuple[Question, str]:
    """Return the question that was asked and the name given to the test.

    Raises
    ------
    FormError
        With a message at each place that is missing or wrong.
    """
    faults = Faults()
    fields = _read(values, pressed_at, faults)
    if not fields["pigments"] and not faults.found:
        faults.found["pigments/1/name"] = "Name at least one pigment."
    if not fields["method"]:
        own = only(values, "how").get("way") == OWN
        faults.found["how//own" if own else "how//way"] = "How is it stirred in? Ways are compared by it."
    faults.stop()
    return Question.of(fields), only(values, "details").get("name", "").strip()


def check_question(values: Values) -> dict[str, str]:
    """Return what is wrong with what was typed so far; what is missing is not wrong yet."""
    faults = Faults()
    _read(values, NO_PRESS, faults)
    return faults.found


def _read(values: Values, at: str, faults: Faults) -> dict[str, Any]:
    fields = read_fields(Question, values, ("how", "details"), at, faults)
    asked = only(values, "how")
    own = asked.get("own", "").strip()
    way = asked.get("way", "").strip()
    fields["method"] = own if way == OWN or (own and not way) else way
    if own and way not in ("", OWN):
        faults.found["how//own"] = f"Either “{way}” or your own words: empty this, or choose “{OWN}”."
    fields["pigments"] = _pigments(values, faults)
    return fields


def _pigments(values: Values, faults: Faults) -> list[dict[str, Any]]:
    found: dict[str, dict[str, Any]] = {}
    for at, row in enumerate(values.get("pigments", []), 1):
        name, colour = row.get("name", "").strip(), row.get("colour", "").strip()
        if not name:
            if colour:
                faults.found[f"pigments/{at}/name"] = "Which pigment is this?"
            continue
        if name.casefold() in found:
            faults.found[f"pigments/{at}/name"] = f"“{name}” stands there already."
            continue
        lab = faults.read(f"pigments/{at}/colour", read_colour, colour) if colour else None
        found[name.casefold()] = {"name": name, "lab": None if lab is None else tuple(lab.tolist())}
    return list(found.values())
