"""The streak panel without a browser: driven by its forms' presses, checked against the book."""

import pytest
import uuid_utils
from presses import press, standing_in

from labkit.streak.panel import StreakPanel
from tests.streak.photos import Scene, Streaks

STREAKED = Scene(size=(300, 400), streaks=[Streaks("white")])
ASKED = {
    "pigments": [
        {"name": "red iron oxide", "colour": "#7a3020"},
        {"name": "titanium dioxide", "colour": ""},
        {"name": "", "colour": ""},
    ],
    "how": [{"way": "wetted in oil first", "own": "", "began_at": ""}],
    "details": [{"name": "Brick", "limit_percent": "5", "remark": ""}],
}


def shown(panel, place):
    return panel.places[place].layout.display != "none"


@pytest.fixture
def panel(book):
    made = StreakPanel(book)
    yield made
    assert made.errors == []


@pytest.fixture
def asked(panel):
    assert press(panel.question_form, ASKED)["saved"]
    return panel


def grade(panel, red, white, **typed):
    return press(panel.round_part.form, grades__0=red, grades__1=white, **typed)


def test_a_new_book_shows_the_invented_example_and_the_question(panel):
    assert "invented example" in panel.standing.value
    assert "Invented example" in panel.example.value
    assert shown(panel, "question")
    assert not any(shown(panel, place) for place in ("clock", "round", "chances", "photos", "between", "log"))


def test_a_run_by_pressing_says_what_to_do_after_each_round(asked):
    assert [each["label"] for each in asked.clock.since] == ["since stirring began"]
    assert grade(asked, "3 many", "4 everywhere")["saved"]
    assert "Stir on" in asked.standing.value
    assert "titanium dioxide is the slow one" in asked.standing.value
    assert [each["label"] for each in asked.clock.since] == ["since stirring began", "since round 1"]
    for red, white in (("1 few", "2 some"), ("0 none seen", "0 none seen")):
        assert grade(asked, red, white, how__how="rubbed")["saved"]
    for _ in range(6):
        grade(asked, "0 none seen", "0 none seen")
    assert "You can stop" in asked.standing.value
    assert "only drawn" not in asked.standing.value
    assert asked.trial.rounds()["grade"].tolist()[:4] == [3, 4, 1, 2]


def test_the_next_round_is_asked_as_the_last_one_was_made(asked):
    grade(asked, "3 many", "4 everywhere", how__where="paste", how__how="rubbed")
    how = standing_in(asked.round_part.form)["how"][0]
    assert (how["where"], how["how"]) == ("paste", "rubbed")
    assert standing_in(asked.round_part.form)["grades"][0]["0"] == ""


def test_a_pigment_that_was_not_pressed_is_marked_and_nothing_is_saved(asked):
    answer = press(asked.round_part.form, grades__0="3 many")
    assert "titanium dioxide" in answer["faults"]["grades//1"]
    assert not asked.trial.looks


def test_do_not_know_is_kept_as_that(asked):
    grade(asked, "3 many", "don't know")
    assert asked.trial.looks[0][1].grades == {"red iron oxide": 3, "titanium dioxide": None}


def test_fahrenheit_is_asked_about_and_turned_where_it_is_said(asked):
    answer = grade(asked, "3 many", "2 some", how__celsius="167")
    assert "type “167 °F”" in answer["faults"]["how//celsius"]
    assert grade(asked, "3 many", "2 some", how__celsius="167 °F")["saved"]
    assert asked.trial.looks[0][1].celsius == 75.0


def test_a_press_that_comes_twice_is_one_round(asked):
    id = str(uuid_utils.uuid7())
    values = standing_in(asked.round_part.form)
    values["grades"][0] = {"0": "3 many", "1": "2 some"}
    for _ in range(2):
        assert press(asked.round_part.form, values, id)["saved"]
    assert len(asked.trial.looks) == 1


def test_a_panel_opened_anew_has_every_round_and_the_clock(asked, book):
    grade(asked, "3 many", "2 some")
    again = StreakPanel(book)
    assert again.trial.looks[0][1].grades["red iron oxide"] == 3
    assert again.clock.since == asked.clock.since
    assert again.errors == []


def test_own_words_for_a_way_of_stirring_are_kept(panel):
    values = {
        **ASKED,
        "how": [{"way": "in my own words, below", "own": "pestle, then sieve", "began_at": ""}],
    }
    assert press(panel.question_form, values)["saved"]
    assert panel.trial.question.method == "pestle, then sieve"
    panel.open_trial(panel.trial.entry)
    assert standing_in(panel.question_form)["how"][0]["own"] == "pestle, then sieve"


@pytest.mark.parametrize(
    ("place", "typed", "fault"),
    [
        ("pigments", [{"name": "", "colour": "#ffffff"}], "pigments/1/name"),
        ("pigments", [{"name": "red", "colour": "brownish"}], "pigments/1/colour"),
        ("pigments", [{"name": "red", "colour": ""}, {"name": "Red", "colour": ""}], "pigments/2/name"),
        ("pigments", [{"name": "", "colour": ""}], "pigments/1/name"),
        ("how", [{"way": "", "own": "", "began_at": ""}], "how//way"),
        ("details", [{"name": "", "limit_percent": "120", "remark": ""}], "details//limit_percent"),
    ],
)
def test_what_is_wrong_in_the_question_is_marked_at_its_place(panel, place, typed, fault):
    answer = press(panel.question_form, {**ASKED, place: typed})
    assert fault in answer["faults"]
    assert panel.trial is None


def test_a_photo_is_read_marked_and_said(asked, book):
    name = book.add_photo(STREAKED.jpeg())
    grade(asked, "3 many", "2 some", how__photo=name)
    assert shown(asked, "photos")
    assert "unevenness ΔE00" in asked.seen.value
    assert "<img" in asked.seen.value


def test_a_photo_that_is_gone_is_said_and_nothing_breaks(asked, book):
    name = book.add_photo(STREAKED.jpeg())
    grade(asked, "3 many", "2 some", how__photo=name)
    book.photo_path(name).unlink()
    asked.open_trial(asked.trial.entry)
    assert "cannot be read" in asked.seen.value


def test_a_round_is_mended_taken_back_and_put_back(asked):
    grade(asked, "3 many", "4 everywhere")
    choose(asked, "round")
    assert press(asked.round_part.form, grades__0="2 some")["saved"]
    assert asked.trial.looks[0][1].grades == {"red iron oxide": 2, "titanium dioxide": 4}
    choose(asked, "round")
    asked.mending.take_back.click()
    assert not asked.trial.looks
    choose(asked, "gone")
    asked.mending.put_back.click()
    assert asked.trial.looks[0][1].grades["red iron oxide"] == 2


def choose(panel, kind):
    panel.mending.what.value = next(
        value for _, value in panel.mending.what.options if value.startswith(f"{kind} ")
    )


def test_ways_of_stirring_are_compared_once_the_fold_is_opened(asked, book):
    grade(asked, "3 many", "4 everywhere")
    asked.places["between"].turn()
    assert (
        "With one way of stirring there is nothing to compare"
        in asked.places["between"].content.children[0].value
    )


def test_a_stick_is_checked_a_day_later(asked):
    assert press(asked.stick_form, ends__top_lab="40 30 20", ends__bottom_lab="36 31 20")["saved"]
    assert "differ by ΔE00" in asked.checked.value
    answer = press(asked.stick_form, ends__top_lab="40 30 20")
    assert "which colour" in answer["faults"]["ends//bottom_lab"]


def test_markup_in_names_is_text(panel):
    values = {**ASKED, "pigments": [{"name": "<img src=x onerror=alert(1)>", "colour": ""}]}
    assert press(panel.question_form, values)["saved"]
    press(panel.round_part.form, grades__0="3 many", more__remark="<script>alert(1)</script>")
    assert "<script" not in panel.logged.value
    assert "<img src=x" not in panel.logged.value + panel.standing.value


def test_a_demo_test_is_never_earlier_knowledge_of_a_makers_own_book(asked):
    grade(asked, "3 many", "4 everywhere")
    assert "no earlier streak test yet" in asked.drawn.value
