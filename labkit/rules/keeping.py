"""Until when a stick should be used up: from how long its oils and butters keep."""

import calendar
from collections.abc import Mapping
from datetime import date
from typing import TYPE_CHECKING, NamedTuple

from labkit.errors import LabError, did_you_mean
from labkit.rules.lines import Line, Named, read_lines

if TYPE_CHECKING:
    from labkit.materials.own_values import Own

_FATS = ("oil", "butter", "ester")


class Discard(NamedTuple):
    """When to throw it away: the date (None where nothing tells), what decides it, and how sure that is."""

    by: date | None
    decided_by: str
    why: str
    not_known: tuple[str, ...]


def months_after(start: date, months: int) -> date:
    """Return the day so many months later, or the last one of that month.

    >>> months_after(date(2026, 8, 31), 6)
    datetime.date(2027, 2, 28)
    """
    year, month = divmod(start.year * 12 + start.month - 1 + months, 12)
    return date(year, month + 1, min(start.day, calendar.monthrange(year, month + 1)[1]))


def discard_by(
    recipe: Named, made: date, best_before: Mapping[str, date] | None = None, own: "Own" = None
) -> Discard:
    """Return the day by which to throw a stick away: when its first fat may turn rancid.

    The lot's best-before date where it is given, else the making day and the shortest time that the fat keeps
    (`keeps_months` of the maker's own values, else common practice, no source), which counts it as fresh on
    that day. Antioxidants are not counted, nor warmth and light. It is no stability test.

    Parameters
    ----------
    recipe
        Anything with `.name` and `.percent()`.
    made : datetime.date
    best_before : mapping of str to date, optional
        Of the lots in it, by the name in the recipe.

    Raises
    ------
    LabError
        For a best-before date of something that is not in the recipe, or that lay before the making.

    Examples
    --------
    >>> from labkit.rules.lines import Plain
    >>> balm = Plain("balm", {"grapeseed oil": 60, "beeswax": 40})
    >>> discard_by(balm, date(2026, 11, 27))[:2]
    (datetime.date(2027, 5, 27), 'grapeseed oil')
    """
    lines, dated = read_lines(recipe, own), dict(best_before or {})
    _check(dated, lines, made)
    fats = [each for each in lines if each.material.group in _FATS]
    ends = [found for each in lines if (found := _end(each, made, dated))]
    dateless = tuple(each.material.name for each in fats if _end(each, made, dated) is None)
    if not ends:
        return Discard(None, "", "Nothing is recorded of how long its fats keep.", dateless)
    first = min(ends)
    why = (
        f"{first.name}: {first.why}. An estimate, no stability test: smell it, and throw it away sooner "
        "if it smells of old fat or crayon."
    )
    return Discard(first.day, first.name, why, dateless)


class _End(NamedTuple):
    day: date
    name: str
    why: str


def _end(line: Line, made: date, dated: Mapping[str, date]) -> _End | None:
    material = line.material
    if lots := [day for name, day in dated.items() if _is(name, line)]:
        return _End(min(lots), material.name, "its lot's best-before date")
    keeps = material.values.get("keeps_months")
    if keeps is None or material.group not in _FATS:
        return None
    why = f"it keeps about {keeps} months, if it was fresh when it was poured ({keeps.source})"
    return _End(months_after(made, int(keeps.low)), material.name, why)


def _check(dated: Mapping[str, date], lines: list[Line], made: date) -> None:
    known = [each.typed for each in lines]
    for name, day in dated.items():
        if not any(_is(name, each) for each in lines):
            raise LabError(f"best before of “{name}”: it is not in this recipe. {did_you_mean(name, known)}")
        if day < made:
            raise LabError(
                f"{name}: best before {day}, and it went into a pot on {made}. Look at both again."
            )


def _is(name: str, line: Line) -> bool:
    return name in (line.typed, line.material.name)
