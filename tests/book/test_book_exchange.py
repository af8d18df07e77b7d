"""A merge is the union of two sets: idempotent, in any order, nothing lost."""

import tempfile
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from labkit.book import Entry, Refused, TrialBook, read_lines, take_in, take_in_lines, write_lines
from labkit.book.canonical import canonical
from labkit.book.entry import WITHDRAWAL, new_entry, new_id, new_maker
from labkit.book.versions import Versions
from labkit.errors import LabError

BOX = "attic.box"
MAKERS = [new_maker() for _ in range(3)]


@st.composite
def histories(draw) -> list[Entry]:
    """Entries, corrections, their corrections, withdrawals and settlements, as several makers write them.

    The ids are not in order: the clock of one maker may be behind that of another.
    """
    entries: list[Entry] = []
    ids = draw(st.permutations([new_id() for _ in range(draw(st.integers(1, 10)))]))
    for number, id in enumerate(ids):
        old = draw(st.lists(st.sampled_from(entries), max_size=2, unique=True)) if entries else []
        kind = draw(st.sampled_from([BOX, BOX, WITHDRAWAL])) if old else BOX
        payload = (
            {"reason": ""}
            if kind == WITHDRAWAL
            else {"n": number, "text": draw(st.text("aé<\n", max_size=3))}
        )
        supersedes = tuple(each.id for each in old)
        maker = draw(st.sampled_from(MAKERS))
        entries.append(new_entry(kind, "First", payload, maker, id=id, supersedes=supersedes))
    return entries


def state(book: TrialBook) -> tuple:
    frame = book.frame(BOX)
    return (
        [(each.id, each.hash) for each in book.all_entries()],
        book.entries(),
        book.forks(),
        [book.history(each) for each in book.all_entries()],
        list(frame.itertuples(index=False, name=None)),
    )


def union(new_book, *parts: list[Entry]) -> TrialBook:
    book = new_book()
    for part in parts:
        take_in(book, part)
    return book


LAWS = settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])


@LAWS
@given(history=histories(), data=st.data())
def test_laws_of_the_merge(new_book, history, data):
    some = st.lists(st.sampled_from(history), unique=True)
    a, b, c = (data.draw(some) for _ in range(3))
    both = union(new_book, a, b)
    assert state(both) == state(union(new_book, b, a)), "commutative"
    left = union(new_book, list(both.all_entries()), c)
    right = union(new_book, a, list(union(new_book, b, c).all_entries()))
    assert state(left) == state(right), "associative"
    before = state(left)
    again = take_in(left, [*a, *b, *c])
    assert (again.new, again.already, again.refused) == (0, len(a) + len(b) + len(c), ())
    assert state(left) == before, "idempotent"
    assert {each.id for each in left.all_entries()} == {each.id for each in [*a, *b, *c]}, "nothing lost"


@LAWS
@given(history=histories())
def test_lines_round_trip(new_book, history):
    book, other = union(new_book, history), new_book()
    with tempfile.TemporaryDirectory() as folder:
        path, again = Path(folder) / "book.jsonl", Path(folder) / "again.jsonl"
        assert write_lines(book, path) == len(history)
        assert list(read_lines(path)) == sorted(history, key=lambda each: each.id)
        assert take_in_lines(other, path).new == len(history)
        write_lines(other, again)
        assert again.read_bytes() == path.read_bytes()
        assert sorted(each.name for each in Path(folder).iterdir()) == ["again.jsonl", "book.jsonl"]


@given(history=histories(), data=st.data())
def test_versions_do_not_depend_on_the_order_and_agree_with_the_plain_definition(history, data):
    links = [(each.id, old) for each in history for old in each.supersedes]
    withdrawals = [each.id for each in history if each.kind == WITHDRAWAL]
    versions = Versions(links, withdrawals)
    shuffled = Versions(data.draw(st.permutations(links)), withdrawals)
    for id in (each.id for each in history):
        together = {id}
        for _ in history:
            together |= {one for link in links if together & set(link) for one in link}
        heads = sorted(together - {old for _, old in links})
        assert versions.members(id) == together
        assert versions.heads(id) == shuffled.heads(id) == heads != []
        assert versions.first(id) == shuffled.first(id) == min(together - {new for new, _ in links})
        order = versions.oldest_first(id)
        assert order == shuffled.oldest_first(id)
        assert all(order.index(old) < order.index(new) for new, old in links if new in together)
        assert versions.withdrawn(id) == (set(heads) <= set(withdrawals))


def test_a_long_book_is_taken_in_piece_by_piece(new_book, monkeypatch):
    monkeypatch.setattr("labkit.book.exchange.BATCH", 2)
    book, kept = new_book(), []
    real = book.keep
    monkeypatch.setattr(book, "keep", lambda entries: kept.append(len(entries)) or real(entries))
    entries = [new_entry(BOX, "First", {"n": n}, MAKERS[0]) for n in range(5)]
    assert take_in(book, entries).new == 5
    assert kept == [2, 2, 1]
    assert book.entries() == entries


def test_report_counts_and_says_it(new_book):
    mine, theirs = new_book(), new_book()
    entries = [theirs.append(BOX, {"n": n}, trial="First") for n in range(3)]
    mine.keep(entries[:1])
    report = take_in(mine, [*entries, entries[2], Refused("line 9", "torn")])
    assert (report.new, report.already) == (2, 2)
    assert str(report) == "2 new, 2 already here, 1 refused\nline 9: torn"


@pytest.fixture
def lines(new_book, tmp_path):
    """A file of three lines, and a book to take them in."""
    theirs = new_book()
    for number in range(3):
        theirs.append(BOX, {"word": "soft", "n": number}, trial="First")
    path = tmp_path / "theirs.jsonl"
    write_lines(theirs, path)
    return path, new_book()


def change_line(path: Path, number: int, change) -> None:
    all_lines = path.read_bytes().splitlines()
    all_lines[number - 1] = change(all_lines[number - 1])
    path.write_bytes(b"\n".join(all_lines) + b"\n")


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda line: line.replace(b"soft", b"hard"), "The box of "),
        (lambda line: line[:40], "nothing that labkit wrote, or it is cut short"),
        (lambda line: b"[]", "no entry of a trial book"),
        (lambda line: line.replace(b"soft", b"\xff"), "letters that labkit did not write"),
        (lambda line: line.replace(b'"n":1', b'"n":NaN'), "nothing that labkit wrote"),
        (lambda line: line.replace(b'"n":1', b'"n":1.0'), "not written as labkit writes"),
        (lambda line: b"[" * 100_000, "nothing that labkit wrote"),
    ],
)
def test_tampered_line_is_refused_by_its_number_and_the_others_taken_in(lines, change, words):
    path, book = lines
    change_line(path, 2, change)
    report = take_in_lines(book, path)
    assert (report.new, len(report.refused)) == (2, 1)
    assert report.refused[0].name == "line 2"
    assert words in report.refused[0].why
    assert [each.payload["n"] for each in book.entries()] == [0, 2]


def test_what_mail_programs_and_editors_do_to_a_file_is_no_fault(lines):
    path, book = lines
    path.write_bytes(b"\xef\xbb\xbf\r\n" + path.read_bytes().replace(b"\n", b"\r\n") + b"\n\n")
    assert str(take_in_lines(book, path)) == "3 new, 0 already here, 0 refused"


@pytest.mark.parametrize("left", [1, 200])
def test_a_file_that_was_not_copied_whole(lines, left):
    path, book = lines
    whole = path.read_bytes()
    path.write_bytes(whole[: whole.index(b"\n") + 1 + left] if left > 1 else whole[:-2])
    report = take_in_lines(book, path)
    assert [each.why for each in report.refused] == [
        "It is cut short: the file was not copied whole. Write the book out again where it comes from."
    ]
    assert report.new == (2 if left == 1 else 1)


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "is empty: nothing was in it"),
        (b"butter\nwax\n", "is no trial book that was written out"),
        (b"\xff\xd8\xff\xe0" + bytes(range(256)) * 20, "is no trial book that was written out"),
        (b'{"cells": []}', "is no trial book that was written out"),
    ],
)
def test_a_file_of_another_sort(new_book, tmp_path, content, words):
    (tmp_path / "other").write_bytes(content)
    with pytest.raises(LabError, match=words):
        take_in_lines(new_book(), tmp_path / "other")


def test_a_book_that_was_not_written_out(new_book, tmp_path):
    with TrialBook(tmp_path / "theirs.db"), pytest.raises(LabError, match="Write it out first"):
        take_in_lines(new_book(), tmp_path / "theirs.db")


def test_refused_lines_are_named_whatever_is_wrong_in_them(new_book, tmp_path):
    """Also what only the form of its kind, or the book, can refuse."""
    theirs, book = new_book(), new_book()
    good = theirs.append(BOX, {"n": 1}, trial="First")
    newer = new_entry("kiln.firing", "First", {}, book.maker, schema=9)
    theirs.keep([newer])
    book.keep([new_entry(BOX, "First", {"n": 2}, book.maker, id=good.id)])
    write_lines(theirs, tmp_path / "theirs.jsonl")
    refused = {each.name: each.why for each in take_in_lines(book, tmp_path / "theirs.jsonl").refused}
    assert refused.keys() == {"line 1", "line 2"}
    assert refused["line 1"] == f"The {good.called} is here already with other content, which stays."
    assert refused["line 2"].endswith("Install a newer labkit to read it.")


def test_forged_entries_are_refused_by_their_id(new_book):
    """The hash fits, but the id is taken, the schema is newer, or the payload cannot be."""
    book = new_book()
    here = book.append(BOX, {"n": 1}, trial="First")
    forged = new_entry(BOX, "First", {"n": 2}, book.maker, id=here.id)
    newer = new_entry("kiln.firing", "First", {}, book.maker, schema=9)
    unfit = new_entry("kiln.firing", "First", {"hottest_c": 900}, book.maker, schema=2)
    unknown = new_entry("cellar.cask", "First", {"any": ["thing"]}, book.maker, schema=9)
    report = take_in(book, [forged, newer, unfit, unknown])
    assert report.new == 1
    assert book.get(unknown.id) == unknown
    whys = {each.name: each.why for each in report.refused}
    assert whys.keys() == {here.id, newer.id, unfit.id}
    assert "is here already with other content, which stays" in whys[here.id]
    assert "a newer labkit" in whys[newer.id]
    assert "at most 150 °C; found 900" in whys[unfit.id]
    assert book.get(here.id) == here


def test_two_entries_of_one_id_in_one_file(new_book):
    id, maker = new_id(), new_maker()
    one, two = (new_entry(BOX, "First", {"n": n}, maker, id=id) for n in (1, 2))
    book = new_book()
    report = take_in(book, [one, two])
    assert (report.new, report.already, [each.name for each in report.refused]) == (1, 0, [id])
    assert book.get(id) == one


def test_names_of_people_are_not_written(new_book, tmp_path):
    book = new_book()
    book.append(BOX, {}, trial="First")
    book.name_person("Somebody")
    write_lines(book, tmp_path / "book.jsonl")
    assert b"Somebody" not in (tmp_path / "book.jsonl").read_bytes()


def test_writing_lines_fails_whole(new_book, tmp_path, monkeypatch):
    """Where the disk is full, the file of before is still there and nothing lies beside it."""
    book, path = new_book(), tmp_path / "book.jsonl"
    path.write_text("before")

    def full(handle):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", full)
    with pytest.raises(LabError, match=r"The disk is full: “book\.jsonl” could not be written"):
        write_lines(book, path)
    assert path.read_text() == "before"
    assert not list(tmp_path.glob(".*"))


def test_lines_that_are_not_there(new_book, tmp_path):
    with pytest.raises(LabError, match="cannot be found"):
        take_in_lines(new_book(), tmp_path / "none.jsonl")
    with pytest.raises(LabError, match="cannot be found"):
        write_lines(new_book(), tmp_path / "none" / "book.jsonl")


def test_circle_of_forged_entries_is_told_and_loses_nothing(new_book):
    """Ids can be chosen, so two forged entries may replace one another."""
    ids = sorted((new_id(), new_id()))
    pair = [
        new_entry(BOX, "First", {}, MAKERS[0], id=one, supersedes=(other,)) for one, other in (ids, ids[::-1])
    ]
    book = union(new_book, pair)
    assert book.entries() == []
    assert book.history(ids[0]) == pair
    assert sum("in a circle" in each for each in book.check()) == 2


def test_line_is_canonical():
    entry = new_entry(BOX, "First", {"z": 1, "a": "é"}, MAKERS[0])
    assert entry.line == canonical({**entry._fields(), "hash": entry.hash})
