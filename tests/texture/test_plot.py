"""What the pictures show: the words of the ladder, the pours, where to pour next, what is not known."""

from dataclasses import replace

import matplotlib as mpl
import numpy as np
import pandas as pd
import pytest
from matplotlib import pyplot

from labkit.texture.hardness import HardnessModel
from labkit.texture.plot import map_figure, plot_chance, plot_hardness, plot_words
from labkit.texture.region import Region
from labkit.texture.story import map_of, words_figure
from labkit.ui.figure import picture

mpl.use("agg")


@pytest.fixture(autouse=True)
def closed():
    yield
    pyplot.close("all")


@pytest.fixture
def shown(felt):
    return map_of(felt, felt.next_pour())


def texts(figure):
    return [text.get_text() for text in figure.findobj(mpl.text.Text)]


def test_the_map_shows_words_pours_and_the_next_one(shown):
    figure = map_figure(shown)
    said = texts(figure)
    assert {"How hard it sets", "Chance of “just right”", "1", "2", "3", "4", "firm", "8 in 10"} <= set(said)
    assert any("% of the finished product" in each for each in said)
    stars = [line for line in figure.findobj(mpl.lines.Line2D) if line.get_marker() == "*"]
    assert len(stars) == 2


def test_the_axes_are_in_percent_of_the_finished_product(shown):
    axes = plot_chance(shown)
    assert axes.ternary_sum == pytest.approx(100 * (1 - 4 / 48))


def test_what_is_not_known_is_hatched(shown):
    def hatched(figure):
        return [each for each in figure.findobj(mpl.contour.ContourSet) if any(each.hatches)]

    assert hatched(map_figure(replace(shown, unknown_below=shown.model.known(shown.region.grid(50)).mean())))
    assert not hatched(map_figure(replace(shown, unknown_below=0.0)))


def test_a_stamp_is_written_across(shown):
    assert "invented example" in texts(map_figure(replace(shown, stamp="invented example")))


@pytest.mark.parametrize("parts", [2, 3, 4, 6])
def test_any_number_of_parts_can_be_drawn(parts):
    names = [f"part {each}" for each in range(parts - 1)] + ["wax"]
    region = Region(dict.fromkeys(names, (0.05, 0.8)))
    shares = pd.DataFrame(region.grid(60)[:6], columns=names)
    model = HardnessModel(["soft", "right", "hard"]).fit(shares, ["soft", "right", "hard"] * 2)
    pours = shares.assign(pour=range(1, 7), word="soft")
    from labkit.texture.plot import Map

    figure = map_figure(Map(model, region, "right", pours, shares.head(1)))
    maps = [each for each in figure.axes if "Chance" in each.get_title()]
    assert len(maps) == (1 if parts <= 3 else 3)
    drawn = [text for text in texts(figure) if text in {str(each) for each in range(1, 7)}]
    assert len(set(drawn)) == 6


def test_words_are_drawn_on_the_ladder_against_hours(felt):
    figure = words_figure(felt)
    (axes,) = figure.axes
    assert [label.get_text() for label in axes.get_yticklabels()] == list(felt.question.ladder)
    assert axes.get_xscale() == "log"
    dots = [line for line in axes.lines if line.get_linestyle() == "None"]
    assert len(dots) == 4
    assert all(len(line.get_xdata()) == 2 for line in dots)


def test_functions_draw_where_they_are_told_and_give_it_back(shown, felt):
    figure = pyplot.figure()
    axes = figure.add_subplot(projection="ternary", ternary_sum=shown.percent)
    assert plot_hardness(shown, axes) is axes
    flat = figure.add_subplot()
    notes = felt.readings()
    assert plot_words(notes, list(felt.question.ladder), "soft", {}, flat) is flat


def test_a_picture_carries_its_message_as_text_and_closes_its_figure():
    figure, axes = pyplot.subplots()
    axes.plot(np.arange(3))
    said = picture(figure, 'how "hard" it sets')
    assert 'alt="how &quot;hard&quot; it sets"' in said
    assert "data:image/png;base64," in said
    assert not pyplot.fignum_exists(figure.number)
