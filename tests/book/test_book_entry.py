"""One entry: its text, its hash, and every way in which it may have been altered."""

import hashlib
import json
from dataclasses import FrozenInstanceError
from datetime import UTC, datetime, timedelta, timezone

import pytest

from labkit.book import Entry
from labkit.book.canonical import canonical, digest
from labkit.book.entry import (
    WITHDRAWAL,
    entry_from_line,
    entry_from_text,
    new_entry,
    new_id,
    new_maker,
    stored_entry,
    time_of,
    utc_text,
)
from labkit.errors import LabError

ID = "017f22e2-79b0-7cc3-98c4-dc0c0c07398f"  # RFC 9562, appendix A.6
NAMED = r"^The note of 2\d February 2022, \d\d:22 in “First” was altered after it was written\.$"
MAKER = "919108f7-52d1-4320-9bac-f847db4148a8"  # RFC 9562, appendix A.3


def soft(**changes) -> Entry:
    fields = {
        "kind": "texture.note",
        "trial": "First",
        "payload": {"word": "soft", "hours": 2},
        "maker": MAKER,
    }
    return new_entry(**{**fields, "id": ID, **changes})


def rehashed(**changes) -> tuple[str, str]:
    """A text with other fields, and the hash that fits it."""
    text = canonical({**json.loads(soft().text), **changes})
    return text, digest(text)


def test_hash_by_hand():
    """For plain ASCII and whole numbers, sorted and compact JSON is the RFC 8785 text."""
    fields = {
        "schema": 1,
        "id": ID,
        "time": "2022-02-22T19:22:22.000Z",
        "maker": MAKER,
        "kind": "texture.note",
        "trial": "First",
        "payload": {"word": "soft", "hours": 2},
        "supersedes": [],
    }
    text = json.dumps(fields, sort_keys=True, separators=(",", ":"))
    assert soft().text == text
    assert soft().hash == hashlib.sha256(text.encode()).hexdigest()


def test_hash_stays_what_it_was():
    """What is hashed is forever: this literal must never change."""
    assert soft().hash == "6a262a3c8a738a8b39dfcb692d568f0b4fc0030fcb45f69505c5312a04dc5ec5"


def test_every_field_is_hashed():
    changes = {
        "schema": 2,
        "id": new_id(),
        "time": "2022-02-22T19:22:23Z",
        "maker": new_maker(),
        "kind": "texture.pour",
        "trial": "Second",
        "payload": {},
        "supersedes": (new_id(),),
    }
    hashes = {soft(**{name: value}).hash for name, value in changes.items()} | {soft().hash}
    assert len(hashes) == len(changes) + 1


def test_entry_cannot_be_changed_and_can_be_in_a_set():
    entry = soft()
    with pytest.raises(FrozenInstanceError):
        entry.trial = "Second"
    assert len({entry, soft(), soft(trial="Second")}) == 2


def test_ids_are_ordered_and_carry_the_time():
    ids = [new_id() for _ in range(100)]
    assert ids == sorted(ids)
    assert len(set(ids)) == 100
    made = datetime.fromisoformat(time_of(ids[0]))
    assert abs(datetime.now(UTC) - made) < timedelta(minutes=1)


@pytest.mark.parametrize(
    "id",
    [
        MAKER,  # version 4
        ID.upper(),
        ID.replace("-", ""),
        "{" + ID + "}",
        ID[:19] + "c" + ID[20:],  # another variant
        ID + "\n",
        "",
        7,
        None,
    ],
)
def test_only_version_7_ids(id):
    text, hash = rehashed(id=id)
    with pytest.raises(LabError, match="not an id of an entry"):
        entry_from_text(text, hash)


def test_time_in_any_zone_is_kept_in_utc():
    paris = timezone(timedelta(hours=1))
    assert soft(time=datetime(2026, 3, 1, 0, 30, 0, 123_999, paris)).time == "2026-02-28T23:30:00.123Z"
    assert soft(time="2026-03-01T00:30:00+01:00").when == datetime(2026, 2, 28, 23, 30, tzinfo=UTC)


@pytest.mark.parametrize(
    ("time", "words"),
    [
        (datetime(2026, 3, 1), "does not say its time zone"),
        ("2026-03-01", "does not say its time zone"),
        ("yesterday", "“yesterday” is not a date and time"),
        ("0001-01-01T00:00:00+10:00", "is not a date and time"),
        (5, "is not a date and time"),
    ],
)
def test_times_that_cannot_be(time, words):
    with pytest.raises(LabError, match=words):
        utc_text(time)


def test_id_beyond_the_calendar():
    with pytest.raises(LabError, match="no calendar"):
        time_of("ffffffff-ffff-7fff-bfff-ffffffffffff")


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("schema", 0),
        ("schema", True),
        ("schema", "1"),
        ("time", "2026-03-01T12:00:00Z"),
        ("time", "2026-13-01T12:00:00.000Z"),
        ("time", None),
        ("maker", "A Name"),
        ("kind", "texture"),
        ("kind", "os.path.join"),
        ("kind", "Texture.Note"),
        ("kind", "../book.note"),
        ("trial", ""),
        ("trial", " First"),
        ("trial", "x" * 201),
        ("payload", []),
        ("supersedes", "none"),
        ("supersedes", ["x"]),
        ("supersedes", [ID[:-1] + "e", ID[:-1] + "a"]),
    ],
)
def test_fields_that_cannot_be(field, value):
    text, hash = rehashed(**{field: value})
    with pytest.raises(LabError, match=f"cannot be the {field}"):
        entry_from_text(text, hash)


def test_other_forgeries():
    with pytest.raises(LabError, match="replaces itself"):
        entry_from_text(*rehashed(supersedes=[ID]))
    with pytest.raises(LabError, match="does not say what it withdraws"):
        entry_from_text(*rehashed(kind=WITHDRAWAL))
    with pytest.raises(LabError, match="no entry of a trial book"):
        entry_from_text(*rehashed(extra=1))
    with pytest.raises(LabError, match="no entry of a trial book"):
        entry_from_text("[]", digest("[]"))
    with pytest.raises(LabError, match="no entry of a trial book"):
        entry_from_line(soft().text)


def test_altered_text_and_altered_hash():
    entry = soft()
    assert entry_from_text(entry.text, entry.hash) == entry == stored_entry(entry.text, entry.hash)
    assert entry_from_line(entry.line) == entry
    for read in (entry_from_text, stored_entry):
        with pytest.raises(LabError, match=NAMED):
            read(entry.text.replace("soft", "hard"), entry.hash)
    with pytest.raises(LabError, match=NAMED):
        entry_from_line(entry.line.replace("soft", "hard"))


@pytest.mark.parametrize(
    "altered",
    [
        lambda text: text.replace(":2,", ":2.0,"),
        lambda text: text.replace(":2,", ": 2,"),
        lambda text: text.replace("soft", "s\\u006fft"),
        lambda text: text.replace('"hours":2', '"hours":3,"hours":2'),
        lambda text: text + "\n",
    ],
)
def test_same_value_in_another_writing_is_refused(altered):
    text = altered(soft().text)
    assert json.loads(text) == json.loads(soft().text)
    with pytest.raises(LabError, match="not written as labkit writes"):
        entry_from_text(text, digest(text))


def test_too_long_is_refused():
    with pytest.raises(LabError, match="at most 1000000 can be kept"):
        soft(payload={"remark": "x" * 1_000_001})


def test_maker_is_never_a_name():
    with pytest.raises(LabError, match=r"cannot be the maker.*name_person"):
        soft(maker="Someone")
