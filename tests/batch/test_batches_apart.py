"""The batches of a book beside one another: the table, what is said, the pictures, the loss."""

from datetime import timedelta

import matplotlib as mpl
import numpy as np
import pandas as pd
import pytest
from batch.made import RECIPE, ago, weighed
from batch.pots import newton

from labkit.batch.apart_part import apart_view, loss_view
from labkit.batch.apart_plot import apart_figure, plot_apart
from labkit.batch.batches_apart import FEWEST, OUTCOMES, PROCESSES, compare_batches
from labkit.batch.losses import loss_words
from labkit.batch.names_beside import short_name
from labkit.batch.past import loss_before, past_batches
from labkit.batch.record import Filled, Happened, Judged, Reading
from labkit.batch.trial import start_batch
from labkit.book.example import example_book
from labkit.errors import LabError

mpl.use("agg")
DEMO = "00000000-0000-4000-8000-0000000000de"
WORDS = ("smears", "soft", "just right", "firm", "draggy")


@pytest.fixture(autouse=True)
def _close():
    yield
    from matplotlib import pyplot

    pyplot.close("all")


def table(count=8, recipe="A", **columns):
    """Invented batches: poured hotter, more sink holes; everything else by chance."""
    rng = np.random.default_rng(2)
    hot = np.linspace(62.0, 76.0, count)
    found = pd.DataFrame({
        "batch": [f"Batch {at + 1}" for at in range(count)], "entry": [str(at) for at in range(count)],
        "recipe": recipe, "ladder": [WORDS] * count, "pour_c": hot, "tau_min": rng.normal(13.0, 1.0, count),
        "off_to_pour_min": rng.normal(5.0, 1.0, count), "reheats": 0.0,
        "hottest_c": rng.normal(80.0, 1.0, count), "hot_min": rng.normal(15.0, 2.0, count),
        "hardness": rng.integers(1, 4, count).astype(float),
        "streaks": rng.integers(0, 3, count).astype(float), "sink_holes": np.arange(count, dtype=float),
        "looked_at": 20.0, "made_g": 100.0, "filled_g": rng.normal(91.0, 1.0, count), "pour_from": "read",
    })  # fmt: skip
    found = found.assign(sink_share=found["sink_holes"] / 20.0, loss=1.0 - found["filled_g"] / 100.0)
    return found.assign(**columns)


# ---- the table -------------------------------------------------------------------


def cooled(book, tau=12.0, poured_c=None, **question):
    batch = weighed(book, room_c=22.0, **question)
    batch = batch.log(Happened, what="heat off", celsius=80.0, at=ago(40))
    for minute in (2, 4, 6):
        batch = batch.log(Reading, celsius=float(newton(minute, 80.0, tau)), read_at=ago(40 - minute))
    return batch.log(Happened, what="poured", celsius=poured_c, at=ago(33))


def test_a_batch_is_a_row_with_what_follows_from_its_log(book):
    poured_c = float(newton(7.0, 80.0))
    batch = cooled(book, poured_c=poured_c)
    batch = batch.log(Filled, fills_g=(4.0,) * 22, pan_g=6.0, filled_at=ago(20))
    batch.log(Judged, word="firm", streaks=1, sink_holes=3, looked_at=22, judged_at=ago(1))
    (row,) = past_batches(book).to_dict("records")
    assert row["batch"] == "Rosewood"
    assert (row["pour_c"], row["pour_from"]) == (poured_c, "read")
    assert row["tau_min"] == pytest.approx(12.0, abs=0.01)
    assert row["off_to_pour_min"] == pytest.approx(7.0, abs=0.01)
    assert (row["hottest_c"], row["reheats"]) == (80.0, 0.0)
    assert (row["hardness"], row["streaks"]) == (3.0, 1.0)
    assert row["sink_share"] == pytest.approx(3 / 22)
    assert row["loss"] == pytest.approx(1 - 88 / 100)
    every = np.linspace(0.0, 7.0, 70_001)
    joined = np.interp(every, [0, 2, 4, 6, 7], [80.0, *newton([2, 4, 6], 80.0), poured_c])
    assert row["hot_min"] == pytest.approx(7.0 * (joined > 65.0).mean(), abs=0.01)


def test_a_pour_whose_temperature_was_not_read_is_told_from_the_curve(book):
    cooled(book)
    (row,) = past_batches(book).to_dict("records")
    assert row["pour_from"] == "curve"
    assert row["pour_c"] == pytest.approx(float(newton(7.0, 80.0, 12.0)), abs=0.05)


def test_a_pour_long_after_the_last_reading_is_not_told(book):
    batch = weighed(book)
    for minute in (0, 2, 4, 6):
        batch = batch.log(Reading, celsius=float(newton(minute, 80.0)), read_at=ago(40 - minute))
    batch.log(Happened, what="poured", at=ago(5))
    (row,) = past_batches(book).to_dict("records")
    assert np.isnan(row["pour_c"])
    assert row["pour_from"] == ""


def test_what_was_not_logged_is_not_known(book):
    weighed(book)
    start_batch(book, RECIPE, "only planned")
    (row,) = past_batches(book).to_dict("records")
    for column in (*PROCESSES, *OUTCOMES):
        assert np.isnan(row[column]), column


def test_more_in_the_tubes_than_in_the_pot_is_no_loss(book):
    batch = weighed(book).log(Filled, fills_g=(120.0,), filled_at=ago(1))
    assert np.isnan(past_batches(book)["loss"].iloc[0])
    assert "not known" in loss_before(start_batch(book, RECIPE, "next"))
    assert batch.filled is not None


def test_recipes_are_told_apart_and_other_makers_left_out(book):
    weighed(book)
    other = [dict(line) for line in RECIPE]
    other[0]["grams"], other[2]["grams"] = 45.0, 25.0
    start_batch(book, other, "Firmer").log(Reading, celsius=70.0, read_at=ago(5))
    assert past_batches(book)["recipe"].tolist() == ["A", "B"]
    assert past_batches(book, DEMO).empty


# ---- what is said ----------------------------------------------------------------


def test_what_is_there_is_found_and_what_is_not_is_not():
    found = compare_batches(table())
    assert found.rows.loc[found.rows["shown"], ["process", "outcome"]].values.tolist() == [
        ["pour_c", "sink_share"]
    ]
    row = found.of("pour_c", "sink_share")
    assert row["tau"] == 1.0
    assert "Batches poured hotter came out with more sink holes (τ 1.00" in row["sentence"]
    assert "1 link is shown" in " ".join(found.said)
    assert "need not be the cause" in found.said[-1]


def test_of_nothing_a_link_is_shown_once_in_twenty_at_most():
    """Batches by chance alone: over all 24 questions together (Holm)."""
    rng, wrong, runs = np.random.default_rng(5), 0, 40
    for _ in range(runs):
        made = table(7)
        columns = {
            name: rng.normal(size=7) for name in (*PROCESSES, "hardness", "streaks", "sink_share", "loss")
        }
        wrong += bool(compare_batches(made.assign(**columns)).rows["shown"].any())
    assert wrong / runs <= 0.05 + 2 * np.sqrt(0.05 * 0.95 / runs)


@pytest.mark.parametrize("count", [0, 1, 2, 5])
def test_few_batches_claim_nothing_and_say_how_many_more(count):
    found = compare_batches(table(8).head(count))
    assert not found.rows["shown"].any()
    assert found.rows["p_holm"].isna().all()
    there = count if count > 1 else 0
    assert f"{FEWEST - there} more before anything is said" in found.of("pour_c", "sink_share")["sentence"]
    assert "Nothing is claimed" in found.said[-1]


def test_a_process_that_changed_along_is_named():
    made = table()
    found = compare_batches(made.assign(off_to_pour_min=100.0 - made["pour_c"]))
    assert (
        "But time from heat off to pour changed along with it" in found.of("pour_c", "sink_share")["sentence"]
    )


def test_recipes_made_once_tell_nothing_and_that_is_said():
    found = compare_batches(table(8, recipe=list("AAAAAAAB")))
    assert found.of("pour_c", "sink_share")["count"] == 7
    assert "1 recipe was made once" in " ".join(found.said)
    assert not compare_batches(table(8, recipe=list("ABCDEFGH"))).rows["shown"].any()


def test_what_did_not_vary_and_what_could_never_show_cost_nothing():
    found = compare_batches(table())
    assert "did not vary" in found.of("reheats", "loss")["sentence"]
    made = table(reheats=[0.0] * 7 + [1.0])
    row = compare_batches(made).of("reheats", "sink_share")
    assert "too few batches of one recipe differ" in row["sentence"]
    assert np.isnan(row["p_holm"])


def test_hardness_on_another_ladder_is_left_out():
    ladders = [("soft", "hard")] * 3 + [WORDS] * 5
    found = compare_batches(table(ladder=ladders))
    assert found.batches["hardness"].isna().sum() == 3
    assert found.of("pour_c", "hardness")["count"] == 5


def test_only_what_is_asked_for_is_asked():
    found = compare_batches(table(), ["pour_c"], ["hardness", "loss"])
    assert len(found.rows) == 2
    with pytest.raises(LabError, match="Did you mean “pour_c”"):
        compare_batches(table(), ["pour_f"])


# ---- pictures --------------------------------------------------------------------


def words(figure):
    figure.canvas.draw()
    return " ".join(" ".join(each.get_text().split()) for each in figure.findobj(mpl.text.Text))


def test_each_batch_is_named_beside_its_point():
    figure = apart_figure(compare_batches(table()), "sink_share")
    said = words(figure)
    for name in table()["batch"]:
        assert said.count(name) == len(PROCESSES)
    assert "a link is shown: τ 1.00, 8 batches" in said
    assert "one of them did not vary" in said


def test_names_lie_inside_the_picture_and_apart_where_there_is_room():
    ax = plot_apart(compare_batches(table()), "pour_c", "sink_share")
    ax.figure.canvas.draw()
    boxes = [each.get_window_extent() for each in ax.texts]
    assert len(boxes) == 8
    for at, box in enumerate(boxes):
        assert ax.figure.bbox.x0 <= box.x0
        assert box.x1 <= ax.figure.bbox.x1
        assert not any(box.overlaps(other) for other in boxes[at + 1 :])


def test_few_data_are_said_on_the_picture_itself():
    assert "too few to say anything (3 more)" in words(apart_figure(compare_batches(table().head(3)), "loss"))


def test_recipes_have_their_own_marks():
    ax = plot_apart(compare_batches(table(8, recipe=list("AAAABBBB"))), "pour_c", "loss")
    marks = {(line.get_marker(), line.get_markerfacecolor()) for line in ax.lines}
    assert len(marks) == 2
    said = words(apart_figure(compare_batches(table(8, recipe=list("AAAABBBB"))), "loss"))
    assert "recipe A" in said
    assert "recipe B" in said


def test_sink_holes_have_their_limits():
    found = compare_batches(table())
    ax = plot_apart(found, "pour_c", "sink_share")
    segments = ax.collections[0].get_segments()
    ends = np.array([[each[0][1], each[1][1]] for each in segments])
    np.testing.assert_allclose(ends, found.batches[["sink_low", "sink_high"]])


@pytest.mark.parametrize("outcome", OUTCOMES)
def test_one_batch_can_be_drawn_and_none_is_no_picture(outcome):
    assert apart_figure(compare_batches(table().head(1)), outcome) is not None
    assert apart_figure(compare_batches(table().head(0)), outcome) is None


def test_a_name_with_dollars_is_a_name():
    assert "$5" in words(
        apart_figure(compare_batches(table(batch=[f"$5 and ${at}" for at in range(8)])), "loss")
    )
    assert short_name("Unbrokenveryverylongname").startswith("…")


# ---- on the panel ----------------------------------------------------------------


def test_the_fold_shows_sentences_pictures_and_the_table():
    from labkit.batch.demo import example_batch

    shown = apart_view(example_batch())
    assert shown.count("<img") == 4
    assert "9 batches in your book, of 2 recipes." in shown
    assert "Batches poured hotter came out with more sink holes" in shown
    assert "Every question, one by one" in shown
    assert 'alt="Sink holes of past batches.' in shown


def test_the_demo_is_invented_and_says_so():
    names = past_batches(example_book(), DEMO)["batch"]
    assert names.str.contains("Invented").all()


# ---- loss ------------------------------------------------------------------------


def test_the_loss_of_this_recipe_scales_the_next_batch(book):
    for at, filled in enumerate((91.0, 90.0, 92.0)):
        weighed_again(book, f"Batch {at}", filled)
    batch = start_batch(book, RECIPE, "next", containers=20, fill_g=4.25)
    said = loss_before(batch)
    assert said.startswith("3 batches of this recipe lost 9 %")
    assert "To fill 85 g, make 93.4 g" in said
    assert said in loss_view(batch).replace("&#x27;", "'")


def test_of_another_recipe_it_says_so_and_of_none_nothing(book):
    assert "its loss is not known" in loss_before(start_batch(book, RECIPE, "first"))
    weighed_again(book, "one", 90.0)
    other = [
        {"name": "castor oil", "grams": 80.0, "kind": "oil"},
        {"name": "beeswax", "grams": 20.0, "kind": "wax"},
    ]
    said = loss_before(start_batch(book, other, "balm", containers=10, fill_g=5.0))
    assert said.startswith("1 batch of any recipe lost 10 %")
    assert "one batch does not say how the next one may fall" in said
    assert "95 % sure" not in said


def test_later_batches_do_not_count_for_an_earlier_one(book):
    first = weighed(book)
    weighed_again(book, "later", 90.0)
    assert "not known" in loss_before(first)


def test_the_words_follow_the_numbers():
    made = table(4, made_g=100.0, filled_g=[90.0, 90.0, 90.0, 90.0])
    assert "lost 10 %" in loss_words(made.assign(loss=0.1), recipe="A")


def weighed_again(book, name, filled_g):
    batch = start_batch(book, RECIPE, name)
    from labkit.batch.record import Added

    for line in RECIPE:
        batch = batch.log(Added, ingredient=line["name"], grams=line["grams"], added_at=ago(60))
    return batch.log(Filled, fills_g=(filled_g,), filled_at=ago(1) + timedelta(seconds=1))
