"""The forms at the stove: what happened and how hot it is, what went in, what was taken out."""

from typing import TYPE_CHECKING, Any, get_args

from labkit.batch.record import LONGEST_NAME, Added, Event, Happened, Reading, Taken
from labkit.quantities import read_pot_c
from labkit.ui.form import Field, Group, Values
from labkit.ui.reading import NO_PRESS, Faults, declared_fields, only, read_fields

if TYPE_CHECKING:
    from labkit.batch.trial import BatchTrial, Logged

JUST_HEAT = "just the temperature"
OTHER = "something else, below"


# ------------------------------------------------------------ what happened


def event_groups(saved: "Happened | Reading | None" = None) -> list[Group]:
    """Return what is asked of an event or a temperature."""
    what = saved.what if isinstance(saved, Happened) else JUST_HEAT
    at = saved.at if isinstance(saved, Happened) else saved.read_at if saved else None
    celsius = "" if saved is None or saved.celsius is None else f"{saved.celsius:g}"
    choices = ((what,) if saved and what != JUST_HEAT else ()) or (JUST_HEAT, *get_args(Event))
    if isinstance(saved, Happened):
        choices = get_args(Event)
    elif saved:
        choices = (JUST_HEAT,)
    fields = (
        Field("what", "What happened?", "choice", choices=choices, big=True, start=what),
        Field(
            "celsius", "Pot", "number", "°C", "From the clipped thermometer. °F: type 167 °F.", start=celsius
        ),
        Field("at", "When", "when", start=at.astimezone().isoformat(timespec="minutes") if at else ""),
    )
    rest = declared_fields(Happened, ("remark",), kinds={"remark": "long"})
    if saved:
        rest = (Field("remark", "Remark", "long", start=saved.remark),)
    return [Group("now", fields), Group("more", rest, "And", more=True)]


def read_event(values: Values, pressed_at: str) -> "tuple[type[Logged], dict[str, Any]]":
    """Return which record was pressed, `Happened` or `Reading`, and its fields.

    Raises
    ------
    FormError
        With a message at each place that is missing or wrong.
    """
    faults = Faults()
    fields = _event(values, pressed_at, faults)
    just_heat = only(values, "now").get("what", "") in ("", JUST_HEAT)
    if just_heat and fields["celsius"] is None:
        faults.found.setdefault("now//celsius", "How hot is the pot? Or press what happened.")
    faults.stop()
    if just_heat:
        return Reading, {"celsius": fields["celsius"], "read_at": fields["at"], "remark": fields["remark"]}
    return Happened, {"what": only(values, "now")["what"], **fields}


def check_event(values: Values) -> dict[str, str]:
    """Return what is wrong with what was typed so far."""
    faults = Faults()
    _event(values, NO_PRESS, faults)
    return faults.found


def _event(values: Values, at: str, faults: Faults) -> dict[str, Any]:
    fields = read_fields(
        Happened, {"more": values.get("more", []), "now": [_time(values)]}, ("now", "more"), at, faults
    )
    text = only(values, "now").get("celsius", "").strip()
    celsius = faults.read("now//celsius", read_pot_c, text) if text else None
    return {"remark": "", **fields, "celsius": celsius}


def _time(values: Values) -> dict[str, str]:
    return {"at": only(values, "now").get("at", "")}


# ------------------------------------------------------------ what went in


def added_groups(trial: "BatchTrial", next_in: str, saved: Added | None = None) -> list[Group]:
    """Return what is asked of something that goes into the pot; what comes next is chosen."""
    names = tuple(each.name for each in trial.question.lines)
    first = saved.ingredient if saved and saved.ingredient in names else OTHER if saved else next_in
    own = saved.ingredient if saved and first == OTHER else ""
    fields = (
        Field("ingredient", "Into the pot", "choice", choices=(*names, OTHER), start=first),
        Field(
            "grams",
            "Weighed",
            "number",
            "g",
            "What your scale shows.",
            start=f"{saved.grams:g}" if saved else "",
        ),
        *declared_fields(Added, ("lot", "added_at"), saved),
    )
    rest = (
        Field("other", "Something else", hint="What is not in the recipe.", start=own),
        *declared_fields(Added, ("remark",), saved, {"remark": "long"}),
    )
    return [Group("in", fields), Group("more", rest, "And", more=True)]


def read_added(values: Values, pressed_at: str) -> dict[str, Any]:
    """Return the fields of an `Added` but its batch.

    Raises
    ------
    FormError
        With a message at each place that is missing or wrong.
    """
    faults = Faults()
    fields = _added(values, pressed_at, faults)
    if not fields["ingredient"]:
        other = only(values, "in").get("ingredient") == OTHER
        faults.found["more//other" if other else "in//ingredient"] = "What went in?"
    if fields.get("grams") is None:
        faults.found.setdefault("in//grams", "How many grams?")
    faults.stop()
    return fields


def check_added(values: Values) -> dict[str, str]:
    """Return what is wrong with what was typed so far."""
    faults = Faults()
    _added(values, NO_PRESS, faults)
    return faults.found


def _added(values: Values, at: str, faults: Faults) -> dict[str, Any]:
    fields = read_fields(Added, values, ("in", "more"), at, faults)
    chosen = only(values, "in").get("ingredient", "").strip()
    other = only(values, "more").get("other", "").strip()[:LONGEST_NAME]
    fields["ingredient"] = other if chosen in ("", OTHER) else chosen
    return fields


# ------------------------------------------------------------ what was taken out


def taken_groups(saved: Taken | None = None) -> list[Group]:
    """Return what is asked of melt that is taken out."""
    fields = declared_fields(Taken, ("grams", "why", "taken_at"), saved)
    rest = declared_fields(Taken, ("remark",), saved, {"remark": "long"})
    return [Group("out", fields), Group("more", rest, "And", more=True)]


def read_taken(values: Values, pressed_at: str) -> dict[str, Any]:
    """Return the fields of a `Taken` but its batch.

    Raises
    ------
    FormError
        With a message at each place that is missing or wrong.
    """
    faults = Faults()
    fields = read_fields(Taken, values, ("out", "more"), pressed_at, faults)
    if fields.get("grams") is None:
        faults.found.setdefault("out//grams", "How many grams?")
    faults.stop()
    return fields


def check_taken(values: Values) -> dict[str, str]:
    """Return what is wrong with what was typed so far."""
    faults = Faults()
    read_fields(Taken, values, ("out", "more"), NO_PRESS, faults)
    return faults.found
