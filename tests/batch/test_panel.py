"""The batch panel without a browser: a day by its forms' presses, checked against the book."""

import math
import re
from datetime import timedelta

import pytest
import uuid_utils
from presses import press, standing_in

from labkit.batch.file_part import read_file
from labkit.batch.panel import BatchPanel
from labkit.batch.record import Added, Filled, Happened, Judged, Reading, Readings, Taken
from labkit.times import now

RECIPE = (
    ("castor oil", "48"), ("shea butter", "20"), ("beeswax", "14,5"), ("magnesium stearate", "3"),
    ("red iron oxide", "12"), ("flavour oil", "1"),
)  # fmt: skip

CAUTIONS = (
    "Pan off the heat before you type", "a drop in hot fat spits", "cool running water", "raise no dust",
    "No try on lip or skin", "Wipe colour out with paper", "No water, juice, honey", "a lid that fits",
)  # fmt: skip


def shown(panel, place):
    return panel.places[place].layout.display != "none"


def told(widget):
    return re.sub(r"<[^>]+>", " ", re.sub(r'src="[^"]*"', "", widget.value))


def at(minutes_ago):
    return (now() - timedelta(minutes=minutes_ago)).isoformat()


@pytest.fixture
def panel(book):
    made = BatchPanel(book)
    yield made
    assert made.errors == []


def plan(panel, **changed):
    values = standing_in(panel.question_form)
    values["lines"] = [
        {"name": name, "grams": grams, "kind": "guess from its name"} for name, grams in RECIPE
    ]
    values["asked"][0] |= {
        "containers": "20",
        "fill_g": "4.5",
        "pour_c": "60",
        "room_c": "22",
        "step_g": "0.1",
    }
    for place, text in changed.items():
        group, name = place.split("__")
        values[group][0][name] = text
    return values


@pytest.fixture
def asked(panel):
    assert press(panel.question_form, plan(panel))["saved"]
    return panel


@pytest.fixture
def weighed(asked):
    for index, line in enumerate(asked.trial.question.lines):
        typed = {"in__ingredient": line.name, "in__grams": f"{line.grams:g}", "in__added_at": at(60 - index)}
        assert press(asked.stove.added, **typed, in__lot=f"L{index}")["saved"]
    return asked


@pytest.fixture
def cooling(weighed):
    log(weighed, "heat off", "82", 20)
    for minute in (2, 4, 6, 8, 10):
        log(weighed, "just the temperature", f"{22 + 60 * math.exp(-minute / 14):.1f}", 20 - minute)
    return weighed


def log(panel, what, celsius, minutes_ago):
    answer = press(panel.stove.event, now__what=what, now__celsius=celsius, now__at=at(minutes_ago))
    assert answer["saved"], answer


def test_a_new_book_shows_the_invented_example_and_the_plan(panel):
    assert "invented example" in told(panel.standing)
    assert "Invented example" in panel.example.value
    assert shown(panel, "question")
    hidden = ("clock", "sheet", "pot", "stove", "drip", "cooling", "after", "apart", "log", "again")
    assert not any(shown(panel, place) for place in hidden)


def test_a_plan_becomes_a_run_sheet_in_the_order_of_heating(asked):
    sheet = asked.sheet.html
    places = [
        sheet.index(f"<td>{name}</td>") for name in ("castor oil", "beeswax", "shea butter", "flavour oil")
    ]
    assert places == sorted(places)
    for caution in CAUTIONS:
        assert caution in sheet
    assert "need not melt: disperse it as a powder" in sheet
    assert "Next: 48.0 g of castor oil" in told(asked.standing)


def test_a_kind_that_a_name_does_not_say_is_asked(panel):
    values = plan(panel)
    values["lines"].append({"name": "my secret", "grams": "2", "kind": "guess from its name"})
    assert "choose one" in press(panel.question_form, values)["faults"]["lines/7/kind"]
    values["lines"][-1]["kind"] = "oil"
    assert press(panel.question_form, values)["saved"]


@pytest.mark.parametrize(
    ("changed", "place", "said"),
    [
        ({"lines__grams": "1,234"}, "lines/1/grams", "could be"),
        ({"lines__grams": "0"}, "lines/1/grams", "cannot be weighed"),
        ({"lines__grams": ""}, "lines/1/grams", "How many grams"),
        ({"lines__name": "beeswax"}, "lines/3/name", "stands there already"),
        ({"own__name": "ghee", "own__low": "30", "own__high": "35"}, "own/1/name", "not in your recipe"),
        ({"own__name": "beeswax", "own__low": "30"}, "own/1/high", "two ends"),
        ({"own__name": "beeswax", "own__limit": "180"}, "own/1/limit", "type “180 °F”"),
        ({"details__words": "soft"}, "details//words", "two words"),
        ({"asked__room_c": "72"}, "asked//room_c", "45"),
    ],
)
def test_what_is_wrong_in_the_plan_is_marked_at_its_place(panel, changed, place, said):
    answer = press(panel.question_form, plan(panel, **changed))
    assert said in answer["faults"][place]
    assert panel.trial is None


def test_a_suppliers_limit_counts_and_changes_the_order(panel):
    assert press(panel.question_form, plan(panel, own__name="shea butter", own__limit="55"))["saved"]
    line = next(each for each in panel.trial.question.lines if each.name == "shea butter")
    assert line.limit_c == 55.0
    assert line.melts_c == (35.0, 40.0)
    assert "off the heat, once the pot is below 55 °C" in panel.sheet.html
    panel.open_trial(panel.trial.entry)
    assert standing_in(panel.question_form)["own"][0]["limit"] == "55"


def test_what_goes_in_runs_along_in_the_pot(weighed):
    assert weighed.trial.pot().grams["beeswax"] == 14.5
    assert "14.7" in told(weighed.pot)
    assert [each.lot for each in weighed.trial.of(Added)] == [f"L{index}" for index in range(6)]


def test_taking_out_more_than_there_is_is_refused_and_kept(weighed):
    answer = press(weighed.stove.taken, out__grams="500")
    assert "cannot be taken from a pot" in answer["say"]
    assert press(weighed.stove.taken, out__grams="2,5")["saved"]
    assert weighed.trial.of(Taken)[0].grams == 2.5


def test_a_pot_hotter_than_the_makers_maximum_is_told_at_once(weighed):
    log(weighed, "just the temperature", "91", 1)
    assert told(weighed.standing).strip().startswith("Off the heat: the pot was at 91 °C")


def test_fahrenheit_is_asked_about_not_guessed(weighed):
    answer = press(weighed.stove.event, now__celsius="170")
    assert "type “170 °F”" in answer["faults"]["now//celsius"]
    assert press(weighed.stove.event, now__celsius="170 °F")["saved"]
    assert weighed.trial.of(Reading)[0].celsius == pytest.approx(76.67)


def test_a_press_without_event_and_temperature_is_asked(weighed):
    assert "How hot" in press(weighed.stove.event)["faults"]["now//celsius"]


def test_the_window_is_told_by_the_clock_and_counted_down(cooling):
    until = {each["label"] for each in cooling.clock.until}
    assert until == {"pour window opens", "pour window closes"}
    assert re.search(r"\d\d:\d\d", told(cooling.standing))
    assert "ideal" in told(cooling.cools)
    assert "castor oil" in told(cooling.cools)
    assert cooling.cools.value.count("<img") == 1


def test_each_reading_narrows_the_band(weighed):
    log(weighed, "heat off", "82", 20)
    widths = []
    for minute in (2, 4, 6, 8, 10):
        noise = 0.4 * (-1) ** (minute // 2)
        log(weighed, "just the temperature", f"{22 + 60 * math.exp(-minute / 14) + noise:.1f}", 20 - minute)
        if minute >= 4:
            when = weighed.trial.cooling.minutes_until(50.0)
            widths.append(when.high - when.low)
    assert widths[-1] < widths[0] / 2


def test_a_thermometers_file_with_gaps_and_commas_is_taken(weighed):
    lines = "Temp (°C);Time\n" + "\n".join(
        f"{80 - minute:.1f};10:{minute:02d}:00".replace(".", ",") for minute in range(6)
    )
    lines += "\n--;10:06:00\n"
    answer = press(weighed.stove.file.form, file__lines=lines, file__began_at=at(30), file__file="pot.csv")
    assert answer["saved"]
    assert "1 row without a temperature left out" in answer["say"]
    assert len(weighed.trial.of(Readings)[0].celsius) == 6


@pytest.mark.parametrize(
    ("lines", "said"),
    [
        ("time;temperature\n10:00:00;165\n10:01:00;160\n", "°F"),
        ("time;temperature (°C)\n10:05:00;75\n10:01:00;74\n", "back"),
        ("nothing here", "thermometer's CSV file"),
    ],
)
def test_a_file_that_cannot_be_read_says_why(weighed, lines, said):
    answer = press(weighed.stove.file.form, file__lines=lines)
    assert said in answer["faults"]["file//lines"]


@pytest.mark.parametrize(("lines", "ago_min"), [
    ("time (min);temperature (°C)\n0;75\n5;70\n", 5.0),
    ("time;temperature (°C)\n2020-04-14 10:00:00;75\n2020-04-14 10:05:00;70\n", None),
])  # fmt: skip
def test_a_file_begins_when_its_clock_says_else_it_ends_with_the_press(lines, ago_min):
    pressed = now()
    values = {"file": [{"lines": lines, "began_at": "", "unit": "", "time_unit": "", "file": ""}]}
    fields, _ = read_file(values, pressed.isoformat())
    if ago_min is None:
        assert fields["began_at"].year == 2020
    else:
        assert (pressed - fields["began_at"]).total_seconds() == pytest.approx(60 * ago_min, abs=1)


def test_after_the_pour_fills_and_losses_balance(cooling):
    log(cooling, "poured", "56", 5)
    assert shown(cooling, "after")
    fills = " ".join(["4.5"] * 19 + ["4,4"])
    assert press(cooling.after.filled, filled__fills=fills, filled__pan_g="6", filled__tools_g="1.5")["saved"]
    assert cooling.trial.of(Filled)[0].fills_g == (4.5,) * 19 + (4.4,)
    said = told(cooling.after.balance)
    assert "98.5 g went in, 89.9 g are filled" in said
    assert "1.1 g were in nothing weighed" in said


def test_more_in_the_tubes_than_was_made_is_said(cooling):
    log(cooling, "poured", "56", 5)
    press(cooling.after.filled, filled__fills=" ".join(["9.5"] * 20))
    assert "was a container weighed with its tube" in told(cooling.after.balance).casefold()


def test_a_fill_that_is_none_is_marked(cooling):
    log(cooling, "poured", "56", 5)
    answer = press(cooling.after.filled, filled__fills="4.5 heavy")
    assert "fill 2" in answer["faults"]["filled//fills"]
    assert "How many grams" in press(cooling.after.filled)["faults"]["filled//fills"]


def test_the_fills_are_one_entry_that_is_mended_where_they_are_saved_again(cooling):
    log(cooling, "poured", "56", 5)
    press(cooling.after.filled, filled__fills="4.5 4.5")
    assert press(cooling.after.filled, filled__fills="4.5 4.6")["saved"]
    assert [each.fills_g for each in cooling.trial.of(Filled)] == [(4.5, 4.6)]


def test_sticks_are_judged(cooling):
    log(cooling, "poured", "56", 5)
    typed = {
        "judged__word": "firm",
        "judged__streaked": "1 few",
        "judged__sink_holes": "0",
        "judged__looked_at": "20",
    }
    assert press(cooling.after.judged, **typed)["saved"]
    judged = cooling.trial.of(Judged)[0]
    assert (judged.word, judged.streaks, judged.sink_holes, judged.looked_at) == ("firm", 1, 0, 20)
    answer = press(cooling.after.judged, judged__sink_holes="3")
    assert "Of how many" in answer["faults"]["judged//looked_at"]
    assert "how hard" in press(cooling.after.judged)["faults"]["judged//word"]


def test_a_press_that_comes_twice_is_one_entry(weighed):
    id = str(uuid_utils.uuid7())
    values = standing_in(weighed.stove.event)
    values["now"][0] |= {"celsius": "75"}
    for _ in range(2):
        assert press(weighed.stove.event, values, id)["saved"]
    assert len(weighed.trial.of(Reading)) == 1


def choose(panel, kind, words=""):
    panel.mending.what.value = next(
        value
        for label, value in panel.mending.what.options
        if value.startswith(f"{kind} ") and words in label
    )


def test_what_was_logged_is_mended_in_its_own_form(cooling):
    choose(cooling, "batch.added", "beeswax")
    assert press(cooling.stove.added, in__grams="15")["saved"]
    assert cooling.trial.pot().grams["beeswax"] == 15.0
    choose(cooling, "batch.event", "heat off")
    assert press(cooling.stove.event, now__celsius="81")["saved"]
    assert cooling.trial.of(Happened)[0].celsius == 81.0
    choose(cooling, "batch.reading")
    before = len(cooling.trial.of(Reading))
    cooling.mending.take_back.click()
    assert len(cooling.trial.of(Reading)) == before - 1
    choose(cooling, "gone")
    cooling.mending.put_back.click()
    assert len(cooling.trial.of(Reading)) == before


def test_a_panel_opened_anew_has_the_whole_day(cooling, book):
    again = BatchPanel(book)
    assert len(again.trial.logged) == len(cooling.trial.logged)
    assert told(again.cools) == told(cooling.cools)
    assert again.errors == []


def test_a_recipe_is_made_again_under_a_new_name(weighed):
    weighed.places["again"].children[0].click()
    assert weighed.trial is None
    values = standing_in(weighed.question_form)
    assert [row["name"] for row in values["lines"]] == [name for name, _ in RECIPE]
    assert press(weighed.question_form, values)["saved"]
    assert len(weighed.known_trials()) == 2
    assert not weighed.trial.logged


def test_markup_in_names_is_text(panel):
    values = plan(panel)
    values["lines"][0]["name"] = "<img src=x onerror=alert(1)> oil"
    assert press(panel.question_form, values)["saved"]
    press(panel.stove.added, in__grams="10", more__remark="<script>alert(1)</script>")
    shown_text = panel.sheet.html + panel.pot.value + panel.logged.value + panel.standing.value
    assert "<img src=x" not in shown_text
    assert "<script" not in shown_text


def test_a_recipe_is_made_again_sized_for_the_usual_loss(cooling):
    assert not shown_widget(cooling.sized)
    log(cooling, "poured", "56", 5)
    press(cooling.after.filled, filled__fills=" ".join(["4.4"] * 20))
    assert shown_widget(cooling.sized)
    cooling.sized.click()
    grams = [float(row["grams"]) for row in standing_in(cooling.question_form)["lines"]]
    lost = 1 - 20 * 4.4 / 98.5
    assert sum(grams) == pytest.approx(20 * 4.5 / (1 - lost), abs=0.3)
    assert grams[0] / sum(grams) == pytest.approx(48 / 98.5, abs=0.002)


def shown_widget(widget):
    return widget.layout.display != "none"


def test_cautions_stand_where_the_hand_is(asked):
    first = told(asked.stove.cautions)
    for caution in ("Pan off the heat", "lowest flame", "cool running water", "a drop in hot fat spits"):
        assert caution in first
    log(asked, "heat on", "25", 1)
    for name in ("castor oil", "beeswax", "shea butter"):
        press(asked.stove.added, in__ingredient=name, in__grams="10")
    assert "raise no dust" in told(asked.stove.cautions)
    log(asked, "poured", "60", 0)
    assert "Wipe colour out with paper" in told(asked.stove.cautions)
