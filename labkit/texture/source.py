"""One source of variation, and what is said of it."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

TOLD_WITHIN = 4.0
"""A spread is told once its upper limit is at most so many times the lower (a judgement, no source)."""
MOST_NEEDED = 100
"""More groups than this are not counted out."""
AT_MOST_TIMES = float(np.log(1.25))
SMALL_WORDS, SMALL_TIMES = 0.5, float(np.log(1.1))
"""A spread that is surely below this hardly matters: half a word, a reading of a tenth more."""
FELT_TWICE = 4
"""Pours felt twice whose limits keep within TOLD_WITHIN: √(χ²₉₅/χ²₅) is 3.7 on 4 degrees of freedom."""

_LABELS = {
    "notes": "one pour felt again",
    "pours": "pours of one day",
    "days": "days",
    "testers": "testers",
    "lots": "lots",
    "setting": "set in the cold, or not",
    "melting": "melted again, or not",
}
_SUBJECTS = {
    "notes": "notes on one pour",
    "pours": "pours of one recipe on one day",
    "days": "days",
    "testers": "testers",
    "lots": "lots",
    "setting": "pours set in the cold and on the bench",
    "melting": "pours melted again and those melted once",
}
_COUNTED = {
    "notes": "pour felt again",
    "pours": "pour",
    "days": "day",
    "testers": "tester",
    "lots": "lot",
    "setting": "pour",
    "melting": "pour",
}
_MORE = {
    "notes": "Some {} pours felt twice each would tell.",
    "pours": "Some {} pours of one recipe on one day, felt twice each, would tell.",
    "days": "Some {} days with two pours each would tell.",
    "testers": "Some {} testers who feel the same pours would tell.",
    "lots": "Some {} lots with two pours each would tell.",
    "setting": "Pour your usual both ways on one day, more often.",
    "melting": "Pour your usual both ways on one day, more often.",
}


@dataclass(frozen=True)
class Source:
    """What one source of variation adds.

    Attributes
    ----------
    name : str
        "notes", "pours", "days", "testers", "lots", "setting" or "melting".
    sd : float
        Its standard deviation by itself, in rungs, or on the log scale of readings; of the
        two ways of making, the difference between them. 0 says only that it is small beside
        the others; nan that it cannot be estimated.
    low, high : float
        90 % limits; an upper limit of inf says "not known yet". Never [0, 0].
    groups, rows : int
        How many days (pours, testers …) and how many notes it rests on.
    needed : int
        How many groups would tell it.
    ladder : int or None
        Words on the ladder; None for readings.
    hindrance : (str, str)
        Why it cannot be told however many there are, and what to do; empty where nothing hinders.
    remark : str
    """

    name: str
    sd: float
    low: float
    high: float
    groups: int
    rows: int
    ladder: int | None
    needed: int = 0
    hindrance: tuple[str, str] = ("", "")
    remark: str = ""

    @property
    def label(self) -> str:
        """Its name beside a row of the picture."""
        return _LABELS[self.name]

    @property
    def small(self) -> bool:
        """Whether it surely hardly matters."""
        return not self.hindrance[0] and self.high <= (SMALL_WORDS if self.ladder else SMALL_TIMES)

    @property
    def there(self) -> bool:
        """Whether it is surely more than nothing."""
        return not self.hindrance[0] and self.low > 0.0

    @property
    def told(self) -> bool:
        """Whether its size is known well enough to act upon."""
        return self.small or (self.there and pinned(self.low, self.high))

    @property
    def sentence(self) -> str:
        """What is known of it, from how much, and what would tell more."""
        said = self._said(_SUBJECTS[self.name], counted(self.groups, _COUNTED[self.name]))
        return " ".join(filter(None, [f"{said[:1].upper()}{said[1:]}", self.remark]))

    def _said(self, subject: str, found: str) -> str:
        reach = reach_words(self.low, self.high, self.ladder)
        if self.hindrance[0]:
            known = f", anything from {reach}" if np.isfinite(self.high) else ""
            return f"how much {subject} differ cannot be told yet{known}. {' '.join(self.hindrance)}"
        if self.small:
            return (
                f"{subject} hardly differ: by less than {size_words(self.high, self.ladder)}, from {found}."
            )
        if self.told:
            about = size_words(self.sd, self.ladder)
            return f"{subject} differ by about {about} ({reach}), from {found}."
        if self.there:
            return f"{subject} do differ: by anything from {reach}, as far as {found} can tell. {self._more}"
        return (
            f"how much {subject} differ cannot be told yet from {found}: anything from {reach}. {self._more}"
        )

    @property
    def _more(self) -> str:
        number = f"{self.needed}" if self.needed <= MOST_NEEDED else f"more than {MOST_NEEDED}"
        return _MORE[self.name].format(number)


def pinned(low: float, high: float) -> bool:
    """Return whether limits are so near to one another that the size is known well enough."""
    return high <= TOLD_WITHIN * low


def counted(number: int, thing: str) -> str:
    """Return a count in words.

    >>> counted(1, "day"), counted(4, "pour felt again")
    ('1 day', '4 pours felt again')
    """
    first, _, rest = thing.partition(" ")
    return f"{number} {first}{'' if number == 1 else 's'}{' ' + rest if rest else ''}"


def size_words(size: float, ladder: int | None) -> str:
    """Return a spread as a maker says it: in words of the ladder, or by how much a reading changes.

    >>> size_words(0.52, 5), size_words(1.96, 5), size_words(7.0, 5), size_words(0.1823, None)
    ('half a word', '2 words', 'your whole ladder', '20 %')
    """
    if 0.45 <= size < 0.55 and ladder:
        return "half a word"
    number, unit = _number(size, ladder)
    return " ".join(filter(None, [number, unit.removesuffix("s") if number == "1" else unit]))


def reach_words(low: float, high: float, ladder: int | None) -> str:
    """Return a range as a maker says it.

    >>> reach_words(0.4, 0.93, 5), reach_words(0.4, np.inf, 5), reach_words(0.0, 0.0953, None)
    ('0.4 to 0.9 words', '0.4 words to your whole ladder', '0 to 10 %')
    """
    (least, unit), (most, most_unit) = _number(low, ladder), _number(high, ladder)
    if unit == most_unit or least == "0":
        return f"{least} to {size_words(high, ladder) if most == '1' else f'{most} {most_unit}'.strip()}"
    return f"{size_words(low, ladder)} to {f'{most} {most_unit}'.strip()}"


def _number(size: float, ladder: int | None) -> tuple[str, str]:
    """Return the number and its unit; what is beyond all bounds is said in words, without a unit."""
    if ladder is not None:
        if size > ladder - 1:
            return "your whole ladder", ""
        return f"{size:.1f}".removesuffix(".0"), "words"
    times = float(np.exp(min(size, 10.0)))
    if times < 2.0:
        return f"{100.0 * (times - 1.0):.0f}", "%"
    return (f"{times:.1f}".removesuffix(".0"), "times") if times < 100.0 else ("anything", "")


def headline(sources: Sequence[Source], repeats_used: bool) -> str:
    """Return the message of all sources in a sentence: pours of one recipe, days, and the largest other."""
    by_name = {each.name: each for each in sources}
    notes, pours, days = by_name["notes"], by_name["pours"], by_name["days"]
    if not repeats_used:
        cure = "Pour your usual again, on two days: only repeats show how much your pours differ"
        return f"{_clause(notes, 'Notes on one pour differ')}. {cure}." if notes.told else f"{cure}."
    others = sorted((each for each in sources[3:] if each.there), key=lambda each: -each.sd)
    said = [_clause(pours, "Pours of one recipe differ"), _clause(days, "days differ")]
    said += [_clause(each, f"{_SUBJECTS[each.name]} differ") for each in others[:1]]
    told = "; ".join(said)
    return f"{told[:1].upper()}{told[1:]}."


def _clause(source: Source, lead: str) -> str:
    """Return what is known of a source in few words, after "… differ"."""
    if source.there and not source.small:
        if source.told:
            return f"{lead} by about {size_words(source.sd, source.ladder)}"
        return f"{lead} by {reach_words(source.low, source.high, source.ladder)}"
    subject = lead.removesuffix(" differ")
    if source.small:
        return f"{subject} hardly differ"
    if source.high <= (1.0 if source.ladder else AT_MOST_TIMES) and not source.hindrance[0]:
        return f"{lead} by at most {size_words(source.high, source.ladder)}"
    if source.name == "days" and source.groups:
        return f"days cannot be told from {source.groups} yet"
    return f"how far {lead[:1].lower()}{lead[1:]} cannot be told yet"
