"""The book in every place where it may lie: writing, correcting, withdrawing, forks, drafts."""

from concurrent.futures import ThreadPoolExecutor
from datetime import datetime

import pytest

from labkit.book import Entry, RecordError, TrialBook, take_in_lines, write_lines
from labkit.book.entry import WITHDRAWAL, new_entry, new_id, new_maker, time_of
from labkit.errors import LabError

BOX = "attic.box"


def payloads(entries: list[Entry]) -> list[dict]:
    return [each.payload for each in entries]


def test_what_is_appended_is_there(book):
    entry = book.append(BOX, {"grams": 2.5, "big": 1e22, "parts": ("wax", "oil")}, trial="  First   trial ")
    assert book.get(entry.id) == entry
    assert entry.payload == {"grams": 2.5, "big": 1e22, "parts": ["wax", "oil"]}
    assert (entry.trial, entry.maker, entry.schema, entry.supersedes) == ("First trial", book.maker, 1, ())
    assert entry.time == time_of(entry.id)
    assert book.history(entry.id) == book.entries() == [entry]
    assert book.check() == []


def test_it_is_there_after_closing(new_place):
    place = new_place()
    with TrialBook(place) as book:
        entry, maker = book.append(BOX, {"n": 1}, trial="First"), book.maker
    with TrialBook(place) as again:
        assert again.entries() == [entry]
        assert again.maker == maker
    with pytest.raises(LabError, match="was closed"):
        book.append(BOX, {"n": 2}, trial="First")


def test_known_kind_is_checked_and_filled_in(book, kiln):
    entry = book.append("kiln.firing", {"hottest_c": "80"}, trial="First")
    assert entry.schema == 2
    assert entry.payload == {
        "hottest_c": 80,
        "weighed_g": {},
        "shelf": "top",
        "pots": None,
        "opened_at": None,
        "remark": "",
    }
    assert book.append("kiln.firing", kiln(hottest_c=80), trial="First").payload == entry.payload
    with pytest.raises(RecordError, match="Hottest temperature: must be at most 150 °C; found 300"):
        book.append("kiln.firing", {"hottest_c": 300}, trial="First")
    assert len(book.entries()) == 2


@pytest.mark.parametrize(
    ("kind", "payload", "trial", "words"),
    [
        (BOX, {"x": {"y": float("nan")}}, "First", r"attic\.box\.payload\.x\.y: “nan”"),
        (BOX, {"x": "\0"}, "First", "NUL"),
        (BOX, {"x": 2**60}, "First", "too long to be kept exactly"),
        (BOX, {}, "  ", "Name the trial"),
        (BOX, {}, None, "Name the trial"),
        (BOX, {}, "x\0", "NUL"),
        ("box", {}, "First", "cannot be the kind"),
        (WITHDRAWAL, {"reason": ""}, "First", r"use withdraw\(entry\)"),
    ],
)
def test_refused_and_nothing_written(book, kind, payload, trial, words):
    with pytest.raises(LabError, match=words):
        book.append(kind, payload, trial=trial)
    assert list(book.all_entries()) == []


def test_hostile_texts_come_back_as_they_were(book):
    texts = {"html": "<script>alert('x')</script>", "quotes": "'\";-- DROP TABLE entry", "emoji": "😀 é ä"}
    entry = book.append(BOX, texts, trial="<b>'; DROP TABLE entry; --")
    assert book.get(entry.id).payload == texts
    assert book.entries(trial=entry.trial) == [entry]


def test_same_press_again_changes_nothing(book):
    id = new_id()
    first = book.append(BOX, {"n": 1}, trial="First", id=id)
    assert book.append(BOX, {"n": 1.0}, trial="First", id=id) == first
    assert len(book.entries()) == 1
    for changed in ({"payload": {"n": 2}, "trial": "First"}, {"payload": {"n": 1}, "trial": "Second"}):
        with pytest.raises(LabError, match="This press has saved something else already"):
            book.append(BOX, id=id, **changed)
    assert book.entries() == [first]


def test_earlier_time(book):
    entry = book.append(BOX, {}, trial="First", time="2026-03-01T10:00:00+01:00")
    assert book.get(entry.id).time == "2026-03-01T09:00:00.000Z"


def test_correction_and_history(book):
    first = book.append(BOX, {"n": 1}, trial="First")
    second = book.correct(first, {"n": 2})
    third = book.correct(second.id, {"n": 3})
    assert third.supersedes == (second.id,)
    assert second.supersedes == (first.id,)
    assert book.entries() == [third]
    for version in (first, second.id, third):
        assert book.history(version) == [first, second, third]
    assert book.forks() == {}
    assert book.check() == []


def test_first_id_stands_for_the_current_version(book):
    first = book.append(BOX, {"n": 1}, trial="First")
    book.correct(first.id, {"n": 2})
    book.correct(first.id, {"n": 3})
    assert payloads(book.entries()) == [{"n": 3}]
    assert book.forks() == {}


@pytest.mark.parametrize("by", [lambda entry: entry, lambda entry: entry.id])
def test_correcting_a_version_that_was_replaced_is_a_visible_fork(book, by):
    first = book.append(BOX, {"n": 1}, trial="First")
    hand = book.correct(first, {"n": 2})
    here = book.correct(hand, {"n": 3})
    there = book.correct(by(hand), {"n": 4})
    assert book.forks() == {first.id: sorted([here, there], key=lambda entry: entry.id)}
    assert {each.id for each in book.entries()} == {here.id, there.id}
    with pytest.raises(LabError, match="There are 2 current versions"):
        book.correct(first.id, {"n": 5})
    settled = book.settle(first.id, {"n": 4})
    assert set(settled.supersedes) == {here.id, there.id}
    assert book.forks() == {}
    assert book.entries() == [settled]
    assert book.history(first)[0] == first
    assert book.history(first)[-1] == settled
    assert len(book.history(first)) == 5


def test_settling_what_is_not_forked(book):
    first = book.append(BOX, {"n": 1}, trial="First")
    with pytest.raises(LabError, match="nothing to settle"):
        book.settle(first, {"n": 2})


def test_two_notebooks_correct_the_same_version(new_place):
    place = new_place()
    with TrialBook(place) as here, TrialBook(place) as there:
        first = here.append(BOX, {"n": 1}, trial="First")
        seen = there.get(first.id)
        here.correct(first, {"n": 2})
        there.correct(seen, {"n": 3})
        assert here.forks() == there.forks()
        assert len(here.forks()[first.id]) == 2


def test_withdrawal(book):
    first = book.append(BOX, {"n": 1}, trial="First")
    second = book.correct(first, {"n": 2})
    gone = book.withdraw(first.id, "spilt")
    assert (gone.kind, gone.payload, gone.supersedes) == (WITHDRAWAL, {"reason": "spilt"}, (second.id,))
    assert book.entries() == []
    assert book.trials() == []
    assert book.history(second) == [first, second, gone]
    assert book.withdraw(first.id) == book.withdraw(second) == book.withdraw(gone) == gone


def test_withdrawn_is_put_back_by_a_correction(book):
    first = book.append(BOX, {"n": 1}, trial="First")
    book.withdraw(first)
    back = book.correct(first.id, {"n": 1})
    assert back.kind == BOX
    assert book.entries() == [back]
    assert book.forks() == {}


def test_corrected_here_and_withdrawn_there_is_a_fork(book):
    first = book.append(BOX, {"n": 1}, trial="First")
    kept = book.correct(first, {"n": 2})
    gone = book.withdraw(first)
    assert {each.id for each in book.forks()[first.id]} == {kept.id, gone.id}
    assert book.entries() == [kept]
    assert bool(book.frame(BOX).forked.item())
    assert book.settle(first, {"n": 2}).kind == BOX
    assert book.forks() == {}


def test_withdrawing_the_thing_ends_a_fork(book):
    first = book.append(BOX, {"n": 1}, trial="First")
    book.correct(first, {"n": 2})
    book.correct(first, {"n": 3})
    book.withdraw(first.id)
    assert book.forks() == {}
    assert book.entries() == []


def test_withdrawn_twice_at_once_is_no_fork(new_book):
    here, there = new_book(), new_book()
    first = here.append(BOX, {"n": 1}, trial="First")
    there.keep([first])
    there.keep([here.withdraw(first)])
    here.keep([there.withdraw(first, id=new_id())])
    assert here.forks() == {}
    assert here.entries() == []


def test_press_of_a_correction_sent_again(book):
    """The first id stands for the current version, which after the first sending is the press itself."""
    first = book.append(BOX, {"n": 1}, trial="First")
    press = new_id()
    done = book.correct(first.id, {"n": 2}, id=press)
    later = book.correct(first.id, {"n": 3})
    assert book.correct(first.id, {"n": 2}, id=press) == done
    assert book.entries() == [later]
    with pytest.raises(LabError, match="This press has saved something else"):
        book.correct(first.id, {"n": 9}, id=press)
    drop = new_id()
    assert book.withdraw(first.id, id=drop) == book.withdraw(first.id, id=drop)
    assert len(book.history(first)) == 4


def test_press_of_a_settlement_sent_again(book):
    first = book.append(BOX, {"n": 1}, trial="First")
    book.correct(first, {"n": 2})
    book.correct(first, {"n": 3})
    press = new_id()
    assert book.settle(first, {"n": 3}, id=press) == book.settle(first, {"n": 3}, id=press)
    assert book.forks() == {}


def test_an_id_used_for_another_thing(book):
    first, other = (book.append(BOX, {"n": n}, trial="First") for n in (1, 2))
    with pytest.raises(LabError, match="This press has saved something else"):
        book.correct(first, {"n": 2}, id=other.id)


def test_correction_moves_to_another_trial(book):
    first = book.append(BOX, {"n": 1}, trial="First")
    moved = book.correct(first, {"n": 1}, trial="Second")
    assert book.entries(trial="First") == []
    assert book.entries(trial="Second") == [moved]
    assert book.trials() == ["Second"]
    assert book.correct(first.id, {"n": 2}).trial == "Second"
    assert book.withdraw(first.id).trial == "Second"


def test_unknown_entry(book):
    for call in (book.get, book.history, lambda id: book.correct(id, {}), book.withdraw):
        with pytest.raises(LabError, match="There is no entry"):
            call(new_id())


def test_has(book):
    entry = book.append(BOX, {"n": 1}, trial="First")
    assert book.has(entry.id)
    assert not book.has(new_id())


def test_rows_tell_what_a_version_is_a_version_of(book):
    first = book.append(BOX, {"n": 1}, trial="First")
    head = book.correct(first, {"n": 2})
    alone = book.append(BOX, {"n": 3}, trial="First")
    told = [(row.head, row.entry, row.first, row.forked) for row in book.rows(BOX)]
    assert told == [(head, first.id, first, False), (alone, alone.id, alone, False)]


def test_entries_keep_their_order_when_corrected(book):
    entries = [book.append(BOX, {"n": n}, trial="First") for n in range(3)]
    book.correct(entries[0], {"n": 10})
    book.append("attic.trunk", {}, trial="First")
    book.append(BOX, {"n": 3}, trial="Second")
    assert [each.payload["n"] for each in book.entries(BOX)] == [10, 1, 2, 3]
    assert [each.payload["n"] for each in book.entries(BOX, trial="First")] == [10, 1, 2]
    assert book.trials() == ["First", "Second"]


def test_drafts(book):
    assert book.draft("pour") is None
    book.keep_draft("pour", {"wax": "2,5", "remark": ""})
    book.keep_draft("pour", {"wax": "2,55"})
    book.keep_draft("note", {"word": "so"})
    assert book.draft("pour") == {"wax": "2,55"}
    assert book.draft("note") == {"word": "so"}
    book.drop_draft("pour")
    book.drop_draft("pour")
    assert book.draft("pour") is None
    assert book.draft("note") == {"word": "so"}
    assert list(book.all_entries()) == []


def test_people_are_hashed_nowhere(book):
    entry = book.append(BOX, {"n": 1}, trial="First")
    other = new_maker()
    book.name_person("Somebody")
    book.name_person("Somebody else")
    book.name_person("Other", maker=other)
    assert book.people() == {book.maker: "Somebody else", other: "Other"}
    assert "Somebody" not in entry.line
    assert book.get(entry.id).hash == entry.hash
    with pytest.raises(LabError, match="cannot be a maker id"):
        book.name_person("Somebody", maker="me")


def test_maker_is_chosen_when_opening(new_place):
    place, maker = new_place(), new_maker()
    with TrialBook(place, maker) as book:
        assert book.append(BOX, {}, trial="First").maker == maker
    with pytest.raises(LabError, match="name_person"):
        TrialBook(place, "Somebody")


def test_eight_threads_write_at_once(book):
    presses = [new_id() for _ in range(40)] * 2
    with ThreadPoolExecutor(8) as pool:
        entries = list(pool.map(lambda id: book.append(BOX, {"id": id}, trial="First", id=id), presses))
    assert entries[:40] == entries[40:]
    assert [each.id for each in book.entries()] == sorted(set(presses))


def test_check_finds_what_was_altered(book):
    trials = ("Good", "Bad", "Moved", "Lone")
    good, bad, moved, lone = (book.append(BOX, {"word": "soft"}, trial=name) for name in trials)
    late = book.correct(lone, {"word": "hard"})
    with book._store.writing() as connection:
        run = connection.exec_driver_sql
        run(f"UPDATE entry SET text = replace(text, 'soft', 'hard') WHERE id = '{bad.id}'")
        run(f"UPDATE entry SET trial = 'Second' WHERE id = '{moved.id}'")
        run(f"DELETE FROM entry WHERE id = '{lone.id}'")
    found = book.check()
    assert len(found) == 3
    assert found == [
        f"The {bad.called} was altered after it was written.",
        f"The {moved.called}: its trial in the index was altered.",
        f"The {late.called} replaces an entry that is not in this book.",
    ]
    assert good.called not in str(found)
    with pytest.raises(LabError, match=r"The box of .* in “Bad” was altered after it was written"):
        book.frame(BOX)
    with book._store.writing() as connection:
        connection.exec_driver_sql(f"DELETE FROM link WHERE entry = '{late.id}'")
    assert f"The {late.called}: the note of what it replaces was altered." in book.check()


ODD = [
    (lambda book: TrialBook(None), "Name the file that the trial book lies in; found nothing"),
    (lambda book: TrialBook(""), "Name the file that the trial book lies in; found nothing"),
    (lambda book: TrialBook(5), "Name the file that the trial book lies in; found 5"),
    (lambda book: TrialBook("book.db", photos=5), "Name the folder of the photos; found 5"),
    (lambda book: book.append(BOX, ["soft"], trial="First"), "Give what is logged by name, .*found .'soft'."),
    (lambda book: book.append(BOX, None, trial="First"), "Give what is logged by name, .*found nothing"),
    (lambda book: book.append("kiln.firing", 80, trial="First"), "Give what is logged by name, .*found 80"),
    (lambda book: book.append(None, {}, trial="First"), "“None” cannot be the kind of an entry"),
    (lambda book: book.append(BOX, {}, trial=5), "Give the name of the trial as a text; found 5"),
    (
        lambda book: book.append(BOX, {}, trial="First", time=datetime(2026, 3, 1)),
        "does not say its time zone",
    ),
    (lambda book: book.append(BOX, {}, trial="First", time="noon"), "“noon” is not a date and time"),
    (lambda book: book.append(BOX, {}, trial="First", id=5), "is not an id of an entry"),
    (lambda book: book.keep(5), "Give a list of entries; found 5"),
    (lambda book: book.keep([None]), "Give a list of entries; found nothing"),
    (lambda book: book.correct(5, {}), "Name an entry of this book, itself or by its id; found 5"),
    (lambda book: book.get(5), "Name an entry of this book, itself or by its id; found 5"),
    (lambda book: book.has(None), "Name an entry of this book, itself or by its id; found nothing"),
    (lambda book: book.history(None), "Name an entry of this book, itself or by its id; found nothing"),
    (lambda book: book.frame("nonsense kind"), "“nonsense kind” cannot be the kind of an entry"),
    (lambda book: book.frame(None), "“None” cannot be the kind of an entry"),
    (lambda book: book.frame("kiln.fring"), "no kind of entry “kiln.fring”. Did you mean “kiln.firing”"),
    (lambda book: book.entries("kiln.fring"), "no kind of entry “kiln.fring”. Did you mean “kiln.firing”"),
    (lambda book: book.entries(BOX, trial=5), "Give the name of the trial as a text; found 5"),
    (lambda book: book.photo_path(None), "Give the name of a photo as a text; found nothing"),
    (lambda book: book.add_photo(None), "Name a photo; found nothing"),
    (lambda book: book.draft(None), "Give the key of a draft as a text; found nothing"),
    (lambda book: book.keep_draft(5, {}), "Give the key of a draft as a text; found 5"),
    (lambda book: book.drop_draft(None), "Give the key of a draft as a text; found nothing"),
    (lambda book: book.name_person(None), "Give the name as a text; found nothing"),
    (lambda book: write_lines(book, None), "Name the file to write; found nothing"),
    (lambda book: take_in_lines(book, ""), "Name the file to read; found nothing"),
]


@pytest.mark.parametrize(("call", "words"), ODD, ids=range(len(ODD)))
def test_what_makes_no_sense_is_told_plainly_and_writes_nothing(book, call, words):
    with pytest.raises(LabError, match=words):
        call(book)
    assert list(book.all_entries()) == []


def test_a_kind_of_another_labkit_may_be_asked_for_where_it_was_written(book):
    """A room that this labkit has may have had another kind, or will have one."""
    entry = new_entry("kiln.glaze", "First", {"n": 1}, new_maker())
    assert book.entries("cellar.cask") == []
    book.keep([entry])
    assert book.entries("kiln.glaze") == [entry]
    assert list(book.frame("kiln.glaze").n) == [1]


def test_a_trial_is_found_as_its_name_was_typed(book):
    entry = book.append(BOX, {"n": 1}, trial="  First   trial ")
    assert book.entries(BOX, "First  trial ") == [entry]


def test_rows_of_a_trial_are_those_of_its_current_versions(book):
    """What was moved, withdrawn or forked is looked at where it stands now."""
    stays, moves, goes, forks = (book.append(BOX, {"n": n}, trial="First") for n in range(4))
    moved = book.correct(moves, {"n": 9}, trial="Second")
    book.withdraw(goes)
    sides = [book.correct(forks, {"n": n}) for n in (10, 11)]
    assert [row.head for row in book.rows(BOX, "First")] == [stays, *sides]
    assert [row.forked for row in book.rows(BOX, "First")] == [False, True, True]
    assert [(row.head, row.first) for row in book.rows(BOX, "Second")] == [(moved, moves)]


def test_repr_is_short(book):
    assert repr(book).startswith("TrialBook('")
    assert len(repr(book)) < 160
