"""The tidy table of a kind."""

import pandas as pd
import pytest

from labkit.book.entry import new_entry, new_maker
from labkit.errors import LabError

CORE = ["entry", "trial", "maker", "time", "forked"]
FIRING = [*CORE, "hottest_c", "shelf", "pots", "opened_at", "remark"]


def fire(book, degrees, **fields):
    return book.append("kiln.firing", {"hottest_c": degrees, **fields}, trial="First")


def test_one_row_for_each_current_entry(book):
    first = book.append("kiln.firing", {"hottest_c": 80}, trial="First", time="2026-03-01T10:00:00Z")
    second = fire(book, 90, pots=3)
    gone = fire(book, 100)
    book.correct(first, {"hottest_c": 81})
    book.withdraw(gone)
    frame = book.frame("kiln.firing")
    assert list(frame.columns) == FIRING
    assert list(frame.entry) == [first.id, second.id]
    assert list(frame.hottest_c) == [81, 90]
    assert frame.time[0] == pd.Timestamp("2026-03-01T10:00:00Z")
    assert frame.pots[1] == 3
    assert frame.pots.isna()[0]
    assert not frame.forked.any()
    assert set(frame.maker) == {book.maker}
    assert set(frame.trial) == {"First"}


def test_types_of_columns(book):
    fire(book, 80)
    types = book.frame("kiln.firing").dtypes.astype(str).to_dict()
    assert types == {
        "entry": "str",
        "trial": "str",
        "maker": "str",
        "time": "datetime64[ms, UTC]",
        "forked": "bool",
        "hottest_c": "float64",
        "shelf": "str",
        "pots": "Int64",
        "opened_at": "datetime64[us, UTC]",
        "remark": "str",
    }


def test_times_in_a_record_are_times_in_utc(book):
    fire(book, 80, opened_at="2026-03-01T12:00:00+01:00")
    fire(book, 80)
    opened = book.frame("kiln.firing").opened_at
    assert opened[0] == pd.Timestamp("2026-03-01T11:00:00Z")
    assert opened.isna()[1]


def test_no_entries_give_the_same_columns_and_types(book):
    empty = book.frame("kiln.firing")
    fire(book, 80)
    full = book.frame("kiln.firing")
    assert len(empty) == 0
    assert list(empty.columns) == FIRING
    assert empty.dtypes.to_dict() == full.dtypes.to_dict()
    assert list(book.frame("attic.box").columns) == CORE


def test_both_sides_of_a_fork_are_rows(book):
    first = fire(book, 80)
    book.correct(first, {"hottest_c": 81})
    book.correct(first, {"hottest_c": 82})
    alone = fire(book, 90)
    frame = book.frame("kiln.firing")
    assert list(frame.entry) == [first.id, first.id, alone.id]
    assert sorted(frame.hottest_c[:2]) == [81, 82]
    assert list(frame.forked) == [True, True, False]


def test_of_one_trial(book):
    fire(book, 80)
    other = book.append("kiln.firing", {"hottest_c": 90}, trial="Second")
    assert list(book.frame("kiln.firing", trial="Second").entry) == [other.id]
    assert len(book.frame("kiln.firing", trial="Third")) == 0


def test_maker_is_who_saw_it_not_who_corrected_it(new_book):
    theirs, mine = new_book(), new_book()
    first = fire(theirs, 80)
    mine.keep([first])
    mine.correct(first, {"hottest_c": 81})
    assert mine.frame("kiln.firing").maker.item() == theirs.maker != mine.maker


def test_mapping_is_spread_over_columns(book):
    fire(book, 80, weighed_g={"beeswax": 3, "castor oil": 7.5})
    fire(book, 90, weighed_g={"castor oil": 6})
    frame = book.frame("kiln.firing")
    assert list(frame.columns) == [*FIRING, "beeswax_g", "castor oil_g"]
    assert list(frame["castor oil_g"]) == [7.5, 6]
    assert frame.beeswax_g.dtype == "float64"
    assert frame.beeswax_g.isna()[1]
    assert frame.attrs["spread"] == {"weighed_g": {"beeswax": "beeswax_g", "castor oil": "castor oil_g"}}


def test_spread_columns_never_overwrite_another(book):
    payload = {
        "clay_g": 1,
        "planned_g": {"clay": 2, "ash": 3},
        "weighed_g": {"clay": 4, "ash": 5, "planned_clay": 6},
    }
    book.append("kiln.weighing", payload, trial="First")
    frame = book.frame("kiln.weighing")
    assert frame.attrs["spread"] == {
        "planned_g": {"clay": "planned_clay_g", "ash": "ash_g"},
        "weighed_g": {
            "clay": "weighed_clay_g",
            "ash": "weighed_ash_g",
            "planned_clay": "weighed_planned_clay_g",
        },
    }
    assert frame[["clay_g", "planned_clay_g", "ash_g"]].iloc[0].tolist() == [1, 2, 3]
    assert frame[["weighed_clay_g", "weighed_ash_g", "weighed_planned_clay_g"]].iloc[0].tolist() == [4, 5, 6]


def test_unknown_kind_is_shown_raw(book):
    book.append("attic.box", {"n": 1, "time": "noon", "in": {"a": 1}}, trial="First")
    book.append("attic.box", {"n": 2, "lid": True}, trial="First")
    frame = book.frame("attic.box")
    assert list(frame.columns) == [*CORE, "in", "n", "payload_time", "lid"]
    assert list(frame.n) == [1, 2]
    assert frame["in"][0] == {"a": 1}
    assert frame["payload_time"][0] == "noon"


def old_firing(schema: int, payload: dict):
    return new_entry("kiln.firing", "First", payload, new_maker(), schema=schema)


def test_older_schema_is_lifted_when_read_and_never_rewritten(book):
    """100 °C is 212 °F by the definition of the Fahrenheit scale."""
    old = old_firing(1, {"hottest_f": 212})
    book.keep([old])
    assert book.frame("kiln.firing").hottest_c.item() == pytest.approx(100, abs=1e-12)
    assert book.get(old.id) == old
    assert book.get(old.id).payload == {"hottest_f": 212}
    newer = book.correct(old, {"hottest_c": 99})
    assert (newer.schema, book.frame("kiln.firing").hottest_c.item()) == (2, 99)


def test_older_schema_that_needs_no_lifting(book):
    payload = {"clay_g": 1, "planned_g": {}, "weighed_g": {}}
    book.keep([new_entry("kiln.weighing", "First", payload, new_maker(), schema=1)])
    assert book.frame("kiln.weighing").clay_g.item() == 1


def test_newer_schema_is_refused_with_the_version_that_reads_it(book):
    book.keep([old_firing(3, {"hottest_k": 400})])
    with pytest.raises(
        LabError,
        match=r"The firing of .* was written by a newer labkit than this one \(.*Install a newer labkit",
    ):
        book.frame("kiln.firing")
    with book._store.writing() as connection:
        connection.exec_driver_sql("UPDATE book SET labkit = '7.8.9'")
    with pytest.raises(LabError, match=r"Install labkit 7\.8\.9"):
        book.frame("kiln.firing")
    assert len(book.entries()) == 1


def test_a_payload_that_does_not_fit_is_named(book):
    bad = old_firing(2, {"hottest_c": 900})
    book.keep([bad])
    with pytest.raises(
        LabError,
        match=r"The firing of .* in “First” cannot be read\.\nHottest temperature: must be",
    ):
        book.frame("kiln.firing")
    book.withdraw(bad)
    assert len(book.frame("kiln.firing")) == 0


def test_an_old_payload_that_cannot_be_lifted_is_named(book):
    bad = old_firing(1, {"hottest_f": "hot"})
    book.keep([bad])
    with pytest.raises(
        LabError, match=r"The firing of .* in “First” cannot be read: an earlier labkit wrote it"
    ):
        book.frame("kiln.firing")


def test_a_correction_whose_first_version_is_not_here(new_book):
    theirs, mine = new_book(), new_book()
    first = fire(theirs, 80)
    mine.keep([theirs.correct(first, {"hottest_c": 81})])
    assert mine.frame("kiln.firing").entry.item() == first.id
    mine.keep([first])
    assert mine.frame("kiln.firing").equals(theirs.frame("kiln.firing"))
