"""The form of a question: the three that must be answered, and what has a default."""

from collections.abc import Mapping, Sequence
from typing import Any

from labkit.errors import LabError, did_you_mean
from labkit.quantities import read_number, read_step
from labkit.texture.notes import check_ladder
from labkit.texture.record import COMPLAINTS, HELD, LADDER, Ingredient, Question
from labkit.texture.region import Region
from labkit.texture.usual import base_shares, default_bounds, guess_part, ingredient, make_question
from labkit.ui.form import Field, Group, Values
from labkit.ui.reading import Faults, only

BY_NAME = "guess from its name"
ON_ITS_OWN = "a part of its own"
COUNTS_AS = (BY_NAME, "butter", "oil", "wax", HELD, ON_ITS_OWN)
USUAL_INTRO = "In grams, as you weigh it. Butters, oils and waxes are varied; the rest is held constant."
COMMON_NAMES = (
    "shea butter", "cocoa butter", "mango butter", "castor oil", "jojoba oil", "sunflower oil", "beeswax",
    "candelilla wax", "carnauba wax", "magnesium stearate", "pigment",
)  # fmt: skip


def question_groups(
    parts: Sequence[str] = (),
    shares: Mapping[str, float] | None = None,
    held: float = 0.0,
    saved: Question | None = None,
    told: str = "",
) -> list[Group]:
    """Return the three questions, and all that has a default under "more".

    ``told`` is what the ingredients typed so far count as, see `counted_words`.
    """
    wrong, step = (saved.complaint, f"{saved.step_g:g}") if saved else ("", "0.1")
    step_hint = "The smallest change that it shows: 1, 0.1 or 0.01."
    asked = Group(
        "asked",
        (
            Field("wrong", "2. What is wrong with it?", "choice", choices=COMPLAINTS, big=True, start=wrong),
            Field("step", "3. Your scale's step", "number", "g", start=step, hint=step_hint),
        ),
    )
    return [
        _usual_group(saved, told),
        asked,
        _details_group(saved),
        *_bounds_groups(parts, shares or {}, held, saved),
    ]


def _usual_group(saved: Question | None, told: str) -> Group:
    own = tuple(part for part in (saved.parts if saved else ()) if part not in COUNTS_AS)
    fields = (
        Field("name", "Ingredient", choices=COMMON_NAMES),
        Field("grams", "Grams", "number"),
        Field("part", "Counts as", "choice", choices=(*COUNTS_AS, *own), start=BY_NAME),
    )
    return Group(
        "usual",
        fields,
        title="1. What is your usual recipe?",
        intro=told or USUAL_INTRO,
        rows="grow",
        starts=_usual_starts(saved),
        grow_label="Another ingredient",
    )


def _usual_starts(saved: Question | None) -> tuple[Mapping[str, str], ...]:
    if saved is None:
        return ({}, {}, {}, {})
    return tuple({"name": each.name, "grams": f"{each.grams:g}", "part": each.part} for each in saved.usual)


def _details_group(saved: Question | None) -> Group:
    ladder, wanted, batch, rules = ", ".join(LADDER), "", "", ""
    if saved:
        between = "; " if any("," in word for word in saved.ladder) else ", "
        ladder, wanted, batch = between.join(saved.ladder), saved.wanted, f"{saved.batch_g:g}"
        rules = "\n".join(saved.rules)
    name = Field("name", "Name of this trial", placeholder="made from your answers")
    spoiled = "Enough for several pieces: a spot that was felt is spoiled."
    fields = (
        Field(
            "ladder",
            "Your hardness words",
            start=ladder,
            hint="From soft to hard, with commas (or semicolons) between them.",
        ),
        Field("wanted", "The word you want", start=wanted, placeholder="the middle one"),
        Field("batch", "Finished product a pour", "number", "g", spoiled, "as above", start=batch),
        Field("rules", "Side rules", "long", start=rules, hint="One a line, such as: wax <= 0.5*butter"),
    )
    return Group("details", fields if saved else (name, *fields), more=True)


def _bounds_groups(
    parts: Sequence[str], shares: Mapping[str, float], held: float, saved: Question | None
) -> list[Group]:
    if not parts:
        return []
    usual, product = default_bounds(shares), 100 * (1 - held)
    fields = (Field("low", "Lowest", "number", "%"), Field("high", "Highest", "number", "%"))

    def start(part: str) -> dict[str, str]:
        if saved and part in saved.low:
            low, high = saved.low[part], saved.high[part]
            return {"_row": part, "low": f"{product * low:.4g}", "high": f"{product * high:.4g}"}
        low, high = usual[part]
        return {"_row": part, "low?": f"{product * low:.1f}", "high?": f"{product * high:.1f}"}

    return [
        Group(
            "bounds", fields, "How far may each part go?", "In % of the finished product.", tuple(parts),
            tuple(start(part) for part in parts), "Part", more=True,
        )
    ]  # fmt: skip


def read_usual(values: Values, faults: Faults) -> list[Ingredient]:
    """Read the lines of the usual recipe that have something in them."""
    lines: list[Ingredient] = []
    for index, row in enumerate(values.get("usual", []), 1):
        name, grams_text = row.get("name", "").strip(), row.get("grams", "").strip()
        if not name and not grams_text:
            continue
        grams = (
            _positive(grams_text, name or f"line {index}", f"usual/{index}/grams", faults)
            if grams_text
            else None
        )
        if not name:
            faults.found[f"usual/{index}/name"] = "Which ingredient is this?"
        elif name.casefold() in [each.name.casefold() for each in lines]:
            faults.found[f"usual/{index}/name"] = (
                f"“{name}” stands there already: put its grams into one line."
            )
        elif grams:
            part = _part(row.get("part", BY_NAME), name)
            line = faults.read(f"usual/{index}/name", ingredient, name, grams, part)
            lines.extend([line] if line else [])
    return lines


def _part(counts_as: str, name: str) -> str:
    return {BY_NAME: guess_part(name), ON_ITS_OWN: name}.get(counts_as, counts_as)


def counted_words(lines: Sequence[Ingredient]) -> str:
    """Return what the lines of a recipe count as, in a sentence; nothing where there are none."""
    parts = dict.fromkeys(each.part for each in lines)
    said = [f"{part}: {', '.join(each.name for each in lines if each.part == part)}" for part in parts]
    return f"Counts as {'; '.join(said)}. Say otherwise beside it where that is wrong." if said else ""


def _positive(text: str, what: str, path: str, faults: Faults) -> float | None:
    number = faults.read(path, read_number, text, what, "g")
    if number is not None and number <= 0:
        faults.found[path] = f"{what}: {number:g} g cannot be weighed. Leave the line empty if there is none."
        return None
    return number


def parts_of(lines: Sequence[Ingredient]) -> tuple[tuple[str, ...], dict[str, float], float]:
    """Return the varied parts of a recipe, their shares of the base, and the fraction held constant."""
    if not any(each.part != HELD for each in lines):
        return (), {}, 0.0
    shares = base_shares(lines)
    held = sum(each.grams for each in lines if each.part == HELD) / sum(each.grams for each in lines)
    return tuple(shares), shares, held


def check_question(values: Values) -> dict[str, str]:
    """Return what is wrong with what was typed so far; what is missing is not wrong yet."""
    faults = Faults()
    lines = read_usual(values, faults)
    _, shares, held = parts_of(lines)
    details = _read_details(values, faults)
    bounds = _read_bounds(values, shares, held, faults)
    if len(shares) > 1:
        _check_region(bounds, details["rules"], held, faults)
    return faults.found


def _check_region(
    bounds: Mapping[str, tuple[float, float]], rules: Sequence[str], held: float, faults: Faults
) -> None:
    """Find what in bounds and rules leaves no composition, and mark it, in % of the finished product."""
    if any(place.startswith("bounds/") for place in faults.found):
        return
    product = 100 * (1 - held)
    for end, index, wrong in (("low", 0, "lowest"), ("high", 1, "highest")):
        total = product * sum(ends[index] for ends in bounds.values())
        if (total > product + 0.05) if end == "low" else (total < product - 0.05):
            mend = "lower one of them" if end == "low" else "raise one of them"
            said = f"All {wrong} together are {total:.1f} %, and the base is {product:.1f} %: {mend}."
            faults.found |= {f"bounds/{part}/{end}": said for part in bounds}
            return
    try:
        Region(bounds, rules=list(rules))
    except LabError as error:
        faults.found["details//rules"] = str(error)


def _read_details(values: Values, faults: Faults) -> dict[str, Any]:
    asked, details = only(values, "asked"), only(values, "details")
    ladder = _read_ladder(details.get("ladder", ""), faults)
    wanted = details.get("wanted", "").strip() or ladder[len(ladder) // 2]
    if wanted not in ladder:
        near = did_you_mean(wanted, ladder)
        faults.found["details//wanted"] = f"“{wanted}” is not among your words. {near}"
    step, batch = asked.get("step", "").strip(), details.get("batch", "").strip()
    return {
        "wrong": asked.get("wrong", ""),
        "step_g": faults.read("asked//step", read_step, step) if step else None,
        "ladder": ladder,
        "wanted": wanted,
        "batch_g": _positive(batch, "Finished product a pour", "details//batch", faults) if batch else None,
        "rules": [line.strip() for line in details.get("rules", "").splitlines() if line.strip()],
    }


def _read_ladder(text: str, faults: Faults) -> list[str]:
    between = next((mark for mark in ("\n", ";") if mark in text), ",")
    ladder = [word.strip() for word in text.split(between) if word.strip()] or list(LADDER)
    if len(ladder) < 2 or len({word.casefold() for word in ladder}) < len(ladder):
        faults.found["details//ladder"] = "Two words or more, each once, with commas between them."
    else:
        faults.read("details//ladder", check_ladder, ladder)
    return ladder


def _read_bounds(
    values: Values, shares: Mapping[str, float], held: float, faults: Faults
) -> dict[str, tuple[float, float]]:
    """Return the bounds that were typed; an end that was left empty has its default."""
    bounds = default_bounds(shares)
    for row in values.get("bounds", []):
        low, high = (_read_percent(row, end, held, faults) for end in ("low", "high"))
        if row["_row"] in bounds:
            usual_low, usual_high = bounds[row["_row"]]
            ends = (usual_low if low is None else low, usual_high if high is None else high)
            bounds[row["_row"]] = ends
            if ends[0] > ends[1]:
                faults.found[f"bounds/{row['_row']}/low"] = f"{row['_row']}: the lowest is above the highest."
    return bounds


def _read_percent(row: Mapping[str, str], end: str, held: float, faults: Faults) -> float | None:
    """Return % of the finished product as a share of the base."""
    part, text, varied = row["_row"], row.get(end, "").strip(), 100 * (1 - held)
    if not text:
        return None
    path = f"bounds/{part}/{end}"
    percent: float | None = faults.read(path, read_number, text, f"{part}, {end}", "%")
    if percent is None or not 0 <= percent <= varied + 0.05:
        faults.found.setdefault(path, f"{part}: {text} % cannot be; {varied:.0f} % is all there is to vary.")
        return None
    return min(1.0, round(percent / varied, 4))


def read_question(values: Values) -> tuple[Question, str]:
    """Return the question that was asked and the name given to the trial.

    Raises
    ------
    FormError
        With a message at each place that is missing or wrong.
    """
    faults = Faults()
    lines = read_usual(values, faults)
    parts, shares, held = parts_of(lines)
    for index, row in enumerate(values.get("usual", []), 1):
        if row.get("name", "").strip() and not row.get("grams", "").strip():
            faults.found[f"usual/{index}/grams"] = f"How many grams of {row['name'].strip()}?"
    details = _read_details(values, faults)
    if not details["wrong"]:
        faults.found["asked//wrong"] = "Choose one: it decides the first change."
    if details["step_g"] is None:
        faults.found.setdefault("asked//step", "Type your scale's step, such as 0.1.")
    if len(parts) < 2 and not faults.found:
        faults.found["usual/1/name"] = "At least two lines must be butter, oil, wax or a part of its own."
    bounds = _read_bounds(values, shares, held, faults)
    if len(parts) > 1:
        _check_region(bounds, details["rules"], held, faults)
    faults.stop()
    return make_question(lines, bounds=bounds, **details), only(values, "details").get("name", "").strip()
