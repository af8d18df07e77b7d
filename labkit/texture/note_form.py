"""The form of a note: a word first; a comparison, a reading and marks under "more"."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any

from labkit.errors import LabError
from labkit.texture.penetration import Instrument, check_readings
from labkit.texture.record import MARKED, REFERENCE, Note, Question
from labkit.ui.form import Field, Group, Values
from labkit.ui.reading import NO_PRESS, Faults, declared_fields, only, read_fields

GROUPS = ("note", "compared", "reading", "marks", "note_more")
SIZES = {"the load": "load_g", "the angle": "angle_deg", "full angle": "angle_deg", "the width": "rod_mm"}
"""Where a message about an instrument belongs."""
MARKS_INTRO = (
    "From 0, none, to 10, most, by your own measure. Each gets a map of its own once four pours have it."
)
COMPARED_INTRO = "Instead of a word or beside it: felt one right after the other, which is harder?"
NEW_STICK = "new_stick"
"""The tick that says so where a comparison names a reference stick for the first time."""
Known = Callable[[str, bool], str]
"""What a comparison names, by what was typed and whether that is a new stick: `Writing.compared_with`."""


def note_groups(
    question: Question,
    pours: Sequence[str],
    saved: Note | None = None,
    pour: str | None = None,
    *,
    than: str = "",
    tester: str = "",
    last: Note | None = None,
    testers: Sequence[str] = (),
    sticks: Sequence[str] = (),
) -> list[Group]:
    """Return what is asked when a stick is felt: which pour, which word.

    Parameters
    ----------
    pours
        Labels of the pours.
    saved, pour, than, tester
        The note that is mended, the label of its pour, and in words with what it was
        compared and who felt it.
    last
        The note before: its instrument is filled in.
    testers
        Names of those who felt before.
    sticks
        Reference sticks that others were compared with.
    """
    numbers, chosen = tuple(pours), pour or pours[-1]
    word = saved.word if saved else ""
    felt = (
        Field("number", "Which pour?", "choice", choices=numbers, start=chosen, big=len(numbers) <= 8),
        Field("word", "How hard is it?", "choice", choices=question.ladder, big=True, start=word),
        *declared_fields(Note, ("felt_at",), saved),
    )
    sizes = saved or last
    read_with, reading = declared_fields(Note, ("read_with", "reading"), saved)
    others = (*(f"pour {each}" for each in numbers), *dict.fromkeys([*sticks, REFERENCE]))
    (relation,) = declared_fields(Note, ("relation",), saved)
    return [
        Group("note", felt),
        Group(
            "compared",
            (
                relation,
                Field("than", "than / as", choices=others, start=than),
                Field(NEW_STICK, "a new reference stick", "tick"),
            ),
            "Compare it",
            COMPARED_INTRO,
            more=True,
        ),
        Group(
            "reading",
            (
                reading,
                replace(read_with, start=sizes.read_with if sizes else ""),
                *declared_fields(Note, ("load_g", "angle_deg", "rod_mm"), sizes),
            ),
            "Read it with an instrument",
            more=True,
        ),
        Group("marks", declared_fields(Note, MARKED, saved), "Marks", MARKS_INTRO, more=True),
        Group("note_more", _rest(saved, tester, testers), "And", more=True),
    ]


def _rest(saved: Note | None, tester: str, testers: Sequence[str]) -> tuple[Field, ...]:
    fields = declared_fields(
        Note, ("form", "piece", "tester", "blind_code", "room_c", "remark"), saved, {"remark": "long"}
    )
    return tuple(
        replace(field, start=tester, choices=tuple(testers)) if field.name == "tester" else field
        for field in fields
    )


def read_note(values: Values, pressed_at: str, known: Known) -> tuple[str, dict[str, Any]]:
    """Return the pour's label, and the fields of a `Note` but its pour; "than" and "tester" in words.

    With them "new_stick", whether "than" is said to be a new reference stick. ``known`` raises
    `LabError` for what cannot be compared with.

    Raises
    ------
    FormError
        With a message at each place that is missing or wrong.
    """
    faults = Faults()
    fields = _read(values, pressed_at, faults, known)
    if not faults.found and not _says_something(fields):
        faults.found["note//word"] = "Choose the word that fits."
    faults.stop()
    return only(values, "note")["number"], fields


def check_note(values: Values, known: Known) -> dict[str, str]:
    """Return what is wrong with what was typed so far."""
    faults = Faults()
    _read(values, NO_PRESS, faults, known)
    return faults.found


def _read(values: Values, pressed_at: str, faults: Faults, known: Known) -> dict[str, Any]:
    fields = read_fields(Note, values, GROUPS, pressed_at, faults)
    fields["word"] = only(values, "note").get("word", "")
    fields["tester"] = str(fields.get("tester") or "").strip()
    fields[NEW_STICK] = bool(only(values, "compared").get(NEW_STICK))
    _check_compared(fields, only(values, "note").get("number", ""), faults, known)
    if fields.get("reading") is None:
        fields |= {"read_with": "", "load_g": None, "angle_deg": None, "rod_mm": None}
    else:
        _check_reading(fields, faults)
    return fields


def _check_compared(fields: dict[str, Any], number: str, faults: Faults, known: Known) -> None:
    relation, than = fields.get("relation", ""), str(fields.get("than", "")).strip()
    fields["than"] = than
    if relation and not than:
        faults.found["compared//than"] = f"{relation.capitalize()} than what? Name a pour, or {REFERENCE}."
    elif than and not relation:
        faults.found["compared//relation"] = "Harder, the same or softer?"
    elif than.casefold() in (f"pour {number}".casefold(), number.casefold()):
        faults.found["compared//than"] = f"That is {than} itself. Name another one."
    elif than:
        faults.read("compared//than", known, than, fields[NEW_STICK])


def _check_reading(fields: dict[str, Any], faults: Faults) -> None:
    if not fields.get("read_with"):
        faults.found["reading//read_with"] = "What was it read with?"
        return
    try:
        instrument = Instrument(
            fields["read_with"], fields.get("load_g"), fields.get("angle_deg"), rod_mm=fields.get("rod_mm")
        )
    except LabError as error:
        place = next((place for word, place in SIZES.items() if word in str(error)), "read_with")
        faults.found[f"reading//{place}"] = str(error)
        return
    faults.read("reading//reading", check_readings, [fields["reading"]], instrument)


def _says_something(fields: Mapping[str, Any]) -> bool:
    marks = any(fields.get(mark) is not None for mark in MARKED)
    return bool(fields["word"] or fields["relation"] or fields.get("reading") is not None or marks)
