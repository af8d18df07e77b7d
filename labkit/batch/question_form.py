"""The form of a batch's plan: the recipe in grams, how it is heated, what it is poured into."""

from typing import Any

from labkit.batch.known import known_of
from labkit.batch.record import Line, Question
from labkit.errors import LabError
from labkit.quantities import read_number, read_pot_c
from labkit.ui.form import Field, Group, Values
from labkit.ui.reading import NO_PRESS, Faults, declared_fields, only, read_fields

GUESS = "guess from its name"
KINDS = (GUESS, "oil", "butter", "wax", "powder", "scent")
POWDER_HINT = "Pigments and stearates are powders."
OWN_INTRO = (
    "Only where your supplier's sheet says otherwise than the lab, or the lab knows nothing. What has a "
    "limit goes in below it."
)
ASKED = ("heat", "containers", "fill_g", "pour_c", "room_c", "step_g")
DETAILS = ("elevation_m", "hottest_c", "mould_mm", "clump_um", "too_thick_c")


def question_groups(saved: Question | None = None, new: bool = True) -> list[Group]:
    """Return what is asked, with what was saved, or with the batch that is made again."""
    starts: tuple[dict[str, str], ...] = ({},) * 6
    own: tuple[dict[str, str], ...] = ({},)
    if saved:
        starts = tuple(
            {"name": each.name, "grams": f"{each.grams:g}", "kind": each.kind} for each in saved.lines
        )
        own = tuple(_own_start(each) for each in saved.lines if _is_own(each)) or ({},)
    lines = (
        Field("name", "Ingredient"),
        Field("grams", "Grams", "number"),
        Field("kind", "What it is", "choice", choices=KINDS, start=GUESS),
    )
    heat = (
        Field("name", "Ingredient"),
        Field("low", "Melts from", "number", "°C"),
        Field("high", "to", "number", "°C"),
        Field("limit", "Heat limit", "number", "°C"),
    )
    name = (Field("name", "Name of this batch", placeholder="made from the day"),) if new else ()
    words = Field(
        "words",
        "Hardness words, soft to hard",
        start=", ".join(saved.words if saved else Question.model_fields["words"].default),
    )
    asked = declared_fields(Question, ASKED, saved)
    asked = tuple(_big(each) for each in asked)
    return [
        Group(
            "lines", lines, "1. What goes in?", POWDER_HINT, "grow", starts, grow_label="Another ingredient"
        ),
        Group("asked", asked, "2. How, and into what?"),
        Group("own", heat, "Melting ranges and heat limits of your own", OWN_INTRO, "grow", own, more=True),
        Group("details", (*name, *declared_fields(Question, DETAILS, saved), words), "And", more=True),
    ]


def _big(field: Field) -> Field:
    return Field(**{**vars(field), "big": True}) if field.kind == "choice" else field


def _is_own(line: Line) -> bool:
    known = known_of(line.name)
    return (line.melts_c, line.limit_c) != (known.melts_c, known.limit_c)


def _own_start(line: Line) -> dict[str, str]:
    low, high = line.melts_c or (None, None)
    shown = {"low": low, "high": high, "limit": line.limit_c}
    return {"name": line.name, **{key: f"{each:g}" for key, each in shown.items() if each is not None}}


def read_question(values: Values, pressed_at: str = NO_PRESS) -> tuple[Question, str]:
    """Return the plan that was asked and the name given to the batch.

    Raises
    ------
    FormError
        With a message at each place that is missing or wrong.
    """
    faults = Faults()
    fields = _read(values, pressed_at, faults)
    if not fields["lines"] and not faults.found:
        faults.found["lines/1/name"] = "Name at least one ingredient and its grams."
    for at, row in enumerate(values.get("lines", []), 1):
        if row.get("name", "").strip() and not row.get("grams", "").strip():
            faults.found[f"lines/{at}/grams"] = f"How many grams of {row['name'].strip()}?"
    faults.stop()
    return Question.of(fields), only(values, "details").get("name", "").strip()


def check_question(values: Values) -> dict[str, str]:
    """Return what is wrong with what was typed so far; what is missing is not wrong yet."""
    faults = Faults()
    _read(values, NO_PRESS, faults)
    return faults.found


def _read(values: Values, at: str, faults: Faults) -> dict[str, Any]:
    fields = read_fields(Question, values, ("asked", "details"), at, faults)
    own = _own(values, faults)
    fields["lines"] = _lines(values, own, faults)
    words = tuple(
        each.strip() for each in only(values, "details").get("words", "").split(",") if each.strip()
    )
    if words:
        if len(words) < 2:
            faults.found["details//words"] = (
                "At least two words, from soft to hard, with a comma between them."
            )
        fields["words"] = words
    return fields


def _lines(values: Values, own: dict[str, dict[str, Any]], faults: Faults) -> list[dict[str, Any]]:
    found: dict[str, dict[str, Any]] = {}
    for at, row in enumerate(values.get("lines", []), 1):
        name, typed = row.get("name", "").strip(), row.get("grams", "").strip()
        if not name:
            if typed:
                faults.found[f"lines/{at}/name"] = "Which ingredient is this?"
            continue
        if name.casefold() in found:
            faults.found[f"lines/{at}/name"] = f"“{name}” stands there already: put its grams into one line."
            continue
        grams = faults.read(f"lines/{at}/grams", _grams, typed, name) if typed else None
        known = known_of(name)
        chosen = row.get("kind", GUESS)
        kind = known.kind if chosen == GUESS else chosen
        if kind is None:
            faults.found[f"lines/{at}/kind"] = f"What is {name}? Its name does not say it: choose one."
            continue
        if grams is not None:
            line = {
                "name": name,
                "grams": grams,
                "kind": kind,
                "melts_c": known.melts_c,
                "limit_c": known.limit_c,
            }
            found[name.casefold()] = {**line, **own.pop(name.casefold(), {})}
    for name in own:
        places = [
            at for at, row in enumerate(values["own"], 1) if row.get("name", "").strip().casefold() == name
        ]
        if places and found:
            faults.found[f"own/{places[0]}/name"] = (
                "This is not in your recipe above. Mend one of the two names."
            )
    return list(found.values())


def _grams(text: str, name: str) -> float:
    grams = read_number(text, name, "g")
    if not grams > 0:
        raise LabError(f"{name}: {grams:g} g cannot be weighed. Leave the line empty.")
    return grams


def _own(values: Values, faults: Faults) -> dict[str, dict[str, Any]]:
    found = {}
    for at, row in enumerate(values.get("own", []), 1):
        name = row.get("name", "").strip()
        typed = {key: row.get(key, "").strip() for key in ("low", "high", "limit")}
        if not name:
            if any(typed.values()):
                faults.found[f"own/{at}/name"] = "Of which ingredient?"
            continue
        read = {
            key: faults.read(f"own/{at}/{key}", read_pot_c, text, name) if text else None
            for key, text in typed.items()
        }
        if (read["low"] is None) != (read["high"] is None):
            missing = "low" if read["low"] is None else "high"
            faults.found.setdefault(
                f"own/{at}/{missing}", "A melting range has two ends; the same twice for one point."
            )
            continue
        line: dict[str, Any] = {"limit_c": read["limit"]} if typed["limit"] else {}
        if read["low"] is not None:
            line["melts_c"] = (read["low"], read["high"])
        found[name.casefold()] = line
    return found
