import matplotlib as mpl
import numpy as np
import pandas as pd
import pytest
from matplotlib import pyplot

from labkit.colour.cie import delta_e00, hex_of_lab
from labkit.shade import compare_plot, plot, sweep
from labkit.shade.load_sweep import Enough


@pytest.fixture(scope="module")
def told():
    return sweep(
        {"red iron oxide": 3, "titanium dioxide": 1}, np.linspace(1, 20, 9), [5, 10], ["lip", "white card"]
    )


@pytest.fixture(autouse=True)
def closed():
    yield
    pyplot.close("all")


def test_a_strip_has_the_forecast_colours_in_their_places(told):
    figure = plot.strips_figure(told)
    image = figure.axes[0].images[0]
    colours = image.get_array()
    assert colours.shape == (2, 9, 3)
    thin_first = told.query("backing == 'lip' and film_um == 5").iloc[0]
    assert mpl.colors.to_hex(colours[0, 0]) == thin_first["hex"]
    assert [text.get_text() for text in figure.axes[0].get_yticklabels()] == ["5 µm", "10 µm"]


def test_coverage_marks_where_more_pigment_hardly_covers_more(told):
    for load in (15.0, np.inf):
        top = plot.coverage_figure(told, 10, Enough(load, 12.0, np.inf)).axes[0]
        marked = [line.get_xdata()[0] for line in top.lines if len(line.get_xdata()) == 1]
        assert marked == ([load] if np.isfinite(load) else [])
    assert any("9 in 10 for 10 µm" in top.get_title(loc=side) for side in ("left", "center"))


def test_the_path_starts_sheer_and_has_the_colours_of_the_forecast(told):
    figure = plot.path_figure(told, 10)
    points = next(each for each in figure.axes[0].collections if each.get_label() == "lip")
    first = told.query("backing == 'lip' and film_um == 10").iloc[0]
    assert points.get_offsets()[0].tolist() == pytest.approx([first["a"], first["b"]])
    assert mpl.colors.to_hex(points.get_facecolors()[0]) == first["hex"]


def test_wanted_strips_end_with_the_wanted_colour():
    films = np.arange(2.0, 6.0)
    lab = np.array([[50.0, 20, 10]] * 4)
    wanted = np.array([40.0, 30.0, 20.0])
    figure = compare_plot.wanted_figure([("blend 1", lab), ("blend 2", lab)], wanted, films)
    patches = figure.axes[1].patches
    assert mpl.colors.to_hex(patches[-1].get_facecolor()) == hex_of_lab(wanted)
    assert mpl.colors.to_hex(patches[0].get_facecolor()) == hex_of_lab(lab[0])


def test_repeats_are_drawn_by_batch_as_far_as_they_lie_from_the_mean():
    labs = np.array([[40.0, 30, 15], [42, 30, 15], [44, 30, 15]])
    group = pd.DataFrame(labs, columns=["L", "a", "b"]).assign(batch=["first", "first", ""])
    (ax,) = compare_plot.repeats_figure([group]).axes
    far = ax.collections[-1].get_offsets()[:, 1]
    assert far.tolist() == pytest.approx(delta_e00(labs, np.broadcast_to(labs.mean(0), (3, 3))).tolist())
    assert [text.get_text() for text in ax.get_xticklabels()] == ["first", "no batch named"]
