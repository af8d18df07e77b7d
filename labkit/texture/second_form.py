"""The form of a second question to the same notes: another word, other bounds, a part left out."""

from collections.abc import Mapping
from typing import Any

from labkit.quantities import read_number
from labkit.texture.record import Question
from labkit.ui.form import Field, Group, Values
from labkit.ui.reading import Faults, faults_of, only

INTRO = "Leave empty what may stay as it is. In % of the finished product."


def second_groups(question: Question) -> list[Group]:
    """Return what is asked: the wanted word, and per part a low, a high, or none of it."""
    wanted = Field(
        "wanted", "Which word?", "choice", choices=question.ladder, big=True, start=question.wanted
    )
    fields = (
        Field("low", "At least", "number", "%"),
        Field("high", "At most", "number", "%"),
        Field("without", "none of it", "tick"),
    )
    return [
        Group("second", (wanted,)),
        Group(
            "wishes",
            fields,
            intro=INTRO,
            rows=question.parts,
            starts=tuple({"_row": part} for part in question.parts),
            row_label="Part",
        ),
    ]


def read_second(values: Values, question: Question) -> dict[str, Any]:
    """Return the arguments of `second.answer` that were asked for.

    Raises
    ------
    FormError
        With a message at each place that is wrong.
    """
    faults, without = Faults(), list[str]()
    low, high = dict[str, float](), dict[str, float]()
    most = 100 * (1 - question.held_fraction)
    for row in values.get("wishes", []):
        part = row["_row"]
        if row.get("without"):
            without.append(part)
        for end, bounds in (("low", low), ("high", high)):
            percent = _percent(row.get(end, ""), f"wishes/{part}/{end}", part, most, faults)
            if percent is not None:
                bounds[part] = percent / 100
        if part in low and part in high and low[part] > high[part]:
            faults.found[f"wishes/{part}/low"] = f"{part}: at least is more than at most."
        if part in without and (part in low or part in high):
            faults.found[f"wishes/{part}/without"] = f"{part}: none of it, or how much? Not both."
    faults.stop()
    wanted = only(values, "second").get("wanted") or question.wanted
    return {"wanted": wanted, "low": low, "high": high, "without": tuple(without)}


def _percent(text: str, path: str, part: str, most: float, faults: Faults) -> float | None:
    if not text.strip():
        return None
    percent: float | None = faults.read(path, read_number, text, part, "%")
    if percent is not None and not 0 <= percent <= most:
        faults.found[path] = f"{part}: {percent:g} % cannot be; {most:.0f} % is all there is to vary."
        return None
    return percent


def check_second(values: Values, question: Question) -> Mapping[str, str]:
    """Return what is wrong with what was typed so far."""
    return faults_of(lambda typed: read_second(typed, question), values)
