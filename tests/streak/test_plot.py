"""The pictures show what was found."""

import matplotlib as mpl
import numpy as np
import pandas as pd
import pytest
from streak.photos import PIGMENTS, Scene, Streaks

from labkit.streak import (
    clean_rounds,
    grades_figure,
    marked_figure,
    plot_clean,
    plot_grades,
    plot_marked,
    stirring,
    unevenness,
)
from labkit.streak.plot import plot_chances

mpl.use("agg")
ROUNDS = pd.DataFrame(
    {"round": [1, 1, 2, 2, 3, 3], "pigment": ["red", "black"] * 3, "grade": [3, 4, 1, 4, 0, None]}
)
RUNS = pd.DataFrame(
    {"rounds": [3, 4, 5, 6, 8, 9], "clean": [True, True, False, True, True, False], "method": list("aaabbb")}
)


@pytest.fixture(autouse=True)
def _close():
    yield
    from matplotlib import pyplot

    pyplot.close("all")


def words(figure):
    figure.canvas.draw()
    return " ".join(each.get_text() for each in figure.findobj(mpl.text.Text))


def test_the_marked_photo_names_pigment_share_and_run():
    levels = Scene((240, 320), [Streaks("yellow", 30, 20, 90)]).levels()
    found = unevenness(levels, PIGMENTS)
    said = words(marked_figure(levels, found))
    assert f"{100 * found.share_over_2:.1f} %" in said
    assert "yellow" in said
    assert "they run at 30°" in said


def test_an_even_photo_is_drawn_too():
    levels = Scene((240, 320)).levels()
    assert "No streaks to tell apart" in words(marked_figure(levels, unevenness(levels, PIGMENTS)))
    assert plot_marked(levels, unevenness(levels)).get_title(loc="left").startswith("Unevenness ΔE00 0.0")


def test_grades_and_chances_are_drawn():
    told = stirring(ROUNDS)
    figure = grades_figure(ROUNDS, told)
    left, right = figure.axes
    assert [line.get_label() for line in left.lines] == ["red", "black"]
    np.testing.assert_allclose(left.lines[0].get_ydata(), [3, 1, 0])
    np.testing.assert_allclose(right.lines[0].get_xdata(), 100 * told["chance_of_streak"])
    assert "4 everywhere" in words(figure)


def test_a_given_axes_is_drawn_on():
    from matplotlib import pyplot

    ax = pyplot.subplots()[1]
    assert plot_grades(ROUNDS, ax) is ax
    assert plot_chances(stirring(ROUNDS), ax=pyplot.subplots()[1]).get_ylim()[1] > 1
    assert plot_clean(clean_rounds(RUNS), pyplot.subplots()[1]).get_xlabel() == "rounds"


def test_stopped_runs_are_ticks_on_the_curve():
    found = clean_rounds(RUNS)
    ax = plot_clean(found)
    ticks = [line for line in ax.lines if line.get_marker() == "|"]
    assert [line.get_xdata().tolist() for line in ticks] == [[5], [9]]
    np.testing.assert_allclose(ticks[0].get_ydata(), [100 / 3])
