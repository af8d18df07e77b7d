"""The form without a browser: presses are answered once, refusals keep what was typed."""

import io
import threading

import pytest
import uuid_utils
from PIL import Image

from labkit.errors import LabError
from labkit.ui.form import Field, Form, FormError, Group, Press, Saved
from labkit.ui.guard import Guard


class Book:
    """Keeps drafts and presses in memory."""

    def __init__(self):
        self.drafts, self.ids, self.photos = {}, [], {}

    def has(self, id):
        return id in self.ids

    def draft(self, key):
        return self.drafts.get(key)

    def keep_draft(self, key, draft):
        self.drafts[key] = draft

    def drop_draft(self, key):
        self.drafts.pop(key, None)


GROUPS = [
    Group("note", (Field("word", "Hardness"),)),
    Group("usual", (Field("grams", "Grams", "number"),), rows="grow"),
]


@pytest.fixture
def book():
    return Book()


@pytest.fixture
def made(book):
    sent = []

    def on_press(press):
        word = press.values["note"][0]["word"]
        if word == "bad":
            raise FormError({"note//word": "not that"})
        if word == "broken":
            raise ZeroDivisionError("a fault of the lab")
        book.ids.append(press.id)
        return Saved(f"Saved {word}.", lambda: sent.append("then"))

    def check(values):
        return {"note//word": "too short"} if len(values["note"][0]["word"]) < 2 else {}

    def keep_photo(photo):
        if photo != b"jpeg":
            raise LabError("That is no photo.")
        return "abc"

    def photo_path(name):
        if name not in book.photos:
            raise LabError("That photo is not here.")
        return book.photos[name]

    book.photo_path = photo_path
    form = Form("desk", Guard(), book, on_press, check, keep_photo)
    form.send = lambda content, buffers=None: sent.append(
        content if not buffers else {**content, "bytes": buffers[0]}
    )
    form.sent = sent
    form.ask(GROUPS, "pour 1")
    return form


def press(word, id=None, key="pour 1"):
    return Press(id or str(uuid_utils.uuid7()), "2026-03-02T10:00:00+00:00", key, {"note": [{"word": word}]})


def test_a_press_is_answered_before_the_panel_is_drawn_again(made):
    made.press(press("soft"))
    assert [each if isinstance(each, str) else each["say"] for each in made.sent] == ["Saved soft.", "then"]


def test_a_press_sent_again_is_answered_and_not_written_again(made, book):
    sent = press("soft")
    first, second = made.press(sent), made.press(sent)
    assert first["saved"]
    assert second["saved"]
    assert book.ids == [sent.id]


def test_a_refusal_says_where_and_is_not_an_error_of_the_panel(made):
    answer = made.press(press("bad"))
    assert answer["faults"] == {"note//word": "not that"}
    assert "saved" not in answer
    assert made._guard.errors == []


def test_a_fault_of_the_lab_is_said_logged_and_keeps_what_was_typed(made, book, caplog):
    book.keep_draft("desk/pour 1", {"values": "typed"})
    answer = made.press(press("broken"))
    assert "Not saved" in answer["say"]
    assert "ZeroDivisionError" in made._guard.errors[0]
    assert "ZeroDivisionError" in caplog.text
    assert book.draft("desk/pour 1")


def test_what_is_typed_is_checked_and_kept(made, book):
    made.draft = {"key": "pour 1", "at": 1, "values": {"note": [{"word": "s"}]}}
    assert made.faults == {"note//word": "too short"}
    assert book.draft("desk/pour 1")["values"] == {"note": [{"word": "s"}]}
    made.draft = {"key": "pour 1", "at": 2, "values": {"note": [{"word": "soft"}]}}
    assert made.faults == {}


def test_a_draft_comes_back_with_its_subject(made, book):
    made.draft = {"key": "pour 1", "at": 1, "values": {"note": [{"word": "so"}]}}
    made.ask(GROUPS, "pour 2")
    assert made.draft == {}
    made.ask(GROUPS, "pour 1")
    assert made.draft["values"] == {"note": [{"word": "so"}]}


def test_a_saved_press_drops_its_draft(made, book):
    made.draft = {"key": "pour 1", "at": 1, "values": {"note": [{"word": "soft"}]}}
    made.press(press("soft"))
    assert book.draft("desk/pour 1") is None


def test_a_photo_is_kept_or_refused_in_words(made):
    made._received(None, {"photo": {"path": ["note", "", "photo"]}}, [memoryview(b"jpeg")])
    made._received(None, {"photo": {"path": ["note", "", "photo"]}}, [memoryview(b"text")])
    assert [each.get("name") for each in made.sent] == ["abc", None]
    assert made.sent[1]["say"] == "That is no photo."


def test_a_refused_place_is_free_again_once_it_is_mended(made):
    """The button stayed dead: the kernel did not know the faults of a press, so never took them back."""
    made.press(press("bad"))
    assert made.faults == {"note//word": "not that"}
    made.draft = {"key": "pour 1", "at": 1, "values": {"note": [{"word": "soft"}]}}
    assert made.faults == {}


def test_a_draft_of_a_subject_that_is_gone_is_no_error(made, book):
    made.draft = {"key": "pour 99", "at": 1, "values": {"gone": [{"x": "y"}]}}
    made.draft = {"key": "pour 1", "at": 2}
    made.draft = {}
    assert made._guard.errors == []
    assert made.faults == {}
    assert book.drafts == {}


def test_a_draft_that_its_press_has_overtaken_is_not_kept_again(made, book):
    """The browser holds a draft back while the kernel is busy: it came after its own press was saved."""
    sent = press("soft")
    before = int(sent.id.replace("-", "")[:12], 16) - 1
    made.press(sent)
    made.draft = {"key": "pour 1", "at": before, "values": {"note": [{"word": "soft"}]}}
    assert book.draft("desk/pour 1") is None
    made.draft = {"key": "pour 1", "at": before + 2, "values": {"note": [{"word": "firm"}]}}
    assert book.draft("desk/pour 1")["values"] == {"note": [{"word": "firm"}]}


def test_what_was_saved_is_no_draft_of_the_form_any_more(made):
    made.draft = {"key": "pour 1", "at": 1, "values": {"note": [{"word": "soft"}]}}
    made.press(press("soft"))
    assert made.draft == {}


def test_typing_does_not_take_away_what_the_guard_says_and_a_press_does(made):
    with made._guard:
        raise LabError("It has failed.")
    made.draft = {"key": "pour 1", "at": 1, "values": {"note": [{"word": "soft"}]}}
    assert "It has failed." in made._guard.box.value
    made.press(press("soft"))
    assert made._guard.box.value == ""


def test_a_form_can_be_brought_into_view(made):
    made.bring_into_view()
    assert made.sent == [{"view": True}]


def test_a_kept_photo_is_shown_small_or_is_said_to_be_missing(made, book, tmp_path):
    book.photos["abc"] = tmp_path / "photo.png"
    Image.new("RGBA", (1000, 500), (200, 30, 40, 255)).save(book.photos["abc"])
    made._received(None, {"look": "abc"}, [])
    made._received(None, {"look": "other"}, [])
    small = Image.open(io.BytesIO(made.sent[0]["bytes"]))
    assert (small.format, small.size) == ("JPEG", (240, 120))
    assert made.sent[1] == {"look": "other", "say": "That photo is not here."}


def test_a_press_waits_until_what_an_earlier_one_shows_is_shown(book):
    """A kernel hears each form in a thread of its own; what is drawn last must be what was pressed last."""
    drawing, go_on, shown = threading.Event(), threading.Event(), []

    def slow():
        drawing.set()
        go_on.wait(10)
        shown.append("first")

    thens = {"first": slow, "second": lambda: shown.append("second")}

    def form(name):
        return Form(
            name,
            Guard(),
            book,
            lambda press: Saved("Saved.", thens[name]),
            lambda values: {},
            lambda photo: "",
        )

    def heard(name):
        press = {"id": str(uuid_utils.uuid7()), "at": "", "key": "", "values": {}}
        return threading.Thread(target=form(name)._received, args=(None, {"press": press}, []))

    first, second = heard("first"), heard("second")
    first.start()
    assert drawing.wait(10)
    second.start()
    second.join(0.2)
    assert second.is_alive()
    go_on.set()
    first.join(10)
    second.join(10)
    assert shown == ["first", "second"]
