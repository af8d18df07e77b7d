"""The form of a set stick's check: the colour of its top and of its bottom."""

from typing import Any

from labkit.colour.typed import read_colour
from labkit.streak.record import Stick
from labkit.ui.form import Field, Group, Values
from labkit.ui.reading import NO_PRESS, Faults, declared_fields, only, read_fields

HINT = "A screen's code such as #8a3b2c, or L*a*b*: 41.2 28 19."
ENDS = (("top_lab", "Top, as it stood in the tube"), ("bottom_lab", "Bottom"))


def stick_groups() -> list[Group]:
    """Return what is asked."""
    ends = tuple(Field(name, label, "colour", hint=HINT) for name, label in ENDS)
    rest = declared_fields(Stick, ("repeat_sd", "read_at", "remark"), kinds={"remark": "long"})
    return [Group("ends", ends), Group("more", rest, "And", more=True)]


def read_stick(values: Values, pressed_at: str) -> dict[str, Any]:
    """Return the fields of a `Stick` but its question.

    Raises
    ------
    FormError
        With a message at each place that is missing or wrong.
    """
    faults = Faults()
    fields = _read(values, pressed_at, faults)
    for name, label in ENDS:
        if name not in fields:
            faults.found.setdefault(f"ends//{name}", f"{label}: which colour?")
    faults.stop()
    return fields


def check_stick(values: Values) -> dict[str, str]:
    """Return what is wrong with what was typed so far."""
    faults = Faults()
    _read(values, NO_PRESS, faults)
    return faults.found


def _read(values: Values, at: str, faults: Faults) -> dict[str, Any]:
    fields = read_fields(Stick, values, ("more",), at, faults)
    for name, _ in ENDS:
        if text := only(values, "ends").get(name, "").strip():
            lab = faults.read(f"ends//{name}", read_colour, text)
            fields[name] = None if lab is None else tuple(lab.tolist())
    return fields
