"""Looking again: when it is due, what was seen when, and what may be said of it; the calendar by its RFC."""

import re
from datetime import UTC, date, datetime, timedelta, timezone

import pandas as pd
import pytest

from labkit.errors import LabError
from labkit.texture.again import (
    DATES,
    calendar,
    contrasts,
    defect_words,
    due,
    due_words,
    looks_table,
    share_limits,
    tick_list,
)
from labkit.texture.record import DEFECTS, Look

HERE = timezone(timedelta(hours=1))
POURED = datetime(2026, 3, 5, 19, 20, tzinfo=HERE)


def look(day, after="", defects=(), pour="1", poured=POURED):
    return Look(pour=pour, looked_at=poured + timedelta(days=day), after=after, defects=defects)


def asked(looks, day):
    return [each.what for each in due(POURED, looks, POURED + timedelta(days=day))]


# ---- when to look ----------------------------------------------------------------

WARM, COLD, BOTH = "a warm turn", "a cold turn", "a warm and a cold turn"
TURN = f"after {BOTH}"


@pytest.mark.parametrize(
    ("looks", "day", "left"),
    {
        "nothing yet": ([], 0, ["day 2", "week 1", TURN, "week 4"]),
        "looked on day 2": ([look(2)], 3, ["week 1", TURN, "week 4"]),
        "a day early counts": ([look(1)], 3, ["week 1", TURN, "week 4"]),
        "on the same day it does not": ([look(0.4)], 1, ["day 2", "week 1", TURN, "week 4"]),
        "a date gone by is not asked for": ([], 8, ["week 1", TURN, "week 4"]),
        "late in the week counts": ([look(10)], 11, [TURN, "week 4"]),
        "a warmed piece is none": ([look(7, WARM)], 8, ["week 1", "after a cold turn", "week 4"]),
        "both turns at once": ([look(7, BOTH)], 8, ["week 1", "week 4"]),
        "one turn after the other": ([look(3, COLD), look(9, WARM)], 9, ["week 1", "week 4"]),
        "before the pour": ([look(-1), look(-2, BOTH)], 3, ["day 2", "week 1", TURN, "week 4"]),
        "all done": ([look(2), look(7), look(28), look(9, BOTH)], 40, []),
        "months later": ([], 300, []),
    }.values(),
)  # fmt: skip
def test_what_is_due(looks, day, left):
    assert asked(looks, day) == left


def test_a_look_is_overdue_from_the_next_day_on():
    """The day counts, in the pour's zone: at 19:20 or an hour later is the same day."""
    evening = POURED + timedelta(days=2, hours=4)
    assert [each.overdue for each in due(POURED, [], evening)] == [False] * 4
    assert [each.overdue for each in due(POURED, [], evening + timedelta(hours=1))] == [
        True,
        False,
        False,
        False,
    ]


def test_every_look_at_its_own_day_is_counted():
    looks = [look(day) for _, day, _ in DATES]
    assert asked(looks, 59) == [TURN]


def test_the_reminder_names_pour_and_day():
    now = POURED + timedelta(days=7)
    dues = [*due(POURED, [look(2)], now, "3"), *due(POURED - timedelta(days=30), [look(-23)], now, "1")]
    assert due_words(dues, now) == [
        "Look at pour 3 again: week 1 (today).",
        "Look at pour 1 again: after a warm and a cold turn (since Tuesday 17 February), "
        "week 4 (since Tuesday 3 March).",
    ]


def test_a_time_without_its_zone_is_refused():
    with pytest.raises(LabError, match="zone"):
        due(POURED.replace(tzinfo=None), [], POURED)
    with pytest.raises(LabError, match="zone"):
        calendar([], POURED.replace(tzinfo=None))


# ---- what was seen ---------------------------------------------------------------

POURED_AT = {str(at): POURED + timedelta(days=at) for at in range(1, 9)}


def seen(defects_of, day=7.0, pours=POURED_AT):
    return [look(day, defects=defects_of(pour), pour=pour, poured=POURED_AT[pour]) for pour in pours]


def test_the_table_is_sorted_and_leaves_strangers_aside():
    looks = [
        look(9, pour="2", poured=POURED_AT["2"]),
        look(2, defects=("bloom",), pour="2", poured=POURED_AT["2"]),
        look(2, pour="1", poured=POURED_AT["1"]),
        look(2, pour="stranger"),
        look(-1, pour="1", poured=POURED_AT["1"]),
    ]
    table = looks_table(looks, POURED_AT)
    assert table[["pour", "day"]].values.tolist() == [["1", 2.0], ["2", 2.0], ["2", 9.0]]
    assert table["bloom"].tolist() == [False, True, False]
    assert table.columns.tolist() == ["pour", "day", "after", *DEFECTS]


def test_the_tick_list_says_when_each_defect_was_first_seen():
    looks = [
        look(2),
        look(7, defects=("grainy",)),
        look(30, "a warm turn", ("sweating", "grainy")),
    ]
    ticks = tick_list(looks_table(looks, {"1": POURED})).loc["1"]
    assert ticks["grainy"] == "day 7"
    assert ticks["sweating"] == "day 30, after a warm turn"
    assert ticks["bloom"] == ""
    assert (ticks["looks"], ticks["last day"]) == (3, 30)


def test_no_look_gives_empty_tables_and_no_words():
    table = looks_table([], POURED_AT)
    assert table.empty
    assert tick_list(table).empty
    assert defect_words(table, pd.DataFrame(index=list(POURED_AT))) == []


# ---- what may be said ------------------------------------------------------------


@pytest.mark.parametrize("count", range(8))
def test_limits_are_exact(count):
    """Clopper and Pearson (1934) by their definition: each tail of the binomial holds 5 %."""
    from scipy.stats import binom

    low, high = share_limits(count, 7)
    assert low == 0.0 if count == 0 else binom.sf(count - 1, 7, low) == pytest.approx(0.05)
    assert high == 1.0 if count == 7 else binom.cdf(count, 7, high) == pytest.approx(0.05)


def test_counts_and_what_chance_makes_of_them():
    """Fisher's tea (The Design of Experiments, 1935): 3 of 4 against 1 of 4, two-sided 0.486."""
    butter = pd.DataFrame({"butter %": [30.0, 31, 32, 33, 40, 41, 42, 43]}, index=list(POURED_AT))
    grainy = pd.Series([pour in "1678" for pour in POURED_AT], index=list(POURED_AT))
    (found,) = contrasts(grainy, butter)
    assert (found.seen_one, found.seen_other) == ((3, 4), (1, 4))
    assert found.chance == pytest.approx(0.4857, abs=1e-4)
    assert (found.one, found.other) == ("with more butter", "with less")


def test_few_pours_never_make_a_cause():
    """Four of four against none of four, and 4 things compared: still what chance alone can do."""
    pours = pd.DataFrame(
        {
            "butter %": [30.0, 31, 32, 33, 40, 41, 42, 43],
            "wax %": [15.0, 12, 14, 11, 13, 12, 15, 14],
            "reheats": [0, 1, 0, 1, 0, 1, 0, 1],
            "set_where": ["on the bench", "in the cold"] * 4,
            "hottest_c": [None] * 8,
            "lots": list("abcdefgh"),
        },
        index=list(POURED_AT),
    )
    looks = seen(lambda pour: ("grainy",) if pour in "5678" else ())
    said = defect_words(looks_table(looks, POURED_AT), pours)
    assert said[0] == (
        "Grainy: 4 of 8 pours (19 to 81 %); 4 of 4 (47 to 100 %) with more butter, "
        "0 of 4 (0 to 53 %) with less. "
        "4 things were compared, and chance alone can do that: too few pours to tell."
    )
    assert "not seen on any: sweating, bloom, bent, cracked or off smell" in said[1]
    assert "31 %" in said[1]


def test_many_pours_make_a_question_and_no_cause():
    pours = {f"p{at}": POURED for at in range(16)}
    factors = pd.DataFrame({"set_where": ["in the cold", "on the bench"] * 8}, index=list(pours))
    looks = [look(7, defects=("bloom",) if int(pour[1:]) % 2 else (), pour=pour) for pour in pours]
    said = defect_words(looks_table(looks, pours), factors)
    assert said[0] == (
        "Bloom: 8 of 16 pours (28 to 72 %); 0 of 8 (0 to 31 %) set in the cold, "
        "8 of 8 (69 to 100 %) otherwise. "
        "One thing was compared, and chance hardly does that: pour one recipe both ways to know."
    )


def test_age_is_a_thing_that_pours_differ_in():
    """Old pours have had more time to go grainy than young ones: that comes to be told first."""
    old = seen(lambda _: ("grainy",), 40, list("1234"))
    young = seen(lambda _: (), 2, list("5678"))
    said = defect_words(looks_table([*old, *young], POURED_AT), pd.DataFrame(index=list(POURED_AT)))
    assert "4 of 4 (47 to 100 %) with more age" in said[0]


def test_pours_that_nobody_looked_at_do_not_count():
    looks = seen(lambda _: ("cracked",), pours=["1", "2"])
    said = defect_words(looks_table(looks, POURED_AT), pd.DataFrame(index=list(POURED_AT)))
    assert said[0] == "Cracked: 2 of 2 pours (22 to 100 %)."


def test_a_pour_that_was_mended_in_two_ways_counts_once():
    pours = pd.DataFrame({"butter %": [30.0, 31.0, 40.0]}, index=["1", "1", "2"])
    said = defect_words(looks_table(seen(lambda _: ("cracked",), pours=["1", "2"]), POURED_AT), pours)
    assert "1 of 1 (5 to 100 %) with more butter" in said[0]


# ---- the calendar ----------------------------------------------------------------

LONG = "3; the büttery one, as poured\non a wet Thursday, with a long name: ööööööööööööööööööööööööööööööööö"


def unfolded(text):
    """Return the content lines of an iCalendar text as (name with parameters, value); RFC 5545, 3.1."""
    assert text.endswith("\r\n")
    assert "\n" not in text.replace("\r\n", "")
    assert all(len(line.encode()) <= 75 for line in text.split("\r\n"))
    lines = text.replace("\r\n ", "").removesuffix("\r\n").split("\r\n")
    return [tuple(line.split(":", 1)) for line in lines]


def unescaped(value):
    """RFC 5545, 3.3.11."""
    return re.sub(r"\\(.)", lambda found: "\n" if found[1] in "nN" else found[1], value)


def test_the_calendar_reads_back():
    dues = due(POURED, [], POURED, LONG)
    lines = unfolded(calendar(dues, POURED))
    assert lines[:3] == [("BEGIN", "VCALENDAR"), ("VERSION", "2.0"), ("PRODID", "-//labkit//look again//EN")]
    assert lines[-1] == ("END", "VCALENDAR")
    events = [dict(lines[at : at + 6]) for at in range(3, len(lines) - 1, 6)]
    assert len(events) == len(dues) == 4
    for event, each in zip(events, dues, strict=True):
        assert list(event) == ["BEGIN", "UID", "DTSTAMP", "DTSTART;VALUE=DATE", "SUMMARY", "END"]
        assert unescaped(event["SUMMARY"]) == f"Look at pour {LONG} again: {each.what}"
        assert date.fromisoformat(event["DTSTART;VALUE=DATE"]) == each.when.date()
        stamp = datetime.strptime(event["DTSTAMP"], "%Y%m%dT%H%M%SZ").replace(tzinfo=UTC)
        assert stamp == POURED
    assert len({event["UID"] for event in events}) == 4


def test_a_reminder_keeps_its_identity():
    """Taken in again later it replaces itself: the same UID for the same look."""
    first = calendar(due(POURED, [], POURED, "3"), POURED)
    later = calendar(due(POURED, [], POURED + timedelta(days=1), "3"), POURED + timedelta(days=1))
    assert re.findall("UID:.*", first) == re.findall("UID:.*", later)
