"""A batch in the book: what is logged and refused, the pot, the clock, the cooling, what comes next."""

import math
from datetime import timedelta

import pytest
from batch.made import RECIPE, ago, weighed

from labkit.batch import read_thermometer
from labkit.batch.day import (
    cooling_or_why,
    heating_order,
    kinds_of,
    melt_in,
    next_in,
    same_recipe,
    too_thick,
    window_of,
)
from labkit.batch.record import Added, Filled, Happened, Judged, Line, Reading, Readings, Taken
from labkit.batch.trial import BatchTrial, start_batch
from labkit.book import TrialBook
from labkit.errors import LabError


def cooled(batch, tau=14.0, off=20.0, until=12, every=2, room=22.0):
    """Log heat off and a cooling pot, exact to a tenth of a degree."""
    batch = batch.log(Happened, what="heat off", at=ago(off), celsius=82.0)
    for minute in range(every, until + 1, every):
        celsius = round(room + (82.0 - room) * math.exp(-minute / tau), 1)
        batch = batch.log(Reading, celsius=celsius, read_at=ago(off - minute))
    return batch


def test_the_pot_is_what_went_in_less_what_was_taken_out(book):
    batch = weighed(book).log(Taken, grams=10.0, taken_at=ago(30))
    batch = batch.log(Added, ingredient="beeswax", grams=1.0, added_at=ago(20))
    pot = batch.pot()
    assert pot.total_g == pytest.approx(91.0)
    assert pot.grams["castor oil"] == pytest.approx(55 * 0.9)
    assert pot.grams["beeswax"] == pytest.approx(15 * 0.9 + 1)
    assert batch.went_in()["beeswax"] == 16.0


def test_everything_is_there_when_the_book_is_opened_again(book, tmp_path):
    cooled(weighed(book))
    book.close()
    with TrialBook(tmp_path / "lab-book.db") as again:
        batch = BatchTrial(again)
        assert len(batch.logged) == 5 + 1 + 6
        assert batch.cooling.tau_min == pytest.approx(14.0, rel=0.03)


def test_temperatures_are_in_the_order_of_the_clock_wherever_they_come_from(book):
    batch = weighed(book).log(Reading, celsius=60.0, read_at=ago(10))
    batch = batch.log(Readings, began_at=ago(20), minutes=(0.0, 5.0), celsius=(75.0, 66.0))
    batch = batch.log(Happened, what="poured", at=ago(8), celsius=58.0)
    table = batch.temperatures()
    assert table["celsius"].tolist() == [75.0, 66.0, 60.0, 58.0]
    assert table["from"].tolist() == ["file", "file", "typed", "poured"]
    assert table["minutes"].tolist() == pytest.approx([40.0, 45.0, 50.0, 52.0], abs=0.1)


@pytest.mark.parametrize(
    ("record", "fields", "said"),
    [
        (Taken, {"grams": 200.0}, "cannot be taken from a pot of 100 g"),
        (Reading, {"celsius": 165.0}, "130"),
        (Reading, {"celsius": 60.0, "read_at": ago(-60)}, "still to come"),
        (Readings, {"minutes": (0.0, 2.0, 1.0), "celsius": (70.0, 69.0, 68.0)}, "clock goes back"),
        (Readings, {"minutes": (0.0, 1.0), "celsius": (170.0, 160.0)}, "°F"),
        (Added, {"ingredient": "castor oil", "grams": 0.0}, "Weighed"),
        (Judged, {"word": "brittle"}, "not on your ladder"),
        (Judged, {"sink_holes": 5, "looked_at": 3}, "5 of 3"),
        (Judged, {}, "how hard"),
        (Filled, {"fills_g": (4.5, -1.0)}, "more than nothing"),
    ],
)
def test_what_cannot_be_is_refused_in_words(book, record, fields, said):
    batch = weighed(book)
    with pytest.raises(LabError, match=said):
        batch.log(record, **fields)
    assert len(batch.again().logged) == 5


def test_fills_before_the_pour_are_refused(book):
    batch = weighed(book).log(Happened, what="poured", at=ago(10), celsius=60.0)
    with pytest.raises(LabError, match="It was poured"):
        batch.log(Filled, fills_g=(4.5,), filled_at=ago(30))


def test_what_was_logged_is_mended_taken_back_and_put_back(book):
    batch = weighed(book)
    version = next(entry for entry, each in batch.logged if isinstance(each, Added))
    batch = batch.mend_logged(version, grams=56.0)
    assert batch.pot().grams["castor oil"] == 56.0
    version = next(entry for entry, each in batch.logged if isinstance(each, Added))
    batch = batch.take_back(version)
    assert "castor oil" not in batch.pot().grams
    assert [each.id for each in batch.gone()] == [version.id]
    assert batch.put_back(version).pot().grams["castor oil"] == 56.0


def test_the_next_ingredient_follows_the_order_of_heating(book):
    batch = start_batch(
        book, [*RECIPE, {"name": "rose flavour", "grams": 1.0, "kind": "scent", "limit_c": 60.0}]
    )
    order = heating_order(batch.question).rows["ingredient"].tolist()
    for name in order:
        assert next_in(batch) == name
        batch = batch.log(Added, ingredient=name, grams=batch.question.grams[name])
    assert next_in(batch) == ""
    assert order[-1] == "rose flavour"


def test_a_reheat_begins_a_new_cooling(book):
    batch = cooled(weighed(book), off=50.0)
    batch = batch.log(Happened, what="reheated", at=ago(30), celsius=80.0)
    for minute in range(2, 14, 2):
        batch = batch.log(
            Reading, celsius=round(22 + 58 * math.exp(-minute / 14), 1), read_at=ago(30 - minute)
        )
    assert batch.cooling.tau_min == pytest.approx(14.0, rel=0.03)
    assert batch.cooling.since_min == pytest.approx(30.0, abs=0.1)
    assert any("reheated" in each for each in batch.cooling.notes)


def test_too_few_readings_are_said_in_words(book):
    batch = weighed(book).log(Happened, what="heat off", at=ago(20), celsius=82.0)
    assert "it takes 3 or more" in cooling_or_why(batch)


def test_a_thermometers_file_is_one_entry(book):
    log = read_thermometer("Temp (°C);Time\n75,5;10:00:00\n--;10:00:30\n74,1;10:01:00\n")
    batch = weighed(book).log_file(log, ago(10), "pot.csv")
    assert [len(each.celsius) for each in batch.of(Readings)] == [2]
    assert batch.temperatures()["celsius"].tolist() == [75.5, 74.1]


# ---- when it is too thick, and the window -----------------------------------------


def test_what_the_maker_saw_counts_before_what_is_ideal(book):
    batch = cooled(weighed(book))
    ideal = too_thick(batch, melt_in(batch))
    assert "ideal" in ideal.why
    batch = batch.log(Happened, what="it clouds", at=ago(2), celsius=57.0)
    assert too_thick(batch, melt_in(batch)).celsius == 57.0
    batch = batch.log(Happened, what="too thick", at=ago(1), celsius=52.0)
    assert too_thick(batch, melt_in(batch)).celsius == 52.0
    given = batch.question.model_copy(update={"too_thick_c": 54.0})
    assert too_thick(batch.change(given), melt_in(batch)).celsius == 54.0


def test_an_earlier_batch_of_the_same_recipe_teaches_when_it_is_too_thick(book):
    weighed(book).log(Happened, what="too thick", at=ago(1), celsius=51.0)
    double = [{**line, "grams": 2 * line["grams"]} for line in RECIPE]
    other = start_batch(book, double, "twice as much")
    assert too_thick(other, melt_in(other)).celsius == 51.0
    firmer = [{**line, "grams": line["grams"] + 10 * (line["name"] == "beeswax")} for line in RECIPE]
    another = start_batch(book, firmer, "with more wax")
    assert "ideal" in too_thick(another, melt_in(another)).why
    assert not same_recipe(another.question, other.question)


def test_the_pour_window_ends_where_it_is_too_thick(book):
    batch = cooled(weighed(book, too_thick_c=50.0, room_c=22.0))
    window = window_of(batch, batch.cooling, melt_in(batch))
    assert window.is_open
    assert window.closes_c == pytest.approx(50.0, abs=0.2)
    exact = batch.minutes(ago(20)) - 14.0 * math.log((50.0 - 22.0) / (82.0 - 22.0))
    assert window.closes_min == pytest.approx(exact, abs=0.3)


def test_without_powder_there_is_no_window(book):
    plain = [line for line in RECIPE if line["kind"] != "powder"]
    batch = cooled(start_batch(book, plain))
    assert window_of(batch, batch.cooling, melt_in(batch)) is None


def test_a_thing_that_is_not_in_the_plan_counts_by_its_name(book):
    question = weighed(book).question
    kinds = kinds_of(question, {"castor oil": 1, "carnauba wax": 1, "my secret": 1})
    assert kinds == {"castor oil": "oil", "carnauba wax": "wax", "my secret": "oil"}


def test_a_wax_that_melts_above_its_own_limit_is_refused_with_the_line(book):
    with pytest.raises(LabError, match="melts"):
        heating_order(
            start_batch(
                book, [Line(name="odd wax", grams=5, kind="wax", melts_c=(60, 70), limit_c=50).model_dump()]
            ).question
        )


def test_two_lines_of_one_name_are_refused(book):
    with pytest.raises(LabError, match="stands there twice"):
        start_batch(book, [*RECIPE, {"name": "Beeswax", "grams": 1.0, "kind": "wax"}])


def test_minutes_run_on_the_days_clock(book):
    batch = weighed(book)
    assert batch.minutes(batch.clock + timedelta(minutes=7)) == 7.0


def test_a_pot_that_mending_made_smaller_than_what_was_taken_is_empty_not_broken(book):
    batch = start_batch(book, RECIPE).log(Added, ingredient="castor oil", grams=10.0, added_at=ago(10))
    batch = batch.log(Taken, grams=5.0, taken_at=ago(5))
    version = next(entry for entry, each in batch.logged if isinstance(each, Added))
    assert batch.mend_logged(version, grams=4.0).pot() is None


def test_an_ingredient_is_spelled_as_the_plan_spells_it(book):
    batch = start_batch(book, RECIPE).log(Added, ingredient=" Castor  OIL", grams=10.0)
    assert batch.pot().grams == {"castor oil": 10.0}


def test_a_very_long_log_is_thinned_and_says_so(book):
    lines = "time (s);temperature (°C)\n" + "\n".join(
        f"{second};{80 - second / 1000:.2f}" for second in range(12_000)
    )
    batch = weighed(book).log_file(read_thermometer(lines), ago(250))
    kept = batch.of(Readings)[0]
    assert len(kept.celsius) == 4000
    assert kept.remark == "1 reading in 3 of 12000."
    assert kept.minutes[1] == pytest.approx(3 / 60, abs=1e-4)
