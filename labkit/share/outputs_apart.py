"""The results of two runs of a notebook, compared cell by cell: which numbers differ, and by how much."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from html import unescape
from typing import Any

import numpy as np

from labkit.share.notebook import VIEW, Json, code_cells, joined
from labkit.share.personal import LEFT_OUT

_MONTH = r"(?:Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sep|Oct|Nov|Dec)[a-z]*"
_DAY = r"(?:Mon|Tue|Wed|Thu|Fri|Sat|Sun)[a-z]*"
_PASSING = re.compile(
    "|".join(
        (
            r"[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}",
            r"0x[0-9a-fA-F]{6,}",
            r"<Figure size [\d.]+x[\d.]+ with \d+ Axes>",
            r"(?<!\S)\S*ipykernel_\d+\S*",
            r"\d{4}-\d\d-\d\d(?:[T ]\d\d:\d\d(?::\d\d(?:\.\d+)?)?)?(?:Z|[+-]\d\d:?\d\d)?",
            rf"(?:{_DAY},? )?\d{{1,2}} {_MONTH}(?: \d{{4}})?(?:,? \d\d:\d\d(?::\d\d)?)?",
            rf"\b{_DAY}\b",
            r"\b\d\d:\d\d(?::\d\d)?\b",
        )
    )
)
"""What is another at each run, and no result: ids, addresses, days and times."""
_NUMBER = re.compile(r"(?<![\w.])[-−+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?|(?<![\w.])[-+]?(?:nan|inf)\b")
_TAG = re.compile(r"<[^<>]*>")


@dataclass(frozen=True)
class Apart:
    """One thing that differs between the stored results and those of now.

    Attributes
    ----------
    notebook : str
    cell : int
        Counted over all cells from 1.
    where : str
        The words before a number; for words, how the stored ones begin.
    stored, now : str
    difference : float
        Of a number: now less stored; nan for words.
    rounding : bool
        Whether a number differs by no more than one in the last digit that was stored.
    """

    notebook: str
    cell: int
    where: str
    stored: str
    now: str
    difference: float
    rounding: bool

    def __str__(self) -> str:
        where = f"Notebook “{self.notebook}”, cell {self.cell}"
        if np.isnan(self.difference):
            return f"{where}: it says “{self.now}” now, where “{self.stored}” is stored."
        apart = f"{self.stored} is stored, {self.now} comes out now ({self.difference:+g})"
        return f"{where}, at “{self.where}”: {apart}."


def results_apart(name: str, stored: Json, now: Json) -> tuple[list[Apart], int]:
    """Return what differs between two runs of a notebook, and how many numbers came out again.

    Compared are words and numbers; panels, pictures and warnings are not. Days, times and ids may be
    others at each run.
    """
    found: list[Apart] = []
    same = 0
    later = dict(code_cells(now))
    for number, cell in code_cells(stored):
        before, after = _text(cell), _text(later.get(number, {}))
        if not before and not _failed(later.get(number, {})):
            continue
        differing, agreed = _cell_apart(name, number, before, after)
        found += differing
        same += agreed
    return found, same


def _cell_apart(name: str, number: int, before: str, after: str) -> tuple[list[Apart], int]:
    old, new = _NUMBER.findall(before), _NUMBER.findall(after)
    if _words(before) != _words(after) or len(old) != len(new):
        if LEFT_OUT in before and not old:
            return [], 0
        return [_words_apart(name, number, before, after)], 0
    places = [before[max(0, match.start() - 40) : match.start()] for match in _NUMBER.finditer(before)]
    found = [
        _number_apart(name, number, place, one, other)
        for place, one, other in zip(places, old, new, strict=True)
        if one != other and _value(one) != _value(other)
    ]
    return found, len(old) - len(found)


def _number_apart(name: str, number: int, place: str, stored: str, now: str) -> Apart:
    gap = _value(now) - _value(stored)
    near = bool(abs(gap) <= 1.01 * _last_digit(stored))
    return Apart(
        name, number, " ".join(place.split())[-30:], stored, now, float(np.nan_to_num(gap, nan=np.inf)), near
    )


def _words_apart(name: str, number: int, before: str, after: str) -> Apart:
    old, new = before.split(), after.split()
    at = next(
        (i for i, pair in enumerate(zip(old, new, strict=False)) if pair[0] != pair[1]),
        min(len(old), len(new)),
    )
    shown = [" ".join(each[at : at + 8])[:80] or "nothing" for each in (old, new)]
    return Apart(name, number, " ".join(old[:4])[:40], shown[0], shown[1], np.nan, False)


def _value(text: str) -> float:
    return float(text.replace("−", "-"))


def _last_digit(text: str) -> float:
    """Return what one in the last digit of a printed number is worth.

    >>> _last_digit("0.61"), _last_digit("12"), _last_digit("1.5e-03")
    (0.01, 1.0, 0.0001)
    """
    digits, _, power = text.replace("−", "-").lower().partition("e")
    decimals = len(digits.partition(".")[2])
    return float(f"1e{int(power or 0) - decimals}")


def _words(text: str) -> str:
    return " ".join(_NUMBER.sub("#", text).split())


def _failed(cell: Json) -> bool:
    return any(each.get("output_type") == "error" for each in _outputs(cell))


def _text(cell: Json) -> str:
    """Return the words and numbers of a cell's results, without what is another at each run."""
    return _PASSING.sub("·", "\n".join(_texts(cell)))


def _texts(cell: Json) -> Iterator[str]:
    for output in _outputs(cell):
        sort, data = output.get("output_type"), output.get("data", {})
        if sort == "stream" and output.get("name") != "stderr":
            yield joined(output.get("text", ""))
        elif sort == "error":
            yield f"{output.get('ename')}: {output.get('evalue')}"
        elif isinstance(data, dict) and VIEW not in data:
            yield _shown(data)


def _shown(data: dict[str, Any]) -> str:
    if "text/html" in data:
        bare = _without("style", _without("script", joined(data["text/html"])))
        return unescape(_TAG.sub(" ", bare))
    text = joined(data.get("text/plain", ""))
    return "" if any(kind.startswith("image/") for kind in data) else text


def _without(tag: str, markup: str) -> str:
    """Return markup without what stands inside a tag."""
    kept: list[str] = []
    place = 0
    while (start := markup.find(f"<{tag}", place)) >= 0 and (end := markup.find(f"</{tag}>", start)) >= 0:
        kept.append(markup[place:start])
        place = end
    return "".join(kept) + markup[place:]


def _outputs(cell: Json) -> list[Json]:
    return [each for each in cell.get("outputs", []) if isinstance(each, dict)]
