"""The forms after the pour: what was filled and lost, and how the sticks are a day later."""

import re
from typing import TYPE_CHECKING, Any

from labkit.batch.record import Filled, Judged
from labkit.errors import LabError
from labkit.quantities import read_number
from labkit.ui.form import Field, Group, Values
from labkit.ui.reading import NO_PRESS, Faults, declared_fields, only, read_fields

if TYPE_CHECKING:
    from labkit.batch.trial import BatchTrial

FILLS_HINT = "One number for each, full less empty, such as: 4.5 4,6 4.5. Or one number for all together."
STREAKS = ("0 none seen", "1 few", "2 some", "3 many", "4 everywhere")
NOT_LOOKED = "not looked"


def fill_groups(saved: Filled | None = None) -> list[Group]:
    """Return what is asked of the containers and of what is left."""
    fills = " ".join(f"{each:g}" for each in saved.fills_g) if saved else ""
    fields = (
        Field("fills", "Grams in each tube or pot", "long", hint=FILLS_HINT, start=fills),
        *declared_fields(Filled, ("pan_g", "tools_g", "filled_at"), saved),
    )
    rest = declared_fields(Filled, ("container", "remark"), saved, {"remark": "long"})
    return [Group("filled", fields), Group("more", rest, "And", more=True)]


def read_fills(text: str) -> tuple[float, ...]:
    """Read fill weights that were typed one after the other, with decimal points or commas.

    Raises
    ------
    LabError
        Where one of them is no weight.

    >>> read_fills("4.5 4,6; 4.55 g")
    (4.5, 4.6, 4.55)
    """
    found = []
    for number, each in enumerate(re.split(r"[\s;]+", re.sub(r"(?i)\s*g(?=[\s;,]|$)", " ", text).strip()), 1):
        if not each.strip(","):
            continue
        grams = read_number(each.strip(","), f"fill {number}", "g")
        if not grams > 0:
            raise LabError(f"fill {number}: {grams:g} g cannot be. Give full less empty.")
        found.append(grams)
    return tuple(found)


def read_filled(values: Values, pressed_at: str) -> dict[str, Any]:
    """Return the fields of a `Filled` but its batch.

    Raises
    ------
    FormError
        With a message at each place that is missing or wrong.
    """
    faults = Faults()
    fields = _filled(values, pressed_at, faults)
    if not fields.get("fills_g"):
        faults.found.setdefault("filled//fills", "How many grams are in each?")
    faults.stop()
    return fields


def check_filled(values: Values) -> dict[str, str]:
    """Return what is wrong with what was typed so far."""
    faults = Faults()
    _filled(values, NO_PRESS, faults)
    return faults.found


def _filled(values: Values, at: str, faults: Faults) -> dict[str, Any]:
    fields = read_fields(Filled, values, ("filled", "more"), at, faults)
    text = only(values, "filled").get("fills", "").strip()
    return {**fields, "fills_g": faults.read("filled//fills", read_fills, text) if text else None}


def judge_groups(trial: "BatchTrial", saved: Judged | None = None) -> list[Group]:
    """Return what is asked of the sticks a day or more later."""
    streaks = STREAKS[saved.streaks] if saved and saved.streaks is not None else NOT_LOOKED
    fields = (
        Field(
            "word",
            "Hardness",
            "choice",
            choices=trial.question.words,
            big=True,
            start=saved.word if saved else "",
        ),
        Field("streaked", "Streaks", "choice", choices=(*STREAKS, NOT_LOOKED), big=True, start=streaks),
        *declared_fields(Judged, ("sink_holes", "looked_at", "judged_at"), saved),
    )
    rest = declared_fields(Judged, ("photo", "remark"), saved, {"photo": "photo", "remark": "long"})
    return [Group("judged", fields), Group("more", rest, "And", more=True)]


def read_judged(values: Values, pressed_at: str) -> dict[str, Any]:
    """Return the fields of a `Judged` but its batch.

    Raises
    ------
    FormError
        With a message at each place that is missing or wrong.
    """
    faults = Faults()
    fields = _judged(values, pressed_at, faults)
    nothing = not fields["word"] and fields["streaks"] is None and fields.get("sink_holes") is None
    if nothing and not faults.found:
        faults.found["judged//word"] = "Say how hard they are, how streaked, or how many have a sink hole."
    holes, of = fields.get("sink_holes"), fields.get("looked_at")
    if holes is not None and of is None:
        faults.found.setdefault("judged//looked_at", "Of how many sticks?")
    if of is not None and holes is None:
        faults.found.setdefault("judged//sink_holes", f"How many of the {of}? 0 where none has one.")
    if holes is not None and of is not None and holes > of:
        faults.found.setdefault("judged//sink_holes", f"{holes} of {of} cannot be.")
    faults.stop()
    return fields


def check_judged(values: Values) -> dict[str, str]:
    """Return what is wrong with what was typed so far."""
    faults = Faults()
    _judged(values, NO_PRESS, faults)
    return faults.found


def _judged(values: Values, at: str, faults: Faults) -> dict[str, Any]:
    fields = read_fields(Judged, values, ("judged", "more"), at, faults)
    asked = only(values, "judged")
    streaks = asked.get("streaked", "")
    return {
        **fields,
        "word": asked.get("word", ""),
        "streaks": STREAKS.index(streaks) if streaks in STREAKS else None,
    }
