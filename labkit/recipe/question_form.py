"""The form of a recipe: what was poured, for which containers, scale and markets, and how it is remade."""

from collections.abc import Mapping
from typing import Any

from labkit.errors import LabError
from labkit.materials import refused_grade
from labkit.quantities import read_number
from labkit.recipe.groups import group_of, same_material
from labkit.recipe.record import Written
from labkit.recipe.written import Poured
from labkit.ui.form import Field, Group, Values
from labkit.ui.reading import Faults, declared_fields, only, read_fields

GUESS = "guess from its name"
COUNTS = (GUESS, "butter", "oil", "wax", "pigment", "other")
LINES_INTRO = (
    "In grams, as you poured it; the % follow. Colourants by name or CI number: a supplier's trade name "
    "does not say what is in it."
)
ASKED = ("containers", "fill_g", "loss_percent", "step_g")
HOW = ("hottest_c", "pour_c", "waiting_h", "work", "right", "send_back")
MARKETS = ("US", "EU", "UK")


def question_groups(saved: Written | None = None, start: Poured | None = None) -> list[Group]:
    """Return what is asked, with what was saved, or with something that was poured."""
    lines: tuple[dict[str, str], ...] = ({},) * 6
    if saved:
        lines = tuple(
            {
                "name": each.name,
                "grams": f"{each.grams:g}",
                "counts": each.group,
                "price": _shown(each.price_kg),
            }
            for each in saved.lines
        )
    elif start:
        lines = tuple({"name": name, "grams": f"{each:g}"} for name, each in start.grams.items())
    fields = (
        Field("name", "Ingredient"),
        Field("grams", "Grams", "number"),
        Field("counts", "Counts as", "choice", choices=COUNTS, start=GUESS),
        Field("price", "Price a kg", "number"),
    )
    spooned = Field(
        "spoons", "By the spoon", hint="Powders that are not weighed, with a comma between them.",
        start=", ".join(saved.spoons) if saved else "",
    )  # fmt: skip
    markets = saved.markets if saved else ("EU",)
    ticks = tuple(Field(name, name, "tick", start="yes" if name in markets else "") for name in MARKETS)
    how = declared_fields(Written, HOW, saved, {"work": "long", "right": "long"})
    if start:
        how = tuple(_started(each, start.process) for each in how)
    name = Field("name", "Name of this recipe", placeholder="made from the day")
    price = declared_fields(Written, ("container_price",), saved)
    source = Field(
        "source", "Poured as", "show", start=saved.source if saved else start.label if start else ""
    )
    return [
        Group(
            "lines",
            fields,
            "1. What did you pour?",
            LINES_INTRO,
            "grow",
            lines,
            grow_label="Another ingredient",
        ),
        Group("asked", declared_fields(Written, ASKED, saved), "2. What shall it become?"),
        Group("markets", ticks, "3. Where will it be worn or sold?"),
        Group("how", how, "How a stranger remakes it", more=True),
        Group("details", (name, spooned, *price, source), "And", more=True),
    ]


def _shown(price: float | None) -> str:
    return "" if price is None else f"{price:g}"


def _started(field: Field, process: Mapping[str, Any]) -> Field:
    value = process.get(field.name)
    return Field(**{**vars(field), "start": f"{value:g}"}) if isinstance(value, int | float) else field


def read_question(values: Values, came_from: str = "") -> tuple[Written, str]:
    """Return the recipe that was asked for and its name.

    Raises
    ------
    FormError
        With a message at each place that is missing or wrong.
    """
    faults = Faults()
    fields = _read(values, faults)
    if not fields["lines"] and not faults.found:
        faults.found["lines/1/name"] = "Name at least one ingredient and its grams."
    for at, row in enumerate(values.get("lines", []), 1):
        if row.get("name", "").strip() and not row.get("grams", "").strip():
            faults.found[f"lines/{at}/grams"] = f"How many grams of {row['name'].strip()}?"
    if not fields["markets"]:
        faults.found["markets//EU"] = (
            "Choose one at least: a colourant may be allowed in one and not in another."
        )
    faults.stop()
    written = Written.of({**fields, "came_from": came_from})
    return written, only(values, "details").get("name", "").strip()


def check_question(values: Values) -> dict[str, str]:
    """Return what is wrong with what was typed so far; what is missing is not wrong yet."""
    faults = Faults()
    _read(values, faults)
    return faults.found


def _read(values: Values, faults: Faults) -> dict[str, Any]:
    fields = read_fields(Written, values, ("asked", "how", "details"), "", faults)
    fields["lines"] = _lines(values, faults)
    fields["markets"] = tuple(name for name, tick in only(values, "markets").items() if tick)
    fields["spoons"] = _spoons(only(values, "details").get("spoons", ""), fields["lines"], faults)
    return fields


def _spoons(text: str, lines: list[dict[str, Any]], faults: Faults) -> tuple[str, ...]:
    names = tuple(each.strip() for each in text.split(",") if each.strip())
    for name in names:
        if lines and not any(same_material(name, line["name"]) for line in lines):
            faults.found["details//spoons"] = f"“{name}” is not in this recipe."
    return names


def _lines(values: Values, faults: Faults) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = []
    for at, row in enumerate(values.get("lines", []), 1):
        name, typed, price = (row.get(key, "").strip() for key in ("name", "grams", "price"))
        if not name:
            if typed or price:
                faults.found[f"lines/{at}/name"] = "Which ingredient is this?"
            continue
        if refused := refused_grade(name):
            faults.found[f"lines/{at}/name"] = refused
            continue
        if twin := next((each["name"] for each in found if same_material(each["name"], name)), None):
            faults.found[f"lines/{at}/name"] = f"This is “{twin}” once more: put its grams into one line."
            continue
        chosen = row.get("counts", GUESS)
        group = faults.read(f"lines/{at}/counts", _counts, name) if chosen in ("", GUESS) else chosen
        grams = faults.read(f"lines/{at}/grams", _above_0, typed, name, "g") if typed else None
        cost = faults.read(f"lines/{at}/price", _above_0, price, f"{name}, price") if price else None
        if grams is not None and group is not None:
            found.append({"name": name, "grams": grams, "group": group, "price_kg": cost})
    return found


def _counts(name: str) -> str:
    try:
        return group_of(name)
    except LabError:
        raise LabError(f"What does {name} count as? Its name does not say it: choose one.") from None


def _above_0(text: str, what: str, unit: str = "") -> float:
    number = read_number(text, what, unit)
    if not number > 0:
        raise LabError(f"{what}: {number:g} cannot be. Give more than 0, or leave it empty.")
    return number
