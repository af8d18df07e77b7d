"""The form of a question: the three that must be answered, and what has a default."""

from collections.abc import Mapping, Sequence
from typing import Any

from labkit.errors import did_you_mean
from labkit.quantities import read_number, read_step
from labkit.texture.record import COMPLAINTS, HELD, LADDER, Ingredient, Question
from labkit.texture.usual import base_shares, default_bounds, guess_part, make_question
from labkit.ui.form import Field, Group, Values
from labkit.ui.reading import Faults, only

BY_NAME = "guess from its name"
ON_ITS_OWN = "a part of its own"
COUNTS_AS = (BY_NAME, "butter", "oil", "wax", HELD, ON_ITS_OWN)
COMMON_NAMES = (
    "shea butter", "cocoa butter", "mango butter", "castor oil", "jojoba oil", "sunflower oil", "beeswax",
    "candelilla wax", "carnauba wax", "magnesium stearate", "pigment",
)  # fmt: skip


def question_groups(parts: Sequence[str] = (), shares: Mapping[str, float] | None = None, held: float = 0.0,
                    saved: Question | None = None, name: str = "") -> list[Group]:  # fmt: skip
    """Return the three questions, and all that has a default under "more"."""
    usual = Group(
        "usual",
        (
            Field("name", "Ingredient", choices=COMMON_NAMES),
            Field("grams", "Grams", "number"),
            Field("part", "Counts as", "choice", choices=COUNTS_AS, start=BY_NAME),
        ),
        title="1. What is your usual recipe?",
        intro="In grams, as you weigh it. Butters, oils and waxes are varied; the rest is held constant.",
        rows="grow",
        starts=_usual_starts(saved),
        grow_label="Another ingredient",
    )
    asked = Group(
        "asked",
        (
            Field("wrong", "2. What is wrong with it?", "choice", choices=COMPLAINTS, big=True,
                  start=saved.complaint if saved else ""),
            Field("step", "3. Your scale's step", "number", "g", start=f"{saved.step_g:g}" if saved else "0.1",
                  hint="The smallest change that it shows: 1, 0.1 or 0.01."),
        ),
    )  # fmt: skip
    return [usual, asked, _details_group(saved, name), *_bounds_groups(parts, shares or {}, held, saved)]


def _usual_starts(saved: Question | None) -> tuple[Mapping[str, str], ...]:
    if saved is None:
        return ({}, {}, {}, {})
    return tuple(
        {"name": each.name, "grams": f"{each.grams:g}", "part": each.part if each.part in COUNTS_AS else ON_ITS_OWN}
        for each in saved.usual
    )


def _details_group(saved: Question | None, name: str) -> Group:
    ladder = saved.ladder if saved else LADDER
    fields = (
        *(() if saved else (Field("name", "Name of this trial", start=name, placeholder="made from your answers"),)),
        Field("ladder", "Your hardness words", start=", ".join(ladder), hint="From soft to hard, with commas."),
        Field("wanted", "The word you want", start=saved.wanted if saved else "", placeholder="the middle one"),
        Field("batch", "Finished product a pour", "number", "g", start=f"{saved.batch_g:g}" if saved else "",
              placeholder="as the recipe", hint="Enough for several pieces: a spot that was felt is spoiled."),
        Field("rules", "Side rules", "long", start="\n".join(saved.rules) if saved else "",
              hint="One a line, such as: wax <= 0.5*butter"),
    )  # fmt: skip
    return Group("details", fields, more=True)


def _bounds_groups(
    parts: Sequence[str], shares: Mapping[str, float], held: float, saved: Question | None
) -> list[Group]:
    if not parts:
        return []
    usual, product = default_bounds(shares), 100 * (1 - held)
    fields = (Field("low", "Lowest", "number", "%"), Field("high", "Highest", "number", "%"))

    def start(part: str) -> dict[str, str]:
        low, high = usual[part]
        if saved and part in saved.low:
            low, high = saved.low[part], saved.high[part]
        return {"_row": part, "low": f"{product * low:.1f}", "high": f"{product * high:.1f}"}

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
        grams = _positive(grams_text, name or f"line {index}", f"usual/{index}/grams", faults) if grams_text else None
        if not name:
            faults.found[f"usual/{index}/name"] = "Which ingredient is this?"
        elif name in [each.name for each in lines]:
            faults.found[f"usual/{index}/name"] = f"“{name}” stands there already: put its grams into one line."
        elif grams:
            lines.append(Ingredient(name=name, grams=grams, part=_part(row.get("part", BY_NAME), name)))
    return lines


def _part(counts_as: str, name: str) -> str:
    return {BY_NAME: guess_part(name), ON_ITS_OWN: name}.get(counts_as, counts_as)


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
    _, _, held = parts_of(lines)
    _read_details(values, faults)
    _read_bounds(values, held, faults)
    return faults.found


def _read_details(values: Values, faults: Faults) -> dict[str, Any]:
    asked, details = only(values, "asked"), only(values, "details")
    ladder = [word.strip() for word in details.get("ladder", "").replace("\n", ",").split(",") if word.strip()]
    ladder = ladder or list(LADDER)
    wanted = details.get("wanted", "").strip() or ladder[len(ladder) // 2]
    if len(ladder) < 2 or len(set(ladder)) < len(ladder):
        faults.found["details//ladder"] = "Two words or more, each once, with commas between them."
    elif wanted not in ladder:
        faults.found["details//wanted"] = f"“{wanted}” is not among your words. {did_you_mean(wanted, ladder)}"
    batch = details.get("batch", "").strip()
    return {
        "wrong": asked.get("wrong", ""),
        "step_g": faults.read("asked//step", read_step, asked["step"]) if asked.get("step", "").strip() else None,
        "ladder": ladder,
        "wanted": wanted,
        "batch_g": _positive(batch, "Finished product a pour", "details//batch", faults) if batch else None,
        "rules": [line.strip() for line in details.get("rules", "").splitlines() if line.strip()],
    }


def _read_bounds(values: Values, held: float, faults: Faults) -> dict[str, tuple[float, float]]:
    bounds = {}
    for row in values.get("bounds", []):
        part, ends = row["_row"], []
        for end in ("low", "high"):
            path = f"bounds/{part}/{end}"
            percent = faults.read(path, read_number, row[end], f"{part}, {end}", "%") if row.get(end, "").strip() else None
            if percent is not None and not 0 <= percent <= 100 * (1 - held) + 0.05:
                faults.found[path] = f"{part}: {percent:g} % cannot be; {100 * (1 - held):.0f} % is all there is to vary."
            ends.append(percent)
        if None not in ends:
            bounds[part] = tuple(min(1.0, round(each / 100 / (1 - held), 4)) for each in ends)
    return bounds


def read_question(values: Values) -> tuple[Question, str]:
    """Return the question that was asked and the name given to the trial.

    Raises
    ------
    FormFault
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
    bounds = {part: each for part, each in _read_bounds(values, held, faults).items() if part in shares}
    faults.stop()
    return make_question(lines, bounds=bounds, **details), only(values, "details").get("name", "").strip()
