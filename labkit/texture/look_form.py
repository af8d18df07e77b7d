"""The form of a later look at a pour: which defects it shows."""

from collections.abc import Mapping, Sequence
from typing import Any

from labkit.texture.record import DEFECTS, Look
from labkit.ui.form import Field, Group, Values
from labkit.ui.reading import NO_PRESS, Faults, declared_fields, only, read_fields

SOUND = "still sound"
TICK = "Tick what you see, or “still sound”."


def look_groups(
    pours: Sequence[str], due: str = "", saved: Look | None = None, pour: str = ""
) -> list[Group]:
    """Return what is asked when a pour is looked over again: which pour, a tick per defect.

    ``due`` is the label of the pour whose look is due; ``pour`` that of the look which is mended.
    """
    numbers = tuple(pours)
    chosen = pour or due or numbers[-1]
    which = Field("number", "Which pour?", "choice", choices=numbers, start=chosen, big=len(numbers) <= 8)
    sound = Field(SOUND, SOUND, "tick", start="yes" if saved and not saved.defects else "")
    ticks = [
        Field(defect, defect, "tick", start="yes" if saved and defect in saved.defects else "")
        for defect in DEFECTS
    ]
    first = declared_fields(Look, ("after", "looked_at"), saved)
    rest = declared_fields(Look, ("photo", "remark"), saved, {"photo": "photo", "remark": "long"})
    return [
        Group("look", (which,)),
        Group("seen", (sound, *ticks), intro=TICK),
        Group("looked", first),
        Group("look_more", rest, more=True),
    ]


def read_look(values: Values, pressed_at: str) -> tuple[str, dict[str, Any]]:
    """Return the pour's label, and the fields of a `Look` but its pour.

    Raises
    ------
    FormError
        With a message at each place that is wrong.
    """
    faults = Faults()
    fields = read_fields(Look, values, ("looked", "look_more"), pressed_at, faults)
    seen = tuple(defect for defect in DEFECTS if only(values, "seen").get(defect))
    if bool(only(values, "seen").get(SOUND)) == bool(seen):
        faults.found[f"seen//{SOUND}"] = f"{TICK} Not both." if seen else TICK
    faults.stop()
    return only(values, "look")["number"], {**fields, "defects": seen}


def check_look(values: Values) -> Mapping[str, str]:
    """Return what is wrong with what was typed so far."""
    faults = Faults()
    read_fields(Look, values, ("looked", "look_more"), NO_PRESS, faults)
    return faults.found
