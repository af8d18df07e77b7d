"""The shade panel without a browser: driven by its forms' presses, checked against the book."""

import pytest
import uuid_utils
from presses import press, standing_in

from labkit.book import TrialBook
from labkit.shade.panel import NEW_TRIAL, ShadePanel
from labkit.shade.trial import ShadeTrial, trials
from labkit.ui.form import Press

ASKED = {
    "market": [{"market": "EU"}],
    "pigments": [
        {"name": "red iron oxide", "parts": "3"},
        {"name": "CI 77891", "parts": "1"},
        {"name": "", "parts": ""},
    ],
    "range": [{"low_load": "1", "high_load": "15", "film": "a normal use (10 µm)"}],
    "backings": [{"black card": "yes", "white card": "yes", "lip": "yes"}],
    "details": [{"name": "Brick", "batch_g": "50", "step_g": "0.01"}],
}
SWATCH = {"swatch__load": "8", "swatch__film": "a normal use (10 µm)", "swatch__read": "L*a*b*",
          "swatch__colour": "41.2 33 21"}  # fmt: skip


def shown(panel, place):
    return panel.places[place].layout.display != "none"


@pytest.fixture
def panel(book):
    made = ShadePanel(book)
    yield made
    assert made.errors == []


@pytest.fixture
def asked(panel):
    assert press(panel.question_form, ASKED)["saved"]
    return panel


def faults_while_typing(form, values):
    """What a form says while something is typed."""
    form.draft = {"key": form.key, "at": 1, "values": values, "shown": values}
    return form.faults


def test_a_new_book_shows_the_invented_example_and_the_question(panel):
    assert "invented example" in panel.standing.value
    assert "Invented example" in panel.example.value
    assert shown(panel, "question")
    assert not any(shown(panel, place) for place in ("sweep", "swatch", "wish", "kept", "told", "log"))


def test_the_sweep_is_drawn_before_anything_is_weighed(asked):
    assert asked.trial.question.parts == {"red iron oxide": 3.0, "titanium dioxide": 1.0}
    assert asked.swept.value.count("<img") == 3
    assert "contrast ratio" in asked.swept.value
    assert "No swatch yet: what you see is an estimate." in asked.standing.value
    assert not shown(asked, "question")
    assert "To weigh for 50 g" in asked.card.html


def test_what_the_market_says_is_shown_as_a_pigment_is_picked(panel):
    assert faults_while_typing(panel.question_form, ASKED) == {}
    (pigments,) = (group for group in panel.question_form.groups if group["name"] == "pigments")
    assert "On lips, EU: red iron oxide: allowed" in pigments["intro"]
    assert "Annex IV" in pigments["intro"]


@pytest.mark.parametrize(
    ("name", "market", "said"),
    [
        ("ultramarine", "US", "not allowed on lips in US (21 CFR 73.2725"),
        ("red iron oxid", "EU", "Did you mean “red iron oxide”"),
        ("soap-grade red iron oxide", "EU", "Soap grade is refused"),
        ("CI 75170", "EU", "no pigment that labkit can forecast"),
    ],
)
def test_a_pigment_that_cannot_be_picked_is_marked_and_says_why(panel, name, market, said):
    values = ASKED | {"market": [{"market": market}], "pigments": [{"name": name, "parts": "1"}]}
    assert said in faults_while_typing(panel.question_form, values)["pigments/1/name"]
    answer = press(panel.question_form, values)
    assert said in answer["faults"]["pigments/1/name"]
    assert not trials(panel.book)


@pytest.mark.parametrize(
    ("group", "typed", "place"),
    [
        ("market", {"market": ""}, "market//market"),
        ("range", {"low_load": "20", "high_load": "15", "film": "one swipe (5 µm)"}, "range//high_load"),
        ("range", {"low_load": "0", "high_load": "15", "film": "one swipe (5 µm)"}, "range//low_load"),
        ("range", {"low_load": "1", "high_load": "a lot", "film": "one swipe (5 µm)"}, "range//high_load"),
        ("pigments", {"name": "", "parts": ""}, "pigments/1/name"),
        ("pigments", {"name": "carmine", "parts": ""}, "pigments/1/parts"),
        ("pigments", {"name": "carmine", "parts": "-2"}, "pigments/1/parts"),
        ("range", {"low_load": "1", "high_load": "15", "film": "another film, see More"}, "details//film_um"),
    ],
)
def test_what_is_missing_or_wrong_is_said_at_its_place(panel, group, typed, place):
    assert place in press(panel.question_form, ASKED | {group: [typed]})["faults"]


def test_a_swatch_is_logged_and_its_forecast_answered_for(asked):
    answer = press(asked.swatch_part.form, **SWATCH)
    assert answer["say"].startswith("Saved. The forecast was ")
    (swatch,) = asked.trial.swatches().to_dict("records")
    assert (swatch["red iron oxide"], swatch["titanium dioxide"]) == (6.0, 2.0)
    assert (swatch["L"], swatch["a"], swatch["b"], swatch["film_um"]) == (41.2, 33, 21, 10.0)
    assert shown(asked, "told")
    assert "1 swatch logged." in asked.standing.value


def test_a_swatch_moves_the_forecast_towards_itself(asked):
    before = asked.trial.sweep(["white card"])
    press(asked.swatch_part.form, **SWATCH)
    after = asked.trial.sweep(["white card"])
    at = (before["load"] - 8).abs().idxmin()
    read = [41.2, 33.0, 21.0]
    off = [((rows.loc[at, ["L", "a", "b"]] - read) ** 2).sum() for rows in (before, after)]
    assert off[1] < off[0] / 2
    assert after["L_sd"].mean() < before["L_sd"].mean()


@pytest.mark.parametrize(
    ("typed", "place"),
    [
        ({"swatch__colour": "41 33"}, "swatch//colour"),
        ({"swatch__colour": ""}, "swatch//colour"),
        ({"swatch__read": ""}, "swatch//read"),
        ({"swatch__film": ""}, "swatch//film"),
        ({"swatch__load": "140"}, "swatch//load"),
        ({"swatch__load": ""}, "swatch//load"),
        ({"swatch__read": "spectral file", "swatch__colour": "400, 0.2"}, "swatch//colour"),
        ({"swatch__film": "measured, see More"}, "film//film_um"),
        ({"swatch__film": "weighed, see More", "film__before_g": "4.2", "film__after_g": "4.19",
          "film__area_cm2": "10"}, "film//after_g"),
        ({"swatch__backing": "my own, its L*a*b* below"}, "more//own_lab"),
        ({"more__sd": "1 2"}, "more//sd"),
    ],
)  # fmt: skip
def test_what_is_wrong_with_a_swatch_is_said_at_its_place(asked, typed, place):
    answer = press(asked.swatch_part.form, **(SWATCH | typed))
    assert place in answer["faults"]
    assert not asked.trial.swatch_rows


def test_a_spectral_reading_is_a_swatch(asked):
    lines = "nm, R\n" + "\n".join(f"{nm}, {0.1 + (nm > 590) * 0.3}" for nm in range(380, 731, 10))
    typed = SWATCH | {"swatch__read": "spectral file", "swatch__colour": lines}
    assert press(asked.swatch_part.form, **typed)["saved"]
    assert asked.trial.swatches()["600"].item() == pytest.approx(0.4)


def test_a_spectral_file_is_typed_into_the_form_and_a_wrong_one_says_why(asked):
    sent = []
    asked.swatch_part.form.send = lambda content, buffers=None: sent.append(content)
    upload = asked.swatch_part.spectrum
    good = "nm;R\n" + "\n".join(f"{nm};0,2" for nm in range(400, 701, 10))
    upload._chosen({"new": ({"content": memoryview(good.encode())},)})
    assert sent[0]["fill"] == {"read": "spectral file", "colour": good}
    assert "The file is read." in upload.told.value
    upload._chosen({"new": ({"content": memoryview(b"nm,R\n400,20")},)})
    assert "must cover 400 to 700 nm" in upload.told.value
    assert len(sent) == 2


def test_a_reading_brings_its_standard_error(asked):
    typed = SWATCH | {"more__sd": "0.93 1.25 1.81", "more__read_by": "photo, 24-patch chart"}
    assert press(asked.swatch_part.form, **typed)["saved"]
    (swatch,) = asked.trial.swatches()[["L_sd", "a_sd", "b_sd"]].to_numpy().tolist()
    assert swatch == [0.93, 1.25, 1.81]


def test_a_backing_of_ones_own_is_its_colour(asked):
    typed = SWATCH | {"swatch__backing": "my own, its L*a*b* below", "more__own_lab": "61 14 18"}
    assert press(asked.swatch_part.form, **typed)["saved"]
    assert asked.trial.swatches()["backing"].item() == (61, 14, 18)


def test_a_weighed_film_is_a_film(asked):
    typed = SWATCH | {"swatch__film": "weighed, see More", "film__before_g": "4,20", "film__after_g": "4.00",
                      "film__swipes": "20", "film__area_cm2": "10"}  # fmt: skip
    assert press(asked.swatch_part.form, **typed)["saved"]
    density = 100 / (6 / 5.2 + 2 / 4.2 + 92 / 0.94)
    assert asked.trial.swatches()["film_um"].item() == pytest.approx(1e4 * 0.2 / (200 * density))


def test_a_spectrum_is_kept_as_far_as_it_was_read(asked):
    lines = "\n".join(f"{nm}, 0.3" for nm in range(400, 701, 20))
    assert press(
        asked.swatch_part.form, **SWATCH | {"swatch__read": "spectral file", "swatch__colour": lines}
    )["saved"]
    (row,) = asked.trial.swatch_rows
    assert (min(row.head.payload["reflectance"]), max(row.head.payload["reflectance"])) == ("400", "700")


@pytest.mark.parametrize(
    ("typed", "kept"),
    [
        ({"swatch__film": "one swipe (5 µm)"}, {"film_um": 5.0, "film_sd": 0.35}),
        ({"swatch__read": "sRGB", "swatch__colour": "#8a3b2c"}, {"read_by": "typed sRGB"}),
        (
            {"swatch__read": "photo", "more__read_by": "photo, grey card", "more__sd": "2 2 2"},
            {"read_by": "photo, grey card", "lab_sd": [2, 2, 2]},
        ),
    ],
)
def test_a_mended_remark_changes_nothing_else(asked, typed, kept):
    press(asked.swatch_part.form, **(SWATCH | typed))
    before = asked.trial.swatch_rows[0].head.payload
    assert {name: before[name] for name in kept} == kept
    choose(asked, "swatch")
    assert press(asked.swatch_part.form, more__remark="by daylight")["saved"]
    assert asked.trial.swatch_rows[0].head.payload == before | {"remark": "by daylight"}


def test_a_mended_film_is_known_as_well_as_a_measured_one(asked):
    press(asked.swatch_part.form, **SWATCH)
    choose(asked, "swatch")
    press(asked.swatch_part.form, film__film_um="12")
    payload = asked.trial.swatch_rows[0].head.payload
    assert (payload["film_um"], payload["film_sd"]) == (12.0, 0.12)


def test_a_colour_typed_after_a_photo_was_read_is_typed(asked):
    press(asked.swatch_part.form, **SWATCH | {"more__read_by": "photo, grey card"})
    assert asked.trial.swatch_rows[0].head.payload["read_by"] == "typed L*a*b*"


def test_a_swatch_is_mended_taken_back_and_put_back(asked):
    press(asked.swatch_part.form, **SWATCH)
    choose(asked, "swatch")
    assert press(asked.swatch_part.form, **{"swatch__colour": "50 20 20"})["saved"]
    assert asked.trial.swatches()["L"].item() == 50
    choose(asked, "swatch")
    asked.mending.take_back.click()
    assert not asked.trial.swatch_rows
    choose(asked, "gone")
    asked.mending.put_back.click()
    assert asked.trial.swatches()["L"].item() == 50


def choose(panel, kind):
    panel.mending.what.value = next(
        value for _, value in panel.mending.what.options if value.startswith(f"{kind} ")
    )


WISH = {"wish__colour": "#9a4b3c", "wish__max_load": "15"}


def test_a_wanted_colour_is_answered_and_a_blend_kept_and_opened_as_a_trial(asked):
    answer = press(asked.wish_part.form, **WISH)
    assert answer["say"].startswith("Blend 1 ")
    assert "In % of the finished product" in asked.wish_part.answered.value
    assert press(asked.wish_part.keep_form, keep__name="Rosewood")["saved"]
    ((_, kept),) = asked.trial.kept()
    assert (kept.name, kept.market) == ("Rosewood", "EU")
    assert sum(kept.blend.values()) <= 15 + 1e-9
    assert shown(asked, "kept")
    asked.kept_part._start()
    assert asked.trial.name == "Rosewood"
    assert asked.trial.question.parts == pytest.approx(kept.blend)


def test_a_blend_that_was_chosen_among_others_is_not_kept_for_one_of_these(asked):
    press(asked.wish_part.form, **WISH)
    form = asked.wish_part.keep_form
    before, values = form.key, standing_in(form)
    press(asked.wish_part.form, **(WISH | {"wish__colour": "#c08070"}))
    answer = form.press(Press(str(uuid_utils.uuid7()), "2026-01-01T00:00:00+00:00", before, values))
    assert "Other blends were found" in answer["say"]
    assert not asked.trial.kept()


@pytest.mark.parametrize(
    ("typed", "place"),
    [
        ({"wish__colour": ""}, "wish//colour"),
        ({"wish__colour": "50 120 -120"}, "wish//colour"),
        ({"wish__max_load": "0"}, "wish//max_load"),
    ],
)
def test_what_is_wrong_with_a_wish_is_said_at_its_place(asked, typed, place):
    assert place in press(asked.wish_part.form, **(WISH | typed))["faults"]


def test_only_pigments_that_the_market_allows_on_lips_are_offered(book):
    panel = ShadePanel(book)
    press(panel.question_form, ASKED | {"market": [{"market": "US"}]})
    (among,) = (group for group in panel.wish_part.form.groups if group["name"] == "among")
    names = [field["name"] for field in among["fields"]]
    assert "ultramarine" not in names
    assert "red iron oxide" in names


def test_what_is_in_the_pot_is_added_to(asked):
    values = standing_in(asked.wish_part.form)
    values["wish"][0] |= {"colour": "#9a4b3c", "max_load": "20"}
    for row in values["pot"]:
        row["g"] = {"red iron oxide": "1", "everything else (the base)": "49"}.get(row["_row"], "")
    assert press(asked.wish_part.form, values)["saved"]
    adds = [name for name in asked.wish_part.found.columns if name.startswith("add ")]
    assert adds
    assert (asked.wish_part.found[adds] >= 0).all().all()


def test_everything_is_there_tomorrow_and_a_press_sent_again_counts_once(asked):
    id = str(uuid_utils.uuid7())
    key = asked.swatch_part.form.key
    for _ in range(2):
        press(asked.swatch_part.form, id=id, **SWATCH)
    with TrialBook(asked.book.path) as book:
        again = ShadePanel(book)
        assert again.swatch_part.form.key == key
        assert len(ShadeTrial(book).swatch_rows) == 1
        assert again.logged.value == asked.logged.value


def test_another_trial_can_be_started(asked):
    asked.trials.value = NEW_TRIAL
    assert asked.trial is None
    answer = press(asked.question_form, ASKED)
    assert "There is a trial “Brick”" in answer["say"]
    assert press(asked.question_form, ASKED | {"details": [{"name": "Brick two"}]})["saved"]
    assert list(trials(asked.book)) == ["Brick two", "Brick"]


def test_a_changed_question_is_the_same_trial(asked):
    entry = asked.trial.entry
    values = standing_in(asked.question_form)
    values["pigments"] = [{"name": "carmine", "parts": "1"}]
    assert press(asked.question_form, values)["say"] == "Saved: the question is changed."
    assert asked.trial.entry == entry
    assert asked.trial.pigment_names == ("carmine",)
