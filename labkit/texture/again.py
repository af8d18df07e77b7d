"""Looking again as sticks age: when it is due, which defects were seen, and what goes with them."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any, Protocol
from uuid import NAMESPACE_OID, uuid5

import pandas as pd

from labkit.texture.record import DEFECTS
from labkit.times import zoned

# Common practice, no source: when to look, and the days within which a look counts as that one.
DATES = (("day 2", 2, (1, 5)), ("week 1", 7, (5, 14)), ("week 4", 28, (21, 84)))
TURNED_AT, TURNED_UNTIL = 14, 60
"""Days between which a warm and a cold turn are worth a look (common practice, no source)."""
TURNS = ("warm", "cold")
LEVEL = 0.9
_CHANCE = 0.05
_MOST_KINDS = 4  # of a process that is told in words; more are no groups


class Looked(Protocol):
    """A look at a pour: a `Look` of the book, or a row like it."""

    @property
    def looked_at(self) -> datetime:
        """When, with its zone."""

    @property
    def after(self) -> str:
        """Nothing, or after which turn."""

    @property
    def defects(self) -> tuple[str, ...]:
        """What was seen, of `DEFECTS`."""

    @property
    def pour(self) -> str:
        """The pour's label."""


# ---- when to look ----------------------------------------------------------------


@dataclass(frozen=True)
class Due:
    """A look that is due: what it is for, when, whether that day has gone by, and at which pour."""

    what: str
    when: datetime
    overdue: bool
    pour: str = ""


def due(poured_at: datetime, looks: Iterable[Looked], now: datetime, pour: str = "") -> list[Due]:
    """Return the looks at one pour that are still to come or to catch up on, the first one first.

    Day 2, week 1, week 4, and after a warm and a cold turn. A look without a turn counts for
    the date within whose days it lies: a piece that was warmed no longer shows what standing
    does. A date whose days have gone by is not asked for any more.

    Parameters
    ----------
    poured_at : datetime
        With its zone, which the dates keep.
    looks : iterable of Looked
        At this pour.
    now : datetime
    pour : str
        Its label, for the reminder.

    Raises
    ------
    LabError
        A time without its zone.

    Examples
    --------
    >>> poured = datetime(2026, 3, 5, 19, tzinfo=UTC)
    >>> [(each.what, each.when.day, each.overdue) for each in due(poured, [], poured + timedelta(days=9))]
    [('week 1', 12, True), ('after a warm and a cold turn', 19, False), ('week 4', 2, False)]
    """
    poured_at, now = zoned(poured_at), zoned(now)
    seen = [each for each in looks if zoned(each.looked_at) >= poured_at]
    plain = [(each.looked_at - poured_at) / timedelta(days=1) for each in seen if not each.after]
    age = (now - poured_at) / timedelta(days=1)
    wanted = [
        (what, day)
        for what, day, (first, last) in DATES
        if age < last and not any(first <= at < last for at in plain)
    ]
    missing = [turn for turn in TURNS if not any(turn in each.after for each in seen)]
    if missing and age < TURNED_UNTIL:
        wanted.append((f"after a {' and a '.join(missing)} turn", TURNED_AT))
    dates = [(what, poured_at + timedelta(days=day)) for what, day in wanted]
    found = [Due(what, when, now.astimezone(when.tzinfo).date() > when.date(), pour) for what, when in dates]
    return sorted(found, key=lambda each: each.when)


def due_words(dues: Sequence[Due], now: datetime) -> list[str]:
    """Return what to look at today or has been waiting for it, one sentence a pour.

    Examples
    --------
    >>> poured = datetime(2026, 3, 5, 19, tzinfo=UTC)
    >>> later = poured + timedelta(days=8)
    >>> due_words(due(poured, [], later, "3"), later)
    ['Look at pour 3 again: week 1 (since Thursday 12 March).']
    """
    ready = [each for each in dues if each.when.date() <= now.astimezone(each.when.tzinfo).date()]
    by_pour: dict[str, list[str]] = {}
    for each in ready:
        when = f"since {each.when:%A} {each.when.day} {each.when:%B}" if each.overdue else "today"
        by_pour.setdefault(each.pour, []).append(f"{each.what} ({when})")
    return [f"Look at pour {pour} again: {', '.join(what)}." for pour, what in by_pour.items()]


# ---- what was seen ---------------------------------------------------------------


def looks_table(looks: Iterable[Looked], poured_at: Mapping[str, datetime]) -> pd.DataFrame:
    """Return the looks as a table, one row each, sorted by pour and day.

    Parameters
    ----------
    looks : iterable of Looked
    poured_at : mapping of pour label to datetime
        Looks at other pours, or before their pour, are left aside.

    Returns
    -------
    DataFrame
        "pour"; "day" since the pour; "after"; each defect, whether it was seen.
    """
    rows = []
    for each in looks:
        if each.pour in poured_at and each.looked_at >= poured_at[each.pour]:
            day = (each.looked_at - poured_at[each.pour]) / timedelta(days=1)
            seen = {defect: defect in each.defects for defect in DEFECTS}
            rows.append({"pour": each.pour, "day": day, "after": each.after, **seen})
    table = pd.DataFrame(rows, columns=["pour", "day", "after", *DEFECTS])
    order = {pour: at for at, pour in enumerate(poured_at)}
    return table.sort_values(
        ["pour", "day"], key=lambda c: c.map(order) if c.name == "pour" else c
    ).reset_index(drop=True)


def tick_list(table: pd.DataFrame) -> pd.DataFrame:
    """Return for each pour that was looked at when each defect was first seen.

    Parameters
    ----------
    table : DataFrame
        As `looks_table`.

    Returns
    -------
    DataFrame, index the pours
        "looks", "last day", and a text for each defect: "" where it was not seen, else such
        as "day 7" or "day 30, after a warm turn".
    """
    rows = {}
    for pour, looks in table.groupby("pour", sort=False):
        first = {defect: _first_seen(looks[looks[defect].astype(bool)]) for defect in DEFECTS}
        rows[pour] = {"looks": len(looks), "last day": int(looks["day"].max()), **first}
    found = pd.DataFrame.from_dict(rows, orient="index", columns=["looks", "last day", *DEFECTS])
    return found.rename_axis("pour")


def _first_seen(seen: pd.DataFrame) -> str:
    if seen.empty:
        return ""
    row = seen.iloc[0]
    day = f"day {row['day']:.0f}"
    return f"{day}, after {row['after']}" if row["after"] else day


# ---- what goes with it -----------------------------------------------------------


def share_limits(count: int, of: int) -> tuple[float, float]:
    """Return the exact 90 % limits of a share from a count (Clopper and Pearson 1934).

    Examples
    --------
    >>> [round(each, 3) for each in share_limits(0, 10)]
    [0.0, 0.259]
    """
    from scipy.stats import binomtest

    found = binomtest(count, of).proportion_ci(LEVEL, "exact")
    return float(found.low), float(found.high)


@dataclass(frozen=True)
class Contrast:
    """How often a defect was seen in two groups of pours: (seen, looked at), and how chance would do it."""

    one: str
    other: str
    seen_one: tuple[int, int]
    seen_other: tuple[int, int]
    chance: float
    """Two-sided p of Fisher's exact test."""


def contrasts(seen: "pd.Series[bool]", pours: pd.DataFrame) -> list[Contrast]:
    """Return how often a defect was seen, by each thing in which the pours differ.

    Numbers are split at their median; words make groups, each against the rest.

    Parameters
    ----------
    seen : Series of bool, index the pours
    pours : DataFrame, the same index
        What may go with it: "butter %", "reheats", "set_where", …
    """
    pours = pours.loc[seen.index]
    found = []
    for name in pours.columns:
        column = pours[name].replace("", pd.NA).dropna()
        if column.nunique() < 2:
            continue
        for one, other, group in _groups(str(name), column):
            found.append(_contrast(one, other, group, seen.loc[column.index].astype(bool)))
    return found


_CALLED = {"reheats": "reheats", "hottest_c": "heat", "pour_c": "heat at the pour", "set_where": "set"}


def _groups(name: str, column: "pd.Series[Any]") -> list[tuple[str, str, "pd.Series[bool]"]]:
    called = _CALLED.get(name, name.removesuffix(" %"))
    if pd.api.types.is_numeric_dtype(column.infer_objects()):
        middle = column.median()
        group = column > middle if (column > middle).any() else column >= middle
        return [(f"with more {called}", "with less", group)]
    kinds = list(dict.fromkeys(column))
    if len(kinds) > _MOST_KINDS:
        return []
    if len(kinds) == 2:
        kinds = kinds[:1]
    return [(f"{called} {kind}", "otherwise", column == kind) for kind in kinds]


def _contrast(one: str, other: str, group: "pd.Series[bool]", seen: "pd.Series[bool]") -> Contrast:
    from scipy.stats import fisher_exact

    counts = [(int(seen[part].sum()), int(part.sum())) for part in (group, ~group)]
    chance = fisher_exact([[k, n - k] for k, n in counts]).pvalue
    return Contrast(one, other, counts[0], counts[1], float(chance))


def defect_words(table: pd.DataFrame, pours: pd.DataFrame) -> list[str]:
    """Return which defects were seen how often, and what goes with each, without claiming a cause.

    Of all things in which the pours differ, how old they were at the last look among them, the
    one is told that splits them most; as many as were compared, so many times likelier chance
    is to show as much (Bonferroni).

    Parameters
    ----------
    table : DataFrame
        As `looks_table`.
    pours : DataFrame, index the pours' labels
        What may go with it, as for `contrasts`; of a label that stands there twice the last row.

    Examples
    --------
    >>> looks = {"pour": ["1", "2"], "day": [7.0, 7.0], "after": "", **dict.fromkeys(DEFECTS, False)}
    >>> defect_words(pd.DataFrame(looks), pd.DataFrame({"butter %": [30.0, 40.0]}, index=["1", "2"]))
    ['Looked at 2 pours; not seen on any: grainy, sweating, bloom, bent, cracked or off smell. Each may \
still be on as many as 78 % of such pours.']
    """
    ever = table.groupby("pour", sort=False)[list(DEFECTS)].any()
    ever = ever.loc[[pour for pour in ever.index if pour in pours.index]]
    if ever.empty:
        return []
    age = table.groupby("pour", sort=False)["day"].max().round()
    pours = pours[~pours.index.duplicated(keep="last")].loc[ever.index].assign(age=age[ever.index])
    had = [defect for defect in DEFECTS if ever[defect].any()]
    never = [defect for defect in DEFECTS if defect not in had]
    found = {defect: contrasts(ever[defect], pours) for defect in had}
    compared = sum(map(len, found.values()))
    said = [_one_defect(defect, ever[defect], found[defect], compared) for defect in had]
    return [*said, *([_none_seen(never, len(ever))] if never else [])]


def _one_defect(defect: str, seen: "pd.Series[bool]", found: Sequence[Contrast], compared: int) -> str:
    begin = f"{defect.capitalize()}: {_count(int(seen.sum()), len(seen), ' pours')}"
    if not found:
        return f"{begin}."
    most = min(found, key=lambda each: each.chance)
    split = f"{_count(*most.seen_one)} {most.one}, {_count(*most.seen_other)} {most.other}"
    return f"{begin}; {split}. {_verdict(most.chance * compared, compared)}"


def _count(count: int, of: int, what: str = "") -> str:
    low, high = share_limits(count, of)
    return f"{count} of {of}{what} ({100 * low:.0f} to {100 * high:.0f} %)"


def _verdict(chance: float, compared: int) -> str:
    things = "One thing was" if compared == 1 else f"{compared} things were"
    if chance < _CHANCE:
        return f"{things} compared, and chance hardly does that: pour one recipe both ways to know."
    return f"{things} compared, and chance alone can do that: too few pours to tell."


def _none_seen(defects: Sequence[str], pours: int) -> str:
    named = " or ".join([", ".join(defects[:-1]), defects[-1]] if len(defects) > 1 else defects)
    most = 100 * share_limits(0, pours)[1]
    looked = "1 pour" if pours == 1 else f"{pours} pours"
    return (
        f"Looked at {looked}; not seen on any: {named}. {'It' if len(defects) == 1 else 'Each'} may still be "
        f"on as many as {most:.0f} % of such pours."
    )


# ---- for the calendar of a phone -------------------------------------------------


def calendar(dues: Sequence[Due], stamp: datetime) -> str:
    """Return the looks as an iCalendar text of whole days (RFC 5545, sections 3.1, 3.3.11 and 3.6.1).

    Parameters
    ----------
    dues : sequence of Due
    stamp : datetime
        When the text is made, with its zone.

    Raises
    ------
    LabError
        A stamp without its zone.
    """
    made = zoned(stamp).astimezone(UTC)
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//labkit//look again//EN"]
    for each in dues:
        about = f"Look at pour {each.pour} again: {each.what}".replace("pour  again", "the pour again")
        lines += [
            "BEGIN:VEVENT",
            f"UID:{uuid5(NAMESPACE_OID, f'{each.pour} {each.what} {each.when.isoformat()}')}",
            f"DTSTAMP:{made:%Y%m%dT%H%M%SZ}",
            f"DTSTART;VALUE=DATE:{each.when:%Y%m%d}",
            f"SUMMARY:{_escaped(about)}",
            "END:VEVENT",
        ]
    return "".join(f"{_folded(line)}\r\n" for line in [*lines, "END:VCALENDAR"])


def _escaped(text: str) -> str:
    for sign in ("\\", ";", ","):
        text = text.replace(sign, f"\\{sign}")
    return text.replace("\r\n", "\n").replace("\r", "\n").replace("\n", "\\n")


def _folded(line: str) -> str:
    """Return a line in pieces of at most 75 octets, no letter cut apart, each later one after a space."""
    pieces = [""]
    for letter in line:
        if len((pieces[-1] + letter).encode()) > 75:
            pieces.append(" ")
        pieces[-1] += letter
    return "\r\n".join(pieces)
