"""What became of an entry, told for the maker."""

import pandas as pd
import pytest

from labkit.book import history_frame
from labkit.book.entry import new_entry, new_id
from labkit.errors import LabError

FIRED = {"hottest_c": 80, "weighed_g": {"clay": 6, "sand": 2}, "remark": "even"}


def fire(book, **fields):
    return book.append("kiln.firing", {**FIRED, **fields}, trial="First", time="2026-03-01T10:00:00Z")


def story(book, entry) -> list[tuple[str, str]]:
    table = history_frame(book, entry)
    return list(zip(table["what"], table["changed"], strict=True))


def test_written_mended_taken_back_and_put_back(book):
    first = fire(book)
    book.correct(first.id, {**FIRED, "hottest_c": 82.5, "weighed_g": {"clay": 6.2, "ash": 1}, "pots": 3})
    book.withdraw(first.id, "cracked")
    last = book.correct(first.id, {**FIRED, "hottest_c": 82.5, "remark": ""})
    assert story(book, last) == story(book, first) == [
        ("written", ""),
        (
            "mended",
            "Hottest temperature: 80 °C → 82.5 °C\nWeighed, ash: nothing → 1 g\nWeighed, clay: 6 g → 6.2 g\n"
            "Weighed, sand: 2 g → nothing\nPots: nothing → 3",
        ),
        ("taken back", "cracked"),
        (
            "put back",
            "Weighed, clay: 6.2 g → 6 g\nWeighed, sand: nothing → 2 g\nWeighed, ash: 1 g → nothing\n"
            "Pots: 3 → nothing\nRemark: even → nothing",
        ),
    ]  # fmt: skip


def test_when_is_told_in_utc_and_by_no_other_column(book):
    entry = fire(book)
    table = history_frame(book, entry)
    assert table.dtypes.astype(str).to_dict() == {
        "when": "datetime64[ms, UTC]",
        "what": "str",
        "changed": "str",
    }
    assert list(table["when"]) == [pd.Timestamp("2026-03-01T10:00:00Z")]


def test_a_fork_that_was_settled_and_a_trial_that_was_left(book):
    first = fire(book)
    for degrees in (81, 82):
        book.correct(first, {**FIRED, "hottest_c": degrees})
    book.settle(first.id, {**FIRED, "hottest_c": 81})
    book.correct(first.id, {**FIRED, "hottest_c": 81}, trial="Second")
    assert story(book, first) == [
        ("written", ""),
        ("mended", "Hottest temperature: 80 °C → 81 °C"),
        ("mended", "Hottest temperature: 80 °C → 82 °C"),
        ("settled", "Hottest temperature: 82 °C → 81 °C"),
        ("moved", "Trial: First → Second"),
    ]


def test_what_the_form_of_today_says_of_an_older_entry(book):
    """Schema 1 had Fahrenheit: both versions are told in degrees Celsius."""
    old = new_entry("kiln.firing", "First", {"hottest_f": 212}, book.maker)
    book.keep([old])
    book.correct(old, {"hottest_c": 90})
    assert story(book, old)[1] == ("mended", "Hottest temperature: 100 °C → 90 °C")


def test_ids_names_of_photos_and_long_texts_are_not_shown(book):
    photos = ("a" * 64 + ".jpg", "b" * 64 + ".jpg")
    first = book.append(
        "attic.box",
        {"of_pour": new_id(), "photo": "", "n": [1], "said": "x" * 99, "dry": True},
        trial="First",
    )
    book.correct(first.id, {"of_pour": new_id(), "photo": photos[0], "n": [2], "said": "short", "dry": False})
    book.correct(first.id, {"of_pour": new_id(), "photo": photos[1], "said": "2026-03-01T10:00:00+00:00"})
    _, (_, second), (_, third) = story(book, first)
    assert second.splitlines() == [
        "Dry: yes → no", "N: changed", "Of pour: changed", "Photo: nothing → a photo", "Said: changed",
    ]  # fmt: skip
    assert "Photo: changed" in third
    assert "Said: short → 2026-03-01 " in third


def test_an_entry_that_cannot_be_read_is_told_as_it_stands(book):
    newer = new_entry("kiln.firing", "First", {"hottest_k": 400}, book.maker, schema=9)
    again = new_entry(
        "kiln.firing", "First", {"hottest_k": 401}, book.maker, schema=9, supersedes=(newer.id,)
    )
    book.keep([newer, again])
    assert story(book, newer)[1] == ("mended", "Hottest k: 400 → 401")


def test_none_is_not_nought(book):
    first = book.append("attic.box", {"a": 0, "b": None, "c": None, "d": False}, trial="First")
    book.correct(first, {"a": None, "b": "", "c": 0, "d": None})
    assert story(book, first)[1] == ("mended", "A: 0 → nothing\nC: nothing → 0\nD: no → nothing")


def test_a_version_whose_elder_is_not_here(book):
    lone = new_entry("attic.box", "First", {"n": 1}, book.maker, supersedes=(new_id(),))
    book.keep([lone])
    assert story(book, lone) == [("mended", "")]
    with pytest.raises(LabError, match="There is no entry"):
        history_frame(book, new_id())
