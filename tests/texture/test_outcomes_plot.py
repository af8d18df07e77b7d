"""What the pictures of variation show: the message, what is known and what is not, and the repeats."""

from datetime import date, timedelta

import matplotlib as mpl
import numpy as np
import pandas as pd
import pytest
from matplotlib import pyplot
from matplotlib.colors import same_color

from labkit.texture.outcomes import outcomes
from labkit.texture.outcomes_plot import KNOWN, MARK, OPEN, WIDE, outcomes_figure, short
from labkit.texture.trials_plot import trials_figure
from labkit.ui.figure import png

mpl.use("agg")

LADDER = ("smears", "soft", "just right", "firm", "draggy")
LONG = (
    "smears at a touch", "very soft", "soft", "just right", "firm", "very firm indeed", "draggy",
)  # fmt: skip
PARTS = ["oil", "wax"]
MONDAY = date(2026, 3, 2)


@pytest.fixture(autouse=True)
def closed():
    yield
    pyplot.close("all")


def notes(days, pours=2, felt=2, seed=0, step=1.0):
    rng = np.random.default_rng(seed)
    day, pour = np.repeat(np.arange(days), pours * felt), np.repeat(np.arange(days * pours), felt)
    rung = np.round(2 + rng.normal(0, step, days)[day] + rng.normal(0, 0.6, len(day)))
    when = [MONDAY + timedelta(int(each)) for each in day]
    return pd.DataFrame({"cast": pour, "pour": pour + 1, "day": when, "oil": 0.7, "wax": 0.3, "rung": rung})


def told(frame, ladder=LADDER, modelled=False):
    return outcomes(frame, frame["rung"], PARTS, ladder, modelled)


def two_testers(frame):
    return frame.assign(tester=np.resize(["Anna-Maria of the cellar, at the back", "B$n $x$"], len(frame)))


def both_ways(frame):
    return frame.assign(
        set_where=np.where(frame["pour"] % 2, "in the cold", "on the bench"),
        reheats=frame["pour"] % 2, lots=np.where(frame["pour"] % 2, "a", "b"),
    )  # fmt: skip


NAMED = ["the first $day$"] * 4 + ["a day with a long name"] * 4 + [3] * 4
TWO_RECIPES = notes(2, 1).assign(oil=[0.7, 0.7, 0.6, 0.6], wax=[0.3, 0.3, 0.4, 0.4])

CASES = {
    "nothing": told(notes(1).head(0)),
    "one note": told(notes(1).head(1)),
    "one day": told(notes(1)),
    "two days": told(notes(2)),
    "one pour a day": told(notes(5, 1, 1)),
    "four days": told(notes(4)),
    "thirty days": told(notes(30)),
    "two testers": told(two_testers(notes(4))),
    "both ways": told(both_ways(notes(6, 4))),
    "by the map": told(TWO_RECIPES, modelled=True),
    "readings": outcomes(notes(4), 0.1 * notes(4)["rung"], PARTS, modelled=False),
    "days by name": told(notes(3).assign(day=NAMED)),
}  # fmt: skip


def trials(count, named="Trial {}", rung=True):
    rows = [
        {
            "trial": named.format(at),
            "hardness": 2.0 + 0.5 * (-1) ** at,
            "sd": 0.3,
            "rung": each if rung else np.nan,
        }
        for at in range(count)
        for each in (1.0, 2.0, 2.0, 5.0)
    ]
    return pd.DataFrame(rows)


FIGURES = {
    **{name: lambda found=found: outcomes_figure(found) for name, found in CASES.items()},
    "one trial": lambda: trials_figure(trials(1), LADDER),
    "two trials": lambda: trials_figure(trials(2, "Trial {} with a very long name, of $5$ or so"), LONG),
    "twenty trials": lambda: trials_figure(trials(20, rung=False), LONG),
    "a ladder of two": lambda: trials_figure(trials(3), ("too soft", "too hard")),
}


def drawn(figure):
    """The texts that are drawn, those out of sight left aside."""
    found = []
    draw = mpl.text.Text.draw
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(mpl.text.Text, "draw", lambda text, *a: found.append(text) or draw(text, *a))
        figure.canvas.draw()
    return [text for text in found if text.get_text().strip() and text.get_visible()]


def read(figure):
    return [text.get_text().replace("\n", " ").replace(r"\$", "$") for text in drawn(figure)]


def bars(ax):
    """Colour and ends of the thick bar of each row."""
    lines = [line for line in ax.lines if line.get_linewidth() == 7]
    return [(line.get_color(), *line.get_xdata()) for line in lines]


@pytest.mark.parametrize("name", FIGURES)
def test_no_text_covers_another_or_leaves_the_picture(name):
    figure = FIGURES[name]()
    texts = drawn(figure)
    boxes = [(text.get_text(), text.get_window_extent()) for text in texts]
    paper = figure.bbox.padded(1)
    assert [said for said, box in boxes if not (paper.contains(*box.min) and paper.contains(*box.max))] == []
    covered = [
        (one, other)
        for at, (one, box) in enumerate(boxes)
        for other, beside in boxes[at + 1 :]
        if box.padded(-1).overlaps(beside.padded(-1))
    ]
    assert covered == []


@pytest.mark.parametrize("name", FIGURES)
def test_texts_can_be_read_at_400_pixels(name):
    figure = FIGURES[name]()
    points = [text.get_fontsize() for text in drawn(figure)]
    assert min(points) / 72 * 400 / WIDE >= 11
    assert figure.get_figwidth() == WIDE
    assert png(figure).startswith(b"\x89PNG")


@pytest.mark.parametrize("name", FIGURES)
def test_no_name_is_set_as_a_formula(name):
    assert not any(mpl.cbook.is_math_text(text.get_text()) for text in drawn(FIGURES[name]()))


@pytest.mark.parametrize("name", CASES)
def test_the_title_is_the_message(name):
    assert read(outcomes_figure(CASES[name])).count(CASES[name].title) == 1


@pytest.mark.parametrize("name", CASES)
def test_a_row_for_each_source_grey_where_it_cannot_be_told(name):
    found = CASES[name]
    upper = outcomes_figure(found).axes[0]
    shown = bars(upper)
    assert len(shown) == len(found.sources)
    for source, (colour, low, high) in zip(found.sources, shown, strict=True):
        assert same_color(colour, KNOWN if source.told or source.there else OPEN)
        assert high == pytest.approx(min(source.high, upper.get_xlim()[1]))
        assert low <= source.low
        assert low == pytest.approx(source.low) or low == pytest.approx(0.98 * upper.get_xlim()[1])


@pytest.mark.parametrize("name", CASES)
def test_an_arrow_where_there_is_no_upper_limit_and_a_dot_where_there_is_an_estimate(name):
    found = CASES[name]
    upper = outcomes_figure(found).axes[0]
    arrows = {line.get_ydata()[0] for line in upper.lines if line.get_marker() == ">"}
    dots = {line.get_ydata()[0] for line in upper.lines if line.get_marker() == "o"}
    edge = upper.get_xlim()[1]
    assert arrows == {row for row, source in enumerate(found.sources) if source.high > edge}
    known = {row for row, each in enumerate(found.sources) if np.isfinite(each.sd) and not each.hindrance[0]}
    assert dots == known


def test_one_word_is_marked_for_words_alone():
    assert "one word" in [said.strip() for said in read(outcomes_figure(CASES["four days"]))]
    said = read(outcomes_figure(CASES["readings"]))
    assert not any("word" in each for each in said)
    assert any(each.endswith("%") for each in said)


def test_the_repeats_stand_where_they_were_felt():
    found = CASES["four days"]
    lower = outcomes_figure(found).axes[1]
    dots = np.concatenate([line.get_ydata() for line in lower.lines if line.get_marker() == "o"])
    assert sorted(dots) == pytest.approx(sorted(found.dots["off"]))
    assert [label.get_text() for label in lower.get_xticklabels()] == [
        "Mon\n2 Mar", "Tue\n3 Mar", "Wed\n4 Mar", "Thu\n5 Mar",
    ]  # fmt: skip


def test_pours_stand_by_day_and_notes_that_agree_side_by_side():
    frame = notes(3, 2, 3).assign(rung=2.0)
    lower = outcomes_figure(told(frame)).axes[1]
    places = np.concatenate([line.get_xdata() for line in lower.lines if line.get_marker() == "o"])
    assert len(set(places.round(6))) == 18
    days = np.sort(places).reshape(3, 6)
    assert (days[:-1].max(axis=1) < days[1:].min(axis=1)).all()


def test_each_tester_has_a_mark_of_their_own():
    lower = outcomes_figure(CASES["two testers"]).axes[1]
    marks = {line.get_marker() for line in lower.lines if line.get_linestyle() == "None"}
    assert len(marks) == 2
    assert len(lower.get_legend().get_texts()) == 2
    assert outcomes_figure(CASES["four days"]).axes[1].get_legend() is None


def test_without_repeats_it_says_what_to_pour():
    assert any(
        "Pour your usual again, on two days" in said for said in read(outcomes_figure(CASES["nothing"]))[1:]
    )


def test_beside_a_row_stands_what_is_known_of_it():
    one, many = CASES["one day"], CASES["thirty days"]
    assert short(one.source("days")) == "not known yet"
    assert short(many.source("notes")).startswith("about ")
    assert short(CASES["both ways"].source("lots")) == "not known yet"


def test_trials_stand_side_by_side_and_the_last_is_marked():
    figure = trials_figure(trials(3), LADDER)
    shown = bars(figure.axes[0])
    assert [colour for colour, *_ in shown] == [KNOWN, KNOWN, MARK]
    assert shown[0][1:] == pytest.approx((2.5 - 1.6448536 * 0.3, 2.5 + 1.6448536 * 0.3))
    said = read(figure)
    assert (
        "“Trial 2” came out harder than “Trial 1” by 1 word (0.3 to 1.7 words): that is more than chance."
        in said
    )
    assert {"smears", "just right", "draggy"} <= {each.strip() for each in said}


def test_a_trial_without_a_word_is_grey_and_says_so():
    table = trials(2).assign(wordless=[""] * 4 + ["2 readings"] * 4)
    figure = trials_figure(table, LADDER)
    assert [colour for colour, *_ in bars(figure.axes[0])] == [KNOWN, OPEN]
    assert "no word yet" in read(figure)
    assert not [line for line in figure.axes[0].lines if line.get_marker() == "D"]


def test_trials_whose_names_begin_alike_can_be_told_apart():
    """Trials that are called by their day all stood there as “My usual is too …”."""
    said = read(trials_figure(trials(2, "My usual is too soft, {} Mar 2026"), LADDER))
    assert {"My usual … 0 Mar 2026", "My usual … 1 Mar 2026"} <= set(said)


def test_of_many_trials_the_last_twelve():
    said = read(FIGURES["twenty trials"]())
    assert "Trial 8" in said
    assert "Trial 7" not in said
