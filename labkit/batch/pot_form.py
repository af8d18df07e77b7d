"""The forms of a drip, and of an addition that puts the pot right."""

from collections.abc import Mapping, Sequence
from typing import Any

from labkit.batch.off_colour import ways
from labkit.batch.record import Added, Drip
from labkit.quantities import read_number, show_grams
from labkit.ui.form import Field, Group, Values
from labkit.ui.reading import NO_PRESS, Faults, declared_fields, only, read_fields

NOT_TOLD = "don't know"
FELT = ("too soft", "right", "too hard", NOT_TOLD)
COLOURS = ("right", *ways(), NOT_TOLD)
INTRO = (
    "Let a drip fall on a chilled tile, wait until it is firm and no longer warm, then feel it and look at "
    "it. It helps to set it beside a drip of a batch that was right."
)
_LEAST_G, _MOST_G = 0.0, 1_000_000.0


def drip_groups(at_hand: Sequence[str], saved: Drip | None = None) -> list[Group]:
    """Return what is asked about a drip."""
    felt, colour = (each or NOT_TOLD for each in (saved.felt, saved.colour)) if saved else ("", "")
    main = (
        Field("felt", "It feels", "choice", choices=FELT, big=True, start=felt),
        Field("colour", "Its colour is", "choice", choices=COLOURS, big=True, start=colour),
        Field("photo", "Photo, if you like", "photo", start=saved.photo if saved else ""),
    )
    hand = Field(
        "at_hand", "Other pigments at hand", hint="By name or CI number, with commas between.",
        start=", ".join(saved.at_hand if saved else at_hand),
    )  # fmt: skip
    rest = declared_fields(Drip, ("dripped_at", "remark"), saved, {"remark": "long"})
    return [Group("drip", main, intro=INTRO), Group("more", (hand, *rest), more=True)]


def read_drip(values: Values, pressed_at: str) -> dict[str, Any]:
    """Return the fields of a `Drip` but its question.

    Raises
    ------
    FormError
        With a message at each place that is missing or wrong.
    """
    faults = Faults()
    fields = _read_drip(values, pressed_at, faults)
    if not (fields["felt"] or fields["colour"]):
        faults.found["drip//felt"] = "Press how it feels, or how its colour is."
    faults.stop()
    return fields


def check_drip(values: Values) -> dict[str, str]:
    """Return what is wrong with what was typed so far; what is missing is not wrong yet."""
    faults = Faults()
    _read_drip(values, NO_PRESS, faults)
    return faults.found


def _read_drip(values: Values, pressed_at: str, faults: Faults) -> dict[str, Any]:
    fields = read_fields(Drip, values, ("more",), pressed_at, faults)
    pressed = only(values, "drip")
    told = {name: pressed.get(name, "") for name in ("felt", "colour")}
    names = only(values, "more").get("at_hand", "").replace(";", ",").replace("\n", ",").split(",")
    at_hand = tuple(dict.fromkeys(each.strip() for each in names if each.strip()))
    said = {name: "" if each == NOT_TOLD else each for name, each in told.items()}
    return {**fields, **said, "photo": pressed.get("photo", ""), "at_hand": at_hand}


# ---- additions -------------------------------------------------------------------


def added_groups(parts_g: Mapping[str, float], step_g: float) -> list[Group]:
    """Return what is asked about an addition: what was really weighed stands there already."""
    starts = tuple({"_row": name, "grams": show_grams(grams, step_g)} for name, grams in parts_g.items())
    fields = (Field("grams", "Weighed", "number", "g"), Field("lot", "Lot, if you like"))
    rest = declared_fields(Added, ("added_at", "remark"), kinds={"remark": "long"})
    return [
        Group("parts", fields, rows=tuple(parts_g), starts=starts, row_label="Add"),
        Group("more", rest, more=True),
    ]


def read_added(values: Values, pressed_at: str) -> list[dict[str, Any]]:
    """Return the fields of each `Added` but its question; a row without grams was not added.

    Raises
    ------
    FormError
        With a message at each place that is wrong, and where nothing was weighed.
    """
    faults = Faults()
    found = _read_added(values, pressed_at, faults)
    if not found and not faults.found:
        row = values["parts"][0]["_row"]
        faults.found[f"parts/{row}/grams"] = f"{row}: type how many g went in."
    faults.stop()
    return found


def check_added(values: Values) -> dict[str, str]:
    """Return what is wrong with what was typed so far."""
    faults = Faults()
    _read_added(values, NO_PRESS, faults)
    return faults.found


def _read_added(values: Values, pressed_at: str, faults: Faults) -> list[dict[str, Any]]:
    shared = read_fields(Added, values, ("more",), pressed_at, faults)
    found = []
    for row in values.get("parts", []):
        name, text = row["_row"], row.get("grams", "").strip()
        path = f"parts/{name}/grams"
        grams = faults.read(path, read_number, text, name, "g") if text else 0.0
        if grams is not None and not _LEAST_G <= grams <= _MOST_G:
            faults.found[path] = f"{name}: {grams:g} g cannot be. Type 0 to {_MOST_G:,.0f} g."
        elif grams:
            found.append({"ingredient": name, "grams": grams, "lot": row.get("lot", "").strip(), **shared})
    return found
