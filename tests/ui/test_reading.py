"""Reading what stands in a form, and writing what was saved into it again."""

from datetime import UTC, datetime, timedelta, timezone
from typing import ClassVar

import pytest

from labkit.book.record import Record, noted
from labkit.ui.reading import Faults, declared_fields, read_fields

PRESSED = "2026-03-06T10:00:00+01:00"


class Thing(Record):
    kind: ClassVar[str] = "test.thing"

    at: datetime = noted("When")
    room_c: float | None = noted("Room", unit="°C", default=None, ge=-10, le=50)
    sticks: int = noted("Sticks", default=0, ge=0)
    parts: int = noted("Parts", default=4, ge=1)
    grams: float = noted("Grams", unit="g", gt=0)
    remark: str = noted("Remark", default="")
    lot: str | None = noted("Lot", default=None)


NAMES = ("at", "room_c", "sticks", "parts", "grams", "remark", "lot")


def read(pressed_at=PRESSED, **typed):
    faults = Faults()
    return read_fields(Thing, {"all": [typed]}, ["all"], pressed_at, faults), faults.found


def starts(**saved):
    thing = Thing(**{"at": datetime(2026, 3, 5, tzinfo=UTC), "grams": 1.0} | saved)
    return {field.name: field.start for field in declared_fields(Thing, NAMES, thing)}


def test_a_field_that_was_emptied_has_what_it_is_declared_with():
    """What had been saved stayed: an emptied number was left out, and the mended entry kept the old one."""
    found, faults = read(room_c="", sticks=" ", parts="", remark="", lot="")
    assert found == {"room_c": None, "sticks": 0, "parts": 4, "remark": "", "lot": None}
    assert faults == {}


def test_a_field_that_was_not_shown_or_must_be_filled_in_is_left_out():
    assert read(grams="") == ({}, {})


def test_a_time_is_read_with_its_own_offset():
    found, _ = read(at="2026-03-05T19:20+05:30")
    assert found["at"] == datetime(2026, 3, 5, 13, 50, tzinfo=UTC)
    assert read(at="")[0]["at"] == datetime.fromisoformat(PRESSED)


@pytest.mark.parametrize("text", ["?", "0001-01-01T00:00+14:00", "2026-03-05T"])
def test_a_time_that_is_not_whole_is_refused(text):
    assert read(at=text)[1] == {"all//at": "That is no whole time. Choose a day, an hour and a minute."}


def test_a_time_to_come_is_said_as_it_was_typed():
    zone = timezone(timedelta(hours=13))
    later = (datetime.now(zone) + timedelta(days=2)).replace(hour=7, minute=5)
    _, faults = read(at=later.isoformat(timespec="minutes"))
    assert f"{later:%A %d %B}, 07:05 is still to come" in faults["all//at"]


def test_a_saved_time_is_written_with_its_offset_and_is_the_same_minute():
    saved = datetime(2026, 7, 5, 18, 20, 42, tzinfo=UTC)
    written = starts(at=saved)["at"]
    assert datetime.fromisoformat(written).tzinfo is not None
    assert read(at=written)[0]["at"] == saved.replace(second=0)


@pytest.mark.parametrize("grams", [1234567.25, 0.1 + 0.2, 1e-7, 12.0])
def test_a_saved_number_comes_back_whole(grams):
    """A number of more than six digits was rounded when it was shown again."""
    assert read(grams=starts(grams=grams)["grams"])[0]["grams"] == grams


def test_a_saved_nought_is_shown_where_it_says_something():
    """A room at 0 °C was shown as empty, and mending anything else would have emptied it."""
    shown = starts(room_c=0.0, sticks=0)
    assert (shown["room_c"], shown["sticks"]) == ("0", "")
