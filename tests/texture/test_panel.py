"""The panel without a browser: driven by its forms' presses, checked against the book."""

from datetime import datetime, timedelta

import pandas as pd
import pytest
import uuid_utils
from presses import press, standing_in
from recipes import MONDAY

from labkit.book import TrialBook
from labkit.errors import LabError
from labkit.texture import wording
from labkit.texture.begin import start_trial
from labkit.texture.kept_forecasts import forecasts
from labkit.texture.learn import learn
from labkit.texture.marks_map import mark_model
from labkit.texture.panel import NEW_TRIAL, TexturePanel
from labkit.texture.pour_part import JARS, OFF_CARD, STOCKS
from labkit.texture.record import PlannedPour
from labkit.texture.story import trials_table
from labkit.texture.trial import TextureTrial
from labkit.texture.trials import trial_names
from labkit.texture.usual import base_shares
from labkit.ui.form import Press

ASKED = {
    "usual": [
        {"name": "shea butter", "grams": "12", "part": "guess from its name"},
        {"name": "castor oil", "grams": "20"},
        {"name": "beeswax", "grams": "6,5"},
        {"name": "red iron oxide", "grams": "3"},
        {"name": "", "grams": ""},
    ],
    "asked": [{"wrong": "too soft", "step": "0.1"}],
}


def choose(panel, label):
    panel.mending.what.value = next(
        value for each, value in panel.mending.what.options if each.startswith(label)
    )


def shown_widget(widget):
    return widget.layout.display != "none"


def shown(panel, place):
    return panel.places[place].layout.display != "none"


@pytest.fixture
def panel(book):
    made = TexturePanel(book)
    yield made
    assert made.errors == []


@pytest.fixture
def asked(panel):
    assert press(panel.question_form, ASKED)["saved"]
    return panel


def test_a_new_book_shows_the_invented_example_and_three_questions(panel):
    assert "Answer three questions" in panel.standing.value
    assert "Invented example" in panel.example.value
    assert shown(panel, "question")
    assert not any(shown(panel, place) for place in ("card", "pour", "note", "map", "next"))
    titles = [group["title"] for group in panel.question_form.groups if not group["more"]]
    assert titles[0] == "1. What is your usual recipe?"


def test_the_example_feeds_no_fit_of_ones_own(asked):
    assert trial_names(asked.book) == [asked.trial.name]
    assert asked.trial.model is None


def test_a_trial_goes_round(asked):
    assert "Weigh card" in asked.card.html
    for number, word in enumerate(("soft", "soft", "just right"), 1):
        assert press(asked.pour_part.form)["say"] == f"Saved: pour {number} is in your book."
        answer = press(asked.note_part.form, note__word=word)
        assert answer["say"].startswith(f"Saved: pour {number}: “{word}”. Don't judge pour {number} yet: ")
    assert not shown(asked, "map")
    assert press(asked.next_form)["say"] == "On the weigh card: pour 4."
    press(asked.pour_part.form)
    press(asked.note_part.form, note__word="firm")
    assert shown(asked, "map")
    assert "Most likely “just right” as things stand" in asked.standing.value
    assert asked.map.value.count('alt="Map of the base: ') == 2
    assert "as informative as the best plan found" in press(asked.plan_form)["say"]
    assert len(asked.trial.waiting) == 6


def test_everything_is_there_tomorrow(asked):
    press(asked.pour_part.form)
    press(asked.note_part.form, note__word="soft")
    again = TexturePanel(asked.book)
    assert again.trial.name == asked.trial.name
    assert again.logged.value == asked.logged.value
    assert again.pour_part.which.options == asked.pour_part.which.options


def test_a_press_sent_again_after_a_restart_is_in_the_book_once(asked):
    id, values = str(uuid_utils.uuid7()), standing_in(asked.pour_part.form)
    key = asked.pour_part.form.key
    sent = Press(id, datetime.now().astimezone().isoformat(), key, values)
    asked.pour_part.form.press(sent)
    with TrialBook(asked.book.path) as book:
        assert TexturePanel(book).pour_part.form.press(sent)["saved"]
        assert len(TextureTrial(book).casts) == 1


def test_what_is_missing_is_said_at_its_place(panel):
    answer = press(panel.question_form, {"usual": [{"name": "shea butter", "grams": ""}], "asked": [{}]})
    assert answer["faults"] == {
        "usual/1/grams": "How many grams of shea butter?",
        "asked//wrong": "Choose one: it decides the first change.",
        "asked//step": "Type your scale's step, such as 0.1.",
    }
    assert panel.book.entries() == []


@pytest.mark.parametrize(
    ("place", "text", "message"),
    [
        ("usual/1/grams", "1,234", "could be 1.234 or 1234"),
        ("usual/1/grams", "-2", "cannot be weighed"),
        ("usual/1/grams", "12 %", "ends in"),
        ("usual/2/name", "shea butter", "there already"),
        ("asked//step", "0", "smallest change"),
        ("details//ladder", "soft", "Two words or more"),
        ("details//wanted", "frim", "“firm”"),
        ("details//ladder", "soft, sd", "name of a column"),
        ("details//ladder", "soft, Soft", "each once"),
        ("details//rules", "wax >= 2*waxx", "waxx"),
        ("details//rules", "wax >= 0.9", "wax"),
        ("usual/2/name", "Shea Butter", "there already"),
        ("usual/2/name", "x" * 300, "at most 200 letters"),
        ("bounds/wax/low", "abc", "no number"),
        ("bounds/wax/high", "120", "all there is to vary"),
    ],
)
def test_a_bad_entry_is_marked_while_it_is_typed(panel, place, text, message):
    values = {
        **{name: [dict(row) for row in rows] for name, rows in ASKED.items()},
        "details": [{"ladder": "smears, soft, just right, firm, draggy"}],
        "bounds": [{"_row": "wax", "low": "8", "high": "20"}],
    }
    group, row, name = place.split("/")
    rows = values[group]
    found = next(
        (each for each in rows if each.get("_row") == row), rows[int(row) - 1 if row.isdigit() else 0]
    )
    found[name] = text
    panel.question_form.draft = {"key": NEW_TRIAL, "at": 1, "values": values}
    assert message in panel.question_form.faults[place]
    assert "saved" not in press(panel.question_form, values)


def test_bounds_that_leave_nothing_are_explained_on_the_form(panel):
    bounds = [
        {"_row": part, "low": low, "high": "90"}
        for part, low in (("butter", "50"), ("oil", "40"), ("wax", "30"))
    ]
    answer = press(panel.question_form, {**ASKED, "bounds": bounds})
    assert "saved" not in answer
    assert answer["faults"]["bounds/wax/low"] == (
        "All lowest together are 120.0 %, and the base is 92.8 %: lower one of them."
    )


def test_bounds_appear_as_parts_become_known(panel):
    assert "bounds" not in [group["name"] for group in panel.question_form.groups]
    panel.question_form.draft = {"key": NEW_TRIAL, "at": 1, "values": ASKED}
    bounds = next(group for group in panel.question_form.groups if group["name"] == "bounds")
    assert bounds["rows"] == ["butter", "oil", "wax"]


def test_default_bounds_follow_the_grams_as_they_are_typed(panel):
    """They stood still at those of “1” when “12” was typed slowly."""
    slowly = [{**row} for row in ASKED["usual"]]
    for at, grams in enumerate(("1", "12"), 1):
        slowly[2]["grams"] = grams
        panel.question_form.draft = {"key": NEW_TRIAL, "at": at, "values": {**ASKED, "usual": slowly}}
    press(
        panel.question_form, {**ASKED, "usual": slowly, "bounds": [{"_row": "wax", "low": "", "high": "40"}]}
    )
    question = panel.trial.question
    assert question.low["wax"] == pytest.approx(12 / 44 - 0.1, abs=0.001)
    assert question.high["wax"] == pytest.approx(0.40 * 47 / 44, abs=0.001)
    assert panel.trial.region.contains([[12 / 44, 20 / 44, 12 / 44]])[0]


def test_a_pour_is_mended_and_a_note_taken_back(asked):
    press(asked.pour_part.form)
    press(asked.note_part.form, note__word="soft")
    choose(asked, "pour 1")
    assert not shown_widget(asked.pour_part.which)
    values = standing_in(asked.pour_part.form)
    values["weighed"][0]["grams"] = "12.4"
    assert "mended" in press(asked.pour_part.form, values)["say"]
    assert asked.book.frame("texture.pour")["shea butter_g"].tolist() == [12.4]
    choose(asked, "note")
    assert "mended" in press(asked.note_part.form, note__word="firm")["say"]
    assert asked.trial.notes()["word"].tolist() == ["firm"]
    choose(asked, "note")
    assert "firm" in asked.mending.told.value
    asked.mending.take_back.click()
    assert "Taken back: the note" in asked.mending.told.value
    assert asked.trial.notes().empty
    assert len(asked.trial.casts) == 1
    choose(TexturePanel(asked.book), "taken back: note on pour 1 “firm”")
    choose(asked, "taken back: note")
    asked.mending.put_back.click()
    assert asked.trial.notes()["word"].tolist() == ["firm"]


def test_a_pour_taken_back_says_that_its_notes_go_with_it_and_comes_back(asked):
    press(asked.pour_part.form)
    for word in ("smears", "soft"):
        press(asked.note_part.form, note__word=word)
    choose(asked, "pour 1")
    asked.mending.take_back.click()
    assert "Taken back: pour 1, and with it its 2 notes" in asked.mending.told.value
    assert asked.trial.casts == []
    choose(asked, "taken back: pour 1")
    asked.mending.put_back.click()
    assert len(asked.trial.notes()) == 2
    assert not shown_widget(asked.mending.put_back)


def test_a_planned_pour_is_taken_off_the_card(asked):
    choose(asked, "on the card: pour 2")
    asked.mending.take_back.click()
    assert [value for _, value in asked.pour_part.which.options] == ["1", "3", OFF_CARD]


def test_a_pour_that_was_not_planned_is_logged_with_the_next_number(asked):
    asked.pour_part.which.value = OFF_CARD
    assert asked.pour_part.form.press_label == "Pour 4 is poured: save it"
    values = standing_in(asked.pour_part.form)
    assert [row["grams"] for row in values["weighed"]] == ["12.0", "20.0", "6.5", "3.0"]
    assert press(asked.pour_part.form, values)["say"] == "Saved: pour 4 is in your book."
    assert len(asked.trial.waiting) == 3


def test_mending_a_pour_keeps_grams_as_they_were_saved_beside_what_was_planned(asked):
    asked.trial.log_pour(
        1, {"shea butter": 12.345, "castor oil": 19.0, "beeswax": 7.0, "red iron oxide": 3.0}
    )
    asked.open_trial(asked.trial.entry)
    choose(asked, "pour 1")
    rows = standing_in(asked.pour_part.form)["weighed"]
    assert [row["planned"] for row in rows] == ["12.0", "20.0", "6.5", "3.0"]
    assert press(asked.pour_part.form)["saved"]
    assert asked.trial.cast(1).pour.weighed_g["shea butter"] == 12.345


def test_a_number_that_is_emptied_is_gone(asked):
    press(asked.pour_part.form, pour_more__hottest_c="82")
    choose(asked, "pour 1")
    press(asked.pour_part.form, pour_more__hottest_c="", pour__sticks="")
    assert asked.trial.cast(1).pour.hottest_c is None


def test_two_panels_cannot_save_one_number_twice(asked):
    other = TexturePanel(asked.book)
    press(asked.pour_part.form)
    values = standing_in(other.pour_part.form)
    values["weighed"][0]["grams"] = "12.7"
    answer = press(other.pour_part.form, values)
    assert "Pour 1 is in your book already" in answer["say"]
    other.pour_part.which.value = OFF_CARD
    assert press(other.pour_part.form, values)["saved"]
    assert [cast.pour.number for cast in TextureTrial(asked.book).casts] == [1, 4]


def test_another_trial_is_started_and_the_first_one_opened_again(asked):
    first = asked.trial.entry
    asked.trials.value = NEW_TRIAL
    assert asked.trial is None
    assert shown(asked, "question")
    press(asked.question_form, {**ASKED, "asked": [{"wrong": "too hard", "step": "1"}]})
    assert asked.trial.name.startswith("My usual is too hard, ")
    asked.trials.value = first
    assert asked.trial.question.step_g == 0.1


def test_a_time_still_to_come_is_refused_and_an_earlier_one_kept(asked):
    assert (
        "still to come"
        in press(asked.pour_part.form, pour__poured_at="2999-01-01T10:00")["faults"]["pour//poured_at"]
    )
    assert press(asked.pour_part.form, pour__poured_at="2026-03-02T10:00")["saved"]
    assert asked.trial.cast(1).pour.poured_at.astimezone().strftime("%Y-%m-%d %H:%M") == "2026-03-02 10:00"


def test_a_note_before_its_pour_is_refused_in_words(asked):
    press(asked.pour_part.form)
    answer = press(asked.note_part.form, note__word="soft", note__felt_at=MONDAY.strftime("%Y-%m-%dT%H:%M"))
    assert "comes after its pour" in answer["say"]


def test_names_are_shown_as_text(panel):
    nasty = "<img src=x onerror=alert(1)> butter"
    values = {**ASKED, "usual": [{"name": nasty, "grams": "12", "part": "butter"}, *ASKED["usual"][1:]]}
    press(panel.question_form, values)
    press(panel.pour_part.form)
    press(panel.note_part.form, note__word="soft")
    widgets = (
        panel.card.html,
        panel.standing.value,
        panel.logged.value,
        panel.advice.value,
        panel.words.value,
    )
    assert not any("<img src=x" in text for text in widgets)
    assert "&lt;img src=x" in panel.card.html


def test_a_book_that_cannot_be_opened_is_said_on_the_panel(tmp_path, monkeypatch):
    (tmp_path / "lab-book.db").write_text("not a book")
    monkeypatch.setenv("LABKIT_BOOK", str(tmp_path / "lab-book.db"))
    panel = TexturePanel()
    assert "no trial book" in panel.guard.box.value
    assert panel.errors


def test_what_ingredients_count_as_is_said_while_they_are_typed(panel):
    panel.question_form.draft = {"key": NEW_TRIAL, "at": 1, "values": ASKED}
    usual = panel.question_form.groups[0]
    assert usual["intro"].startswith("Counts as butter: shea butter; oil: castor oil; wax: beeswax; held")


def test_a_question_with_parts_of_ones_own_and_commas_in_its_words_is_saved_as_it_stands(panel):
    usual = [
        {**row, "part": "fat" if at == 0 else row.get("part", "")} for at, row in enumerate(ASKED["usual"])
    ]
    usual[1] = {**usual[1], "part": "a part of its own"}
    details = [{"ladder": "soft, a bit; right; hard", "wanted": "right", "name": "new"}]
    press(panel.question_form, {**ASKED, "usual": usual, "details": details})
    before = panel.trial.question
    assert before.ladder == ("soft, a bit", "right", "hard")
    assert before.parts == ("fat", "castor oil", "wax")
    assert press(panel.question_form)["say"] == "Saved: the question is changed."
    assert panel.trial.question == before
    assert panel.trial.name == "new"


def test_a_trial_whose_name_holds_marks_takes_pours_and_notes(panel):
    details = [{"name": "wax /note 3 / new"}]
    press(panel.question_form, {**ASKED, "details": details})
    assert press(panel.pour_part.form)["saved"]
    assert press(panel.note_part.form, note__word="soft")["saved"]
    assert len(panel.trial.notes()) == 1


def test_the_card_on_paper_has_its_trial_and_room_for_what_was_weighed(asked):
    paper = asked.card.html.split('<div class="labkit-paper">')[1]
    assert asked.trial.name in paper
    assert paper.count(">weighed<") == 3
    for _ in range(3):
        press(asked.pour_part.form)
    assert not asked.card.printable


def test_where_the_bounds_let_one_look_is_drawn_before_there_is_a_map(asked):
    assert shown(asked, "region")
    assert "<img" in asked.region.value
    assert "% of the finished product" in asked.region.value


def test_what_was_written_beside_a_pour_can_be_read(asked):
    press(asked.pour_part.form, pour__sticks="5", pour_more__hottest_c="82", pour_more__lots="beeswax <7>")
    press(asked.note_part.form, note__word="soft", note_more__remark="grainy")
    assert "sticks 5; hottest temperature 82 °C; lots: beeswax &lt;7&gt;" in asked.logged.value
    assert "remark: grainy" in asked.logged.value


def test_several_next_pours_are_all_named(asked):
    press(asked.pour_part.form)
    press(asked.note_part.form, note__word="soft")
    assert press(asked.next_form, next__pours="3")["say"] == "On the weigh card: pours 4, 5 and 6."


def test_what_a_form_said_goes_once_something_else_is_done(asked):
    """“On the weigh card: pour 4” stood there when pour 4 was poured or taken off again."""
    told = []
    for form in asked.desk.forms:
        form.send = lambda content, form=form: told.append((form.desk.rpartition("/")[2], content))
    press(asked.pour_part.form)
    names = [each.desk.rpartition("/")[2] for each in asked.desk.forms]
    assert [name for name, content in told if content.get("unsay")] == names
    assert told[-1] == ("pour", told[-1][1])
    assert told[-1][1]["say"] == "Saved: pour 1 is in your book."
    told.clear()
    choose(asked, "on the card: pour 2")
    asked.mending.take_back.click()
    assert [name for name, content in told if content.get("unsay")] == names


# ---------------------------------------------------------------- readings, comparisons, marks


def test_a_note_may_be_a_reading_a_comparison_or_marks_without_a_word(asked):
    for _ in range(2):
        press(asked.pour_part.form)
    saved = press(
        asked.note_part.form, reading__read_with="needle", reading__reading="62", reading__load_g="100"
    )
    assert saved["say"].startswith("Saved: pour 2: 62 × 0.1 mm by needle.")
    saved = press(asked.note_part.form, compared__relation="harder", compared__than="pour 1")
    assert saved["say"].startswith("Saved: pour 2: harder than pour 1.")
    assert press(asked.note_part.form, marks__glide="7", note_more__tester="Ana")["saved"]
    notes = asked.trial.notes()
    assert notes["instrument"].tolist() == ["needle, 100 g, 5 s", "", ""]
    assert notes["than"].tolist() == ["", "pour 1", ""]
    assert notes["tester"].tolist() == ["", "", "Ana"]
    assert "Ana" not in "".join(entry.line for entry in asked.book.all_entries())


def test_an_instrument_is_filled_in_the_next_time(asked):
    press(asked.pour_part.form)
    press(
        asked.note_part.form,
        reading__read_with="cone",
        reading__reading="80",
        reading__load_g="150",
        reading__angle_deg="40",
    )
    assert standing_in(asked.note_part.form)["reading"][0] == {
        "read_with": "cone", "reading": "", "load_g": "150", "angle_deg": "40", "rod_mm": "",
    }  # fmt: skip
    assert press(asked.note_part.form, note__word="soft")["saved"]
    assert asked.trial.notes()["instrument"].tolist() == ["cone of 40°, 150 g, 5 s", ""]


@pytest.mark.parametrize(
    ("typed", "place", "message"),
    [
        ({}, "note//word", "Choose the word"),
        ({"reading__reading": "62"}, "reading//read_with", "read with"),
        ({"reading__reading": "62", "reading__read_with": "needle"}, "reading//load_g", "load"),
        (
            {"reading__reading": "0", "reading__read_with": "needle", "reading__load_g": "100"},
            "reading//reading",
            "above 0 and at most",
        ),
        (
            {"reading__reading": "700", "reading__read_with": "needle", "reading__load_g": "100"},
            "reading//reading",
            "beyond",
        ),
        ({"compared__relation": "harder"}, "compared//than", "Harder than what"),
        ({"compared__than": "pour 1"}, "compared//relation", "Harder, the same or softer"),
        ({"compared__relation": "same", "compared__than": "pour 1"}, "compared//than", "itself"),
        ({"marks__glide": "11"}, "marks//glide", "between 0 and 10"),
    ],
)
def test_what_a_note_cannot_be_is_marked_at_its_place(asked, typed, place, message):
    press(asked.pour_part.form)
    assert message in press(asked.note_part.form, **typed)["faults"][place]
    assert asked.trial.notes().empty


def test_a_comparison_with_a_pour_that_is_not_there_is_said(asked):
    press(asked.pour_part.form)
    answer = press(asked.note_part.form, compared__relation="same", compared__than="pour 7")
    assert "There is no pour 7 to compare with" in answer["faults"]["compared//than"]


@pytest.mark.parametrize(
    ("typed", "near"),
    [("puor 1", "Did you mean “pour 1”"), ("my refrence stik", "Did you mean “my reference stick”"),
     ("wax", "Known: “pour 1”")],
)  # fmt: skip
def test_what_is_compared_with_is_asked_about_where_it_is_not_known(asked, typed, near):
    """A mistyped name silently became a reference stick of its own."""
    for _ in range(2):
        press(asked.pour_part.form)
    compared = {"compared__relation": "harder", "compared__than": typed}
    fault = press(asked.note_part.form, **compared)["faults"]["compared//than"]
    assert f"“{typed}” is no pour and no reference stick so far. {near}" in fault
    shown = standing_in(asked.note_part.form)
    shown["compared"][0] |= {"relation": "harder", "than": typed}
    asked.note_part.form.draft = {"key": asked.note_part.form.key, "at": 1, "values": shown}
    assert asked.note_part.form.faults == {"compared//than": fault}
    with pytest.raises(LabError, match="say that it is a new reference stick"):
        asked.trial.log_note(2, relation="harder", than=typed)
    assert asked.trial.notes().empty


def test_a_reference_stick_is_named_once_and_known_from_then_on(asked):
    for _ in range(2):
        press(asked.pour_part.form)
    offered = lambda: asked.note_part.form.groups[1]["fields"][1]["choices"]  # noqa: E731
    assert offered() == ["pour 1", "pour 2", "my reference stick"]
    compared = {"compared__relation": "harder", "compared__than": "May stick"}
    assert press(asked.note_part.form, **compared, compared__new_stick="yes")["saved"]
    assert offered() == ["pour 1", "pour 2", "May stick", "my reference stick"]
    assert press(asked.note_part.form, compared__relation="same", compared__than="may stick")["saved"]
    press(asked.note_part.form, compared__relation="softer", compared__than="My reference stick")
    assert asked.trial.notes()["than"].tolist() == ["May stick", "May stick", "my reference stick"]
    assert asked.trial.sticks == ["May stick", "my reference stick"]


def test_a_note_compared_with_a_pour_that_was_taken_back_does_not_get_a_stick_of_that_name(asked):
    for _ in range(2):
        press(asked.pour_part.form)
    press(asked.note_part.form, note__word="soft", compared__relation="softer", compared__than="pour 1")
    asked.trial.take_back(asked.trial.cast(1).version)
    asked.open_trial(asked.trial.entry)
    choose(asked, "note: pour 2")
    assert "Put it back" in press(asked.note_part.form, note__word="firm")["faults"]["compared//than"]
    assert press(asked.note_part.form, compared__relation="", compared__than="")["saved"]
    assert asked.trial.notes()["than"].tolist() == [""]


def test_a_note_with_all_that_is_mended_as_it_stands(asked):
    for _ in range(2):
        press(asked.pour_part.form)
    press(
        asked.note_part.form, note__word="soft", compared__relation="softer", compared__than="pour 1",
        reading__read_with="rod", reading__reading="250", reading__rod_mm="4", marks__drag="3",
        note_more__tester="Ana", note_more__blind_code="K7",
    )  # fmt: skip
    before = asked.book.frame("texture.note").drop(columns=["time"])
    choose(asked, "note")
    assert press(asked.note_part.form)["saved"]
    pd.testing.assert_frame_equal(asked.book.frame("texture.note").drop(columns=["time"]), before)


# ---------------------------------------------------------------- looking again, a second question


def test_a_look_is_ticked_and_taken_back(asked):
    press(asked.pour_part.form)
    answer = press(asked.look_again.form, seen__grainy="yes", seen__bent="yes", looked__after="a warm turn")
    assert answer["say"] == "Saved: pour 1: grainy, bent."
    assert asked.trial.looks()["defects"].tolist() == [("grainy", "bent")]
    assert "What was seen" in asked.look_again.due.value
    assert "data:text/calendar;base64," in asked.look_again.due.value
    choose(asked, "look: pour 1 grainy, bent")
    asked.mending.take_back.click()
    assert asked.trial.looks().empty


def test_a_look_says_what_was_seen_or_that_it_is_sound(asked):
    """A second press right after one that was ticked saved “still sound” beside it."""
    press(asked.pour_part.form)
    for ticks in ({}, {"seen__still sound": "yes", "seen__bent": "yes"}):
        assert "seen//still sound" in press(asked.look_again.form, **ticks)["faults"]
    assert (
        press(asked.look_again.form, **{"seen__still sound": "yes"})["say"] == "Saved: pour 1: still sound."
    )


def test_a_pour_that_waits_for_its_look_is_named(asked):
    asked.trial.log_pour(1, poured_at=datetime.now().astimezone() - timedelta(days=8))
    panel = TexturePanel(asked.book)
    assert "pour 1" in panel.look_again.due.value.casefold()
    assert "week 1" in panel.standing.value


def test_a_second_question_is_answered_and_put_on_the_card(asked):
    for word in ("soft", "soft", "just right"):
        press(asked.pour_part.form)
        press(asked.note_part.form, note__word=word)
    values = standing_in(asked.second.form)
    values["wishes"][0]["low"] = "33"
    assert press(asked.second.form, values, second__wanted="firm")["say"] == "Answered."
    assert "Most likely “firm” with at least 33 % butter" in asked.second.answered.value
    asked.second.put.click()
    assert asked.trial.waiting[-1].shares["butter"] >= 0.33 * 41.5 / 38.5 - 0.002
    assert asked.book.frame("texture.question").shape[0] == 1


def test_a_second_question_that_cannot_be_is_said_at_its_place(asked):
    press(asked.pour_part.form)
    press(asked.note_part.form, note__word="soft")
    values = standing_in(asked.second.form)
    values["wishes"][2] |= {"low": "20", "without": "yes"}
    assert "Not both" in press(asked.second.form, values)["faults"]["wishes/wax/without"]
    values["wishes"][2] |= {"low": "99", "without": ""}
    assert "all there is to vary" in press(asked.second.form, values)["faults"]["wishes/wax/low"]


# ---------------------------------------------------------------- stock melts


def melt(panel, name, **grams):
    values = standing_in(panel.stocks.form)
    values["stock"][0]["name"] = name
    for row in values["melted"]:
        row["grams"] = grams.get(row["_row"].replace(" ", "_"), "")
    return press(panel.stocks.form, values)


@pytest.fixture
def melted(asked):
    press(asked.pour_part.form)
    assert "One more" in melt(asked, "soft", shea_butter="100", castor_oil="180", beeswax="20")["say"]
    assert "2 to pour from" in melt(asked, "waxy", shea_butter="100", castor_oil="120", beeswax="80")["say"]
    return asked


def test_a_pour_from_stock_melts_holds_what_the_stocks_hold(melted):
    melted.pour_part.source.value = STOCKS
    values = standing_in(melted.pour_part.form)
    assert [row["_row"] for row in values["weighed"]] == ["soft", "waxy", "red iron oxide"]
    for row, grams in zip(values["weighed"], ("20", "10", "3"), strict=True):
        row["grams"] = grams
    assert press(melted.pour_part.form, values)["saved"]
    weighed = melted.trial.casts[-1].pour.weighed_g
    assert weighed["shea butter"] == pytest.approx(10.0)
    assert weighed["beeswax"] == pytest.approx(20 * 20 / 300 + 10 * 80 / 300)
    assert weighed["red iron oxide"] == 3.0
    assert "From stock melts: 20 g soft, 10 g waxy" in melted.logged.value


def test_a_pour_from_stock_melts_is_mended_as_one(melted):
    melted.pour_part.source.value = STOCKS
    values = standing_in(melted.pour_part.form)
    for row, grams in zip(values["weighed"], ("20", "10", "3"), strict=True):
        row["grams"] = grams
    press(melted.pour_part.form, values)
    before = melted.trial.casts[-1].pour
    choose(melted, f"pour {before.number}")
    assert press(melted.pour_part.form)["saved"]
    after = melted.trial.casts[-1].pour
    assert after.stocks_g == before.stocks_g
    assert after.weighed_g == pytest.approx(before.weighed_g, abs=0.001)


def test_what_the_stocks_cannot_give_is_said_on_the_card(melted):
    assert "The same base from your stock melts" in melted.card.html
    melted.trial.put_on_card([PlannedPour(number=9, shares={"butter": 0.1, "oil": 0.5, "wax": 0.4})])
    melted.open_trial(melted.trial.entry)
    assert "Pour 9: " in melted.card.html
    melted.pour_part.which.value = "9"
    melted.pour_part.source.value = STOCKS
    assert "The grams here are for the nearest." in melted.pour_part.reach.value
    melted.pour_part.source.value = JARS
    assert melted.pour_part.reach.value == ""


def test_what_is_the_same_for_several_pours_is_said_once(melted):
    far = {"butter": 0.1, "oil": 0.5, "wax": 0.4}
    melted.trial.put_on_card([PlannedPour(number=number, shares=far) for number in (9, 10)])
    melted.open_trial(melted.trial.entry)
    assert "<p>Pour 9, 10: “soft”, “waxy” cannot give it" in melted.card.html


def test_what_weighing_the_stocks_does_to_the_map_is_said(melted):
    half = PlannedPour(number=9, shares={"butter": 1 / 3, "oil": 0.5, "wax": 1 / 6})
    melted.trial.put_on_card([half])
    press(melted.note_part.form, note__word="soft")
    assert "Weighing the stocks moves the whole map by about" in melted.card.html


def test_a_stock_holds_what_is_varied_alone_and_has_a_name_of_its_own(melted):
    assert "already" in melt(melted, "Soft", beeswax="3")["say"]
    with pytest.raises(LabError, match="held constant"):
        melted.trial.log_stock("red", {"beeswax": 3.0, "red iron oxide": 1.0})
    answer = melt(melted, "")
    assert answer["faults"] == {
        "stock//name": "Give it a name, such as “soft”.",
        "melted/shea butter/grams": "Nothing is in it yet.",
    }


def test_a_stock_is_taken_back_and_put_back(melted):
    choose(melted, "stock “soft”")
    melted.mending.take_back.click()
    assert "Taken back: the stock “soft”" in melted.mending.told.value
    assert melted.trial.melts.names == ["waxy"]
    assert "stock melts" not in melted.card.html
    choose(melted, "taken back: stock “soft”")
    melted.mending.put_back.click()
    assert sorted(melted.trial.melts.names) == ["soft", "waxy"]
    assert "The same base from your stock melts" in melted.card.html
    choose(melted, "stock “soft”")
    assert "taken back" in melted.mending.told.value
    melted.mending.take_back.click()
    assert melted.trial.melts.names == ["waxy"]
    assert melted.book.forks() == {}


def test_a_stock_is_not_put_back_beside_another_of_its_name(melted):
    choose(melted, "stock “soft”")
    melted.mending.take_back.click()
    melt(melted, "soft", castor_oil="100")
    choose(melted, "taken back: stock “soft”")
    melted.mending.put_back.click()
    assert "There is a stock “soft” already" in melted.errors.pop()
    assert len(melted.trial.melts.melts) == 2


def test_a_pour_from_a_stock_that_was_taken_back_shows_no_id(melted):
    melted.pour_part.source.value = STOCKS
    values = standing_in(melted.pour_part.form)
    for row, grams in zip(values["weighed"], ("20", "10", "3"), strict=True):
        row["grams"] = grams
    press(melted.pour_part.form, values)
    entry = next(iter(melted.trial.melts.melts))
    choose(melted, "stock “soft”")
    melted.mending.take_back.click()
    assert "20 g of a stock that was taken back, 10 g waxy" in melted.logged.value
    assert entry not in melted.logged.value


def test_a_trial_has_four_stocks_at_most(melted):
    """A fifth was saved, and the card was gone from then on."""
    for at, wax in enumerate(("40", "60")):
        assert melt(melted, f"more {at}", castor_oil="100", beeswax=wax)["saved"]
    assert "4 stocks at most" in melt(melted, "more 2", castor_oil="100", beeswax="70")["say"]
    assert len(melted.trial.melts.melts) == 4


def test_a_stock_does_not_take_the_name_of_an_ingredient(melted):
    """Grams of the ingredient were then taken for grams of the stock."""
    assert "“Beeswax” is an ingredient" in melt(melted, "Beeswax", castor_oil="9")["say"]


@pytest.mark.parametrize(
    ("second", "said"),
    [({"shea_butter": "50", "castor_oil": "50"}, "cannot give it"), ({"beeswax": "9"}, "were melted")],
    ids=["alike", "too small"],
)
def test_stocks_that_give_no_pour_leave_the_card_as_it_was(asked, second, said):
    """The card, and all below it, was gone."""
    press(asked.pour_part.form)
    melt(asked, "first", shea_butter="12", castor_oil="12")
    melt(asked, "second", **second)
    assert said in asked.card.html
    assert "beeswax" in asked.card.html
    asked.pour_part.source.value = STOCKS
    assert said in asked.pour_part.reach.value
    assert [row["_row"] for row in standing_in(asked.pour_part.form)["weighed"]][:2] == ["first", "second"]


def test_a_part_of_two_ingredients_is_two_weighings_of_a_stock(panel):
    usual = [*ASKED["usual"][:4], {"name": "cocoa butter", "grams": "6"}]
    press(panel.question_form, {**ASKED, "usual": usual})
    press(panel.pour_part.form)
    melt(panel, "soft", shea_butter="60", cocoa_butter="40", castor_oil="180", beeswax="20")
    melt(panel, "plain", shea_butter="100", castor_oil="180")
    soft, plain = panel.trial.melts.stocks
    assert [soft.weighings(part) for part in ("butter", "oil", "wax")] == [2, 1, 1]
    assert [plain.weighings(part) for part in ("butter", "oil", "wax")] == [1, 1, 0]


# ---------------------------------------------------------------- what is told when it is opened


@pytest.fixture
def judged(asked):
    """Four pours, each felt at two hours and after two days, with marks for glide."""
    trial = asked.trial
    for number, (early, late) in enumerate(
        [("smears", "soft"), ("smears", "soft"), ("soft", "just right"), ("just right", "firm")], 1
    ):
        poured = MONDAY + timedelta(hours=number)
        grams = {
            "shea butter": 12.0,
            "castor oil": 20.0 - number,
            "beeswax": 5.5 + number,
            "red iron oxide": 3.0,
        }
        trial = trial.log_pour(number, grams, poured_at=poured)
        trial = trial.log_note(number, early, felt_at=poured + timedelta(hours=2), tester="Ana")
        trial = trial.log_note(
            number, late, felt_at=poured + timedelta(hours=50), glide=2 * number, tester="Ben"
        )
    asked.open_trial(trial.entry)
    return asked


def content(fold):
    return fold.content.children[0].value


def test_how_pours_vary_is_told_once_it_is_opened(judged):
    fold = judged.places["vary"]
    assert content(fold) == ""
    fold.turn()
    assert "<img" in content(fold)
    assert "days" in content(fold)


def test_forecasts_are_kept_against_what_happened(judged):
    judged.places["forecast"].turn()
    told = content(judged.places["forecast"])
    assert "Forecast and then judged: 4. Right: 1." in told
    assert "it came out “firm”" in told
    found = forecasts(judged.trial)
    assert found["word"].tolist() == ["soft", "soft", "just right", "firm"]


def test_a_forecast_rests_on_nothing_that_was_felt_later(judged):
    before = forecasts(judged.trial)
    judged.trial.log_note(1, "draggy", felt_at=MONDAY + timedelta(days=9))
    pd.testing.assert_frame_equal(forecasts(TextureTrial(judged.book)), before)


def test_marks_get_a_map_once_four_pours_have_them(judged):
    assert shown(judged, "marks")
    judged.places["marks"].turn()
    assert content(judged.places["marks"]).count("Map of glide, 0 to 10") == 1
    predicted = mark_model(judged.trial, "glide").predict(judged.trial.pours()[["butter", "oil", "wax"]])
    assert predicted["hardness"].is_monotonic_increasing


# ---------------------------------------------------------------- earlier trials


def test_an_earlier_trial_counts_until_the_maker_says_that_it_does_not(judged):
    press(judged.question_form, {**ASKED, "asked": [{"wrong": "too soft", "step": "0.1"}]})
    judged.trials.value = NEW_TRIAL
    press(judged.question_form, ASKED)
    assert shown(judged, "old")
    press(judged.pour_part.form)
    press(judged.note_part.form, note__word="soft")
    counted = judged.trial.model
    assert "Counts here as well: “" in judged.standing.value
    field = judged.old.form.groups[0]["fields"][0]
    assert field["start"] == "yes"
    assert "100 % alike" in field["label"]
    assert press(judged.old.form, old__x="")["say"].startswith("Saved")
    press(judged.old.form, **{f"old__{field['name']}": ""})
    assert judged.trial.counted == {field["name"]: False}
    alone = judged.trial.model
    there = pd.DataFrame([{"butter": 0.3, "oil": 0.45, "wax": 0.25}])
    assert counted.predict(there)["sd"].iloc[0] < alone.predict(there)["sd"].iloc[0]


@pytest.fixture
def later(judged):
    """A second trial of the same recipe, poured twice and not felt yet."""
    trial = start_trial(
        judged.book, {"shea butter": 12, "castor oil": 20, "beeswax": 6.5, "red iron oxide": 3}, "Later"
    )
    for number in (1, 2):
        trial = trial.log_pour(number, poured_at=MONDAY + timedelta(days=20, hours=number))
    return trial


def test_a_trial_without_a_word_says_what_there_is_and_is_not_compared(judged, later):
    """It came out as hard as the trial before, by 0 words: that was all the map knew."""
    felt_at = MONDAY + timedelta(days=23)
    later.log_note(1, read_with="needle", reading=60.0, load_g=100.0, felt_at=felt_at)
    trial = later.log_note(2, relation="harder", than="pour 1", felt_at=felt_at)
    told = trials_table(trial)
    assert told["wordless"].tolist()[-1] == "1 reading and 1 comparison"
    judged.open_trial(trial.entry)
    judged.places["trials"].turn()
    said = content(judged.places["trials"])
    assert "“Later” has 1 reading and 1 comparison and no word yet: feel its usual" in said
    assert "came out" not in said


def test_a_trial_whose_notes_do_not_count_yet_is_told_so(judged, later):
    felt_at = MONDAY + timedelta(days=20, hours=26)
    old = later.log_pour(3, poured_at=MONDAY + timedelta(days=2))
    trial = old.log_note(3, relation="harder", than="pour 1", felt_at=felt_at)
    assert trial.model is None
    judged.open_trial(trial.entry)
    judged.places["trials"].turn()
    assert "Nothing that counts was felt" in content(judged.places["trials"])


def test_trials_are_compared_by_their_own_notes(judged, later):
    """An earlier trial that counts as knowledge drew the later one towards itself."""
    trial = later
    for number in (1, 2):
        trial = trial.log_note(number, "draggy", felt_at=MONDAY + timedelta(days=23))
    told = trials_table(trial)
    usual = pd.DataFrame([base_shares(trial.question.usual)])[list(trial.question.parts)]
    own, knowing = learn(trial), trial.fitted()
    assert told["hardness"].iloc[-1] == own.predict(usual)["hardness"].iloc[0]
    assert told["hardness"].iloc[-1] > knowing.predict(usual)["hardness"].iloc[0] + 0.2
    assert set(told["wordless"]) == {""}


# ---------------------------------------------------------------- comparisons that cannot count


def test_a_comparison_that_cannot_count_is_saved_once_and_leaves_the_map_alone(asked):
    """It was saved, answered as not saved, and every retry saved it again."""
    asked.trial.log_pour(1, poured_at=MONDAY).log_note(1, "soft", felt_at=MONDAY + timedelta(hours=50))
    asked.open_trial(asked.trial.entry)
    press(asked.pour_part.form)
    typed = {"note__number": "2", "compared__relation": "softer", "compared__than": "1"}
    assert press(asked.note_part.form, **typed)["saved"]
    assert len(asked.trial.notes()) == 2
    assert asked.trial.model is not None
    said = " ".join(wording.remarks(asked.trial))
    assert "Pour 2 softer than pour 1 does not count: one of them was still setting" in said


def test_a_ring_of_comparisons_is_said_and_the_earlier_ones_count(judged):
    at = MONDAY + timedelta(days=4)
    trial = judged.trial
    for number, than in ((1, 2), (2, 3), (3, 1)):
        trial = trial.log_note(
            number, relation="harder", than=f"pour {than}", felt_at=at + timedelta(hours=number)
        )
    panel = TexturePanel(judged.book)
    assert panel.errors == []
    assert [said.split(":")[0] for said in panel.trial.left_out] == [
        "Pour 3 harder than pour 1 does not count"
    ]


def test_a_comparison_with_a_pour_that_is_taken_back_shows_no_id(judged):
    trial = judged.trial.log_note(1, relation="softer", than="Pour 3", felt_at=MONDAY + timedelta(days=4))
    trial.take_back(trial.cast(3).version)
    panel = TexturePanel(judged.book)
    labels = " ".join(label for label, _ in panel.mending.what.options)
    assert "softer than a pour that was taken back" in labels
    assert trial.casts[2].entry not in labels + panel.logged.value + panel.map.value
    assert "that pour was taken back" in " ".join(wording.remarks(panel.trial))
    assert panel.trial.model is not None


@pytest.mark.parametrize("than", ["pour 1", "Pour 1", "1"])
def test_a_pour_is_not_compared_with_itself(judged, than):
    with pytest.raises(LabError, match="itself"):
        judged.trial.log_note(1, relation="same", than=than)


# ---------------------------------------------------------------- slips


def test_a_pour_far_from_its_plan_is_asked_about(asked):
    values = standing_in(asked.pour_part.form)
    values["weighed"][0]["grams"] = "120"
    assert "But 120 g shea butter where 12 g was planned" in press(asked.pour_part.form, values)["say"]


def test_a_pour_is_not_moved_past_its_notes(judged):
    cast = judged.trial.cast(1)
    with pytest.raises(LabError, match="Pour 1 was felt"):
        judged.trial.mend_pour(cast.version, poured_at=MONDAY + timedelta(days=3))


def test_bounds_stay_while_a_saved_question_is_changed(asked):
    """The browser sends what was touched alone, and beside it all that stands in the form."""
    touched = {"bounds": [{"_row": "butter", "low": "15"}]}
    shown = standing_in(asked.question_form)
    next(row for row in shown["bounds"] if row["_row"] == "butter")["low"] = "15"
    asked.question_form.draft = {"key": asked.trial.entry, "at": 1, "values": touched, "shown": shown}
    assert "bounds" in [group["name"] for group in asked.question_form.groups]
    assert press(asked.question_form, shown)["saved"]
    assert asked.trial.question.low["butter"] == pytest.approx(0.15 * 41.5 / 38.5, abs=0.001)


def test_readings_with_a_second_instrument_are_said_not_to_count(judged):
    trial = judged.trial
    for number, load in ((1, 50.0), (2, 50.0), (3, 100.0)):
        trial = trial.log_note(number, read_with="needle", reading=60.0, load_g=load)
    assert any("not those with the needle, 100 g" in said for said in wording.remarks(trial))


def test_a_later_trial_is_no_knowledge_of_an_earlier_one(judged):
    first = judged.trial
    before = forecasts(first)
    later = start_trial(
        judged.book, {"shea butter": 12, "castor oil": 20, "beeswax": 6.5, "red iron oxide": 3}, "Later"
    )
    for number in (1, 2, 3):
        later = later.log_pour(number).log_note(number, "draggy")
    assert [each.name for each in later.olds] == [first.name]
    again = TextureTrial(judged.book, first.entry)
    assert again.olds == []
    pd.testing.assert_frame_equal(forecasts(again), before)
