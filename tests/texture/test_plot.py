"""What the pictures show: the words of the ladder, the pours, where to pour next, what is not known."""

from dataclasses import replace

import matplotlib as mpl
import numpy as np
import pandas as pd
import pytest
from matplotlib import pyplot

from labkit.texture.frame import Triangle
from labkit.texture.hardness import JUDGED_AT_H, HardnessModel
from labkit.texture.plot import Map, map_figure, plot_chance, plot_hardness, plot_words
from labkit.texture.region import Region
from labkit.texture.sheets import sheets_of
from labkit.texture.story import map_of, words_figure
from labkit.texture.triangle import region_figure
from labkit.ui.figure import picture, png

mpl.use("agg")

LADDER = ["soft", "right", "hard"]
THREE = {"butter": (0.2, 0.6), "oil": (0.2, 0.6), "wax": (0.1, 0.3)}
FIXED = {"butter": (0.3, 0.3), "oil": (0.2, 0.65), "wax": (0.05, 0.4)}
POINT = {"butter": (0.3, 0.3), "oil": (0.5, 0.5), "wax": (0.2, 0.2)}
FOUR = {"shea": (0.1, 0.5), "mango": (0.1, 0.5), "oil": (0.2, 0.6), "wax": (0.1, 0.3)}
SIX = dict.fromkeys(["a", "b", "c", "d", "e", "wax"], (0.05, 0.8))
TIED = ["shea <= mango", "shea >= mango"]


@pytest.fixture(autouse=True)
def closed():
    yield
    pyplot.close("all")


@pytest.fixture
def shown(felt):
    return map_of(felt, felt.next_pour())


def drawn_from(bounds, rules=(), ladder=LADDER, held=0.1):
    """A map of six pours, each felt once, and one suggestion."""
    region = Region(bounds, rules)
    points = region.grid(60)
    shares = pd.DataFrame(points[np.arange(6) * len(points) // 6], columns=list(region.parts))
    labels = list(range(6)) if len(points) > 6 else None
    model = HardnessModel(ladder).fit(shares, list(ladder[:3]) * 2, pour=labels)
    pours = shares.assign(pour=range(1, 7), word=ladder[0])
    return Map(model, region, ladder[1], pours, shares.head(1), held)


def texts(figure):
    return [text.get_text() for text in figure.findobj(mpl.text.Text)]


def drawn(figure):
    """The texts that are drawn, those of hidden axes and of ticks out of sight left aside."""
    found = []
    draw = mpl.text.Text.draw
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(mpl.text.Text, "draw", lambda text, *a: found.append(text) or draw(text, *a))
        figure.canvas.draw()
    return [text for text in found if text.get_text().strip() and text.get_visible()]


def as_read(figure):
    """Texts as they are read once drawn, and a failure where one would be set as a formula."""
    found = [text.get_text() for text in drawn(figure)]
    assert not any(mpl.cbook.is_math_text(text) for text in found)
    return [text.replace(r"\$", "$") for text in found]


def titles(figure):
    return [each.get_title() for each in figure.axes]


def overlaps(figure):
    """Pairs of texts whose boxes cover one another; slanted ones left aside."""
    boxes = [(each.get_text(), each.get_window_extent()) for each in drawn(figure) if not each.get_rotation()]
    return [
        (one, other)
        for index, (one, box) in enumerate(boxes)
        for other, beside in boxes[index + 1 :]
        if box.overlaps(beside)
    ]


def outside(figure):
    """Texts that reach over the edge of the figure."""
    boxes = [(each.get_text(), each.get_window_extent()) for each in drawn(figure)]
    paper = figure.bbox.padded(1)
    return [text for text, box in boxes if not (paper.contains(*box.min) and paper.contains(*box.max))]


# ---- the map ---------------------------------------------------------------------


def test_the_map_shows_words_pours_and_the_next_one(shown):
    figure = map_figure(shown)
    said = texts(figure)
    assert {"How hard it is at 2 days", "firm", "8 in 10", "0 in 10", "10 in 10", "more wax"} <= set(said)
    assert any("% of the finished product" in each for each in said)
    assert {"1", "2", "3", "4"} <= {each for text in said for each in text.split(", ")}
    stars = [line for line in figure.findobj(mpl.lines.Line2D) if line.get_marker() == "*"]
    assert len(stars) == 2


def test_chances_are_plain_words_never_certain(shown):
    said = " ".join(texts(map_figure(shown))).lower()
    assert "never" not in said
    assert "always" not in said


def test_all_pictures_are_about_the_same_hours_and_say_which(shown):
    best = shown.model.predict(shown.region.grid(200), hours=JUDGED_AT_H)[shown.wanted].max()
    assert max(told[shown.wanted].max() for told in shown.told) == pytest.approx(best, abs=0.01)
    assert all("2 days" in title for title in titles(map_figure(shown)) if title)
    assert "at 5 h" in titles(map_figure(replace(shown, hours=5.0)))[0]


def test_the_axes_are_in_percent_of_the_finished_product(shown):
    percent = 100 * (1 - 4 / 48)
    frame = Triangle(("butter", "oil", "wax"), (20, 30, 10), percent)
    assert shown.percent == pytest.approx(percent)
    np.testing.assert_allclose(frame.xy([[20, 30, percent - 50]]), [[0.5, 3**0.5 / 2]])
    np.testing.assert_allclose(frame.xy([[percent - 40, 30, 10]]), [[0, 0]], atol=1e-12)
    np.testing.assert_allclose(frame.xy([[20, percent - 30, 10]]), [[1, 0]], atol=1e-12)


def test_the_numbers_along_the_sides_are_those_of_the_lines_that_they_stand_on():
    axes = pyplot.figure().add_subplot()
    frame = Triangle(("butter", "oil", "wax"), (0, 0, 0), 100)
    frame.frame(axes)
    places = {}
    for text in axes.texts:
        if text.get_text().isdigit():
            places.setdefault(float(text.get_text()), []).append(text.get_position())
    for level, at in places.items():
        share = level / 100
        sides = [(1 - share) / 2, 3**0.5 / 2 * (1 - share)], [share, 0], [1 - share / 2, 3**0.5 / 2 * share]
        for side in sides:
            assert np.linalg.norm(np.array(at) - side, axis=1).min() < 0.06


def test_what_is_not_known_is_hatched_and_the_picture_says_so(shown):
    def hatched(figure):
        return [each for each in figure.findobj(mpl.contour.ContourSet) if any(each.hatches)]

    known = map_figure(replace(shown, unsure_over=99.0))
    unknown = map_figure(replace(shown, unsure_over=shown.told[0]["sd"].mean()))
    assert not hatched(known)
    assert hatched(unknown)
    assert any("Hatched" in each for each in texts(unknown))
    assert not any("Hatched" in each for each in texts(known))


def test_a_stamp_is_written_across(shown):
    assert "invented example" in texts(map_figure(replace(shown, stamp="invented example")))


def test_pours_of_one_place_share_a_mark_and_none_hides_another(shown):
    at = shown.pours.iloc[[0, 0, 0]].assign(pour=[1, 2, 7])
    assert "1, 2, 7" in texts(map_figure(replace(shown, pours=at)))


@pytest.mark.parametrize("bounds", [THREE, FIXED], ids=["triangle", "line"])
@pytest.mark.parametrize("numbers", [[3], [1, 2], [1, 2, 10, 18, 19]], ids=str)
def test_pours_show_on_the_star_that_says_to_pour_them_again(bounds, numbers):
    shown = drawn_from(bounds)
    at = shown.pours.iloc[[3] * len(numbers)].assign(pour=numbers, word="right")
    axes = plot_hardness(replace(shown, pours=at, suggestion=at.head(1)))
    (star,) = [line for line in axes.lines if line.get_marker() == "*"]
    (label,) = [text for text in axes.texts if text.get_text().replace("\n", " ") == str(numbers)[1:-1]]
    assert label.get_zorder() > star.get_zorder()
    axes.figure.canvas.draw()
    across, box = star.get_markersize() * axes.figure.dpi / 72, label.get_bbox_patch().get_window_extent()
    assert across > 1.15 * box.width
    assert across > 1.15 * box.height


def test_the_model_is_asked_once_for_both_pictures(shown, monkeypatch):
    asked = []
    predict = HardnessModel.predict
    monkeypatch.setattr(HardnessModel, "predict", lambda *a, **k: asked.append(1) or predict(*a, **k))
    map_figure(shown, ["hardness"])
    map_figure(shown, ["chance"])
    assert len(asked) == 1


# ---- regions of every dimension ----------------------------------------------------


@pytest.mark.parametrize(
    ("bounds", "rules", "maps"),
    [
        ({"oil": (0.6, 0.95), "wax": (0.05, 0.4)}, (), 1),
        (THREE, (), 1),
        (FIXED, (), 1),
        (POINT, (), 1),
        (FOUR, (), 3),
        ({**FOUR, "mango": (0.2, 0.2)}, (), 1),
        (FOUR, TIED, 1),
        ({**FOUR, "mango": (0.2, 0.2), "shea": (0.2, 0.2)}, (), 1),
        (SIX, (), 3),
    ],
    ids=[
        "two",
        "three",
        "one of three fixed",
        "point",
        "four",
        "one of four fixed",
        "tied",
        "two fixed",
        "six",
    ],
)
def test_any_region_can_be_drawn(bounds, rules, maps):
    shown = drawn_from(bounds, rules)
    figure = map_figure(shown)
    assert len([title for title in titles(figure) if "Chance" in title]) == 1
    assert len(sheets_of(shown.region)) == maps
    numbers = {each.strip() for text in texts(figure) for each in text.replace("\n", "").split(",")}
    assert {"1", "2", "3", "4", "5", "6"} <= numbers
    assert outside(figure) == []
    assert png(figure).startswith(b"\x89PNG")
    assert png(region_figure(shown.region, dict(shown.region.centre()), 0.1)).startswith(b"\x89PNG")


def test_a_fixed_part_leaves_a_line_with_its_band_labelled():
    shown = drawn_from(FIXED)
    axes = plot_hardness(shown)
    assert axes.get_xlabel().startswith("wax, % of the finished product")
    assert "butter stays at 27 %; oil goes from 58 to 27 %" in axes.get_xlabel()
    (band,) = [each for each in axes.collections if "9 in 10" in str(each.get_label())]
    path = band.get_paths()[0].vertices
    told = shown.model.predict(pd.DataFrame([{"butter": 0.3, "oil": 0.65, "wax": 0.05}]))
    ends = path[np.isclose(path[:, 0], 4.5)][:, 1]
    reach = 1.6448536 * told["sd"][0]
    assert ends.min() == pytest.approx(told["hardness"][0] - reach)
    assert ends.max() == pytest.approx(told["hardness"][0] + reach)
    assert [text.get_text() for text in axes.get_yticklabels()] == LADDER
    star = next(line for line in axes.lines if line.get_marker() == "*")
    at = shown.suggestion[list(shown.region.parts)]
    assert star.get_ydata()[0] == pytest.approx(shown.model.predict(at)["hardness"].iloc[0], abs=0.05)


@pytest.mark.parametrize("bounds", [FOUR, SIX])
def test_slices_lie_in_the_region_and_the_hardener_varies_on_them(bounds):
    region = Region(bounds, ["wax <= 0.25"])
    sheets = sheets_of(region)
    assert sheets_of(Region(bounds, ["wax <= 0.25"])) is sheets
    for sheet in sheets:
        points, triangles = sheet.mesh
        assert region.contains(points).all()
        assert region.contains(sheet.corners).all()
        assert "wax" in sheet.free
        assert triangles.max() == len(points) - 1
        assert np.ptp(points[:, sheet.columns(list(sheet.fixed))], axis=0).max() < 1e-9


def test_a_mesh_covers_its_polygon():
    (sheet,) = sheets_of(Region(THREE))
    points, triangles = sheet.mesh
    flat = points[:, :2]

    def area(corners):
        x, y = corners[..., 0], corners[..., 1]
        return 0.5 * (x * np.roll(y, -1, axis=-1) - y * np.roll(x, -1, axis=-1)).sum(axis=-1)

    assert np.abs(area(flat[triangles])).sum() == pytest.approx(abs(area(sheet.corners[:, :2])))


# ---- names -------------------------------------------------------------------------


@pytest.mark.parametrize("bounds", [(0.2, 0.6), (0.3, 0.3)], ids=["triangle", "line"])
def test_names_are_drawn_as_they_are_written(bounds):
    names = ["b$utter_1^2", "oil $5$", "wax_$x^2$"]
    ladder = ["$so_ft$", "just$right$", "ha^rd"]
    shown = drawn_from({names[0]: bounds, names[1]: (0.2, 0.6), names[2]: (0.1, 0.3)}, ladder=ladder)
    shown = replace(shown, pours=shown.pours.assign(pour="$4$"), stamp="$stamp$")
    read = " ".join(" ".join(as_read(map_figure(shown))).split())
    for word in [*names, ladder[1], ladder[2], "$4$", "$stamp$"]:
        assert word in read
    read = " ".join(as_read(region_figure(shown.region, shown.region.centre(), 0.1)))
    assert all(name in read for name in names)


def test_slices_and_words_are_drawn_as_they_are_written():
    shown = drawn_from({"$she_a$": (0.1, 0.5), "m$a$": (0.1, 0.5), "o$": (0.2, 0.6), "wax $": (0.1, 0.3)})
    (fixed,) = sheets_of(shown.region)[0].fixed
    for figure in (map_figure(shown), region_figure(shown.region)):
        assert sum(f"with {fixed} " in each for each in as_read(figure)) >= 3
    notes = pd.DataFrame({"pour": ["$1$"], "hours": [2.0], "word": ["$a$"]})
    assert {"$a$", "wanted: “$a$”", "pour $1$"} <= set(
        as_read(plot_words(notes, ["$a$", "b"], "$a$", {}).figure)
    )


LONG = {
    "cocoa butter with kokum and mango butter": (0.2, 0.6),
    "cold-pressed castor oil from the corner shop": (0.2, 0.6),
    "Unbleachedyellowbeeswaxpelletsfromthevalley": (0.1, 0.3),
}


@pytest.mark.parametrize(
    "bounds", [THREE, LONG, FOUR, FIXED, POINT], ids=["short", "long", "four", "line", "point"]
)
def test_texts_neither_overlap_nor_leave_the_paper(bounds):
    shown = drawn_from(bounds)
    bare = replace(shown, pours=shown.pours.head(0), suggestion=shown.suggestion.head(0))
    for figure in (map_figure(bare, ["hardness"]), map_figure(bare, ["chance"]), region_figure(shown.region)):
        assert overlaps(figure) == []
        assert outside(figure) == []


def test_long_names_are_all_there():
    figure = map_figure(drawn_from(LONG), ["hardness"])
    said = ["".join(text.split()) for text in texts(figure)]
    assert all("more" + "".join(name.split()) in said for name in LONG)


# ---- the region before any pour ------------------------------------------------------


def test_the_region_shows_its_corners_and_the_usual():
    region = Region(THREE)
    usual = {"butter": 0.4, "oil": 0.4, "wax": 0.2}
    figure = region_figure(region, usual, held_fraction=0.1)
    (axes,) = figure.axes
    marks = {line.get_marker(): line for line in axes.lines}
    frame = Triangle.about(("butter", "oil", "wax"), 90 * region.corners().to_numpy())
    np.testing.assert_allclose(marks["D"].get_xydata(), frame.xy([[0.4, 0.4, 0.2]]))
    assert len(marks["s"].get_xydata()) == len(region.corners())
    assert {"more butter", "more oil", "more wax", "wax, %"} <= set(texts(figure))
    assert any("usual" in text for text in texts(figure))
    assert not any("usual" in text for text in texts(region_figure(region)))


def test_the_region_can_be_read_at_400_pixels():
    figure = region_figure(Region(THREE), {"butter": 0.4, "oil": 0.4, "wax": 0.2})
    sizes = [text.get_fontsize() for text in figure.findobj(mpl.text.Text) if text.get_text().strip()]
    assert min(sizes) * 400 / (72 * figure.get_figwidth()) > 11  # pixels


def test_a_usual_outside_the_region_is_on_the_picture():
    figure = region_figure(Region(THREE), {"butter": 0.1, "oil": 0.85, "wax": 0.05})
    (axes,) = figure.axes
    (place,) = next(line for line in axes.lines if line.get_marker() == "D").get_xydata()
    assert 0 < place[1] < place[0] < 1


# ---- words -------------------------------------------------------------------------


def test_words_are_drawn_on_the_ladder_against_hours(felt):
    figure = words_figure(felt)
    (axes,) = figure.axes
    assert [label.get_text() for label in axes.get_yticklabels()] == list(felt.question.ladder)
    assert axes.get_xscale() == "log"
    dots = [line for line in axes.lines if line.get_linestyle() == "None"]
    assert len(dots) == 4
    assert all(len(line.get_xdata()) == 2 for line in dots)


def test_the_band_is_the_one_that_a_note_falls_into_of_the_cast_that_was_felt(felt):
    (axes,) = words_figure(felt).axes
    (band,) = [each for each in axes.collections if "9 in 10" in str(each.get_label())]
    last = felt.readings().iloc[-1]
    shares = pd.DataFrame([last[list(felt.question.parts)]], dtype=float)
    curve = felt.fitted().set_curve(shares, [168.0], last["cast"])
    path = band.get_paths()[0].vertices
    ends = path[np.isclose(path[:, 0], 168.0)][:, 1]
    top = len(felt.question.ladder) - 0.55
    assert ends.min() == pytest.approx(curve["note_low"][0])
    assert ends.max() == pytest.approx(min(curve["note_high"][0], top))
    assert f"pour {last['pour']}" in band.get_label()


def test_every_band_is_labelled(felt):
    for axes in (words_figure(felt).axes[0], plot_hardness(drawn_from(FIXED))):
        said = {text.get_text() for text in axes.get_legend().get_texts()}
        for band in [*axes.collections, *axes.patches]:
            assert band.get_label() in said


def test_of_many_pours_the_earlier_ones_are_drawn_alike():
    notes = pd.DataFrame({"pour": range(1, 21), "hours": 48.0, "word": "right"})
    curve = pd.DataFrame({"hours": [1.0, 48.0], "hardness": 1.0, "note_low": 0.0, "note_high": 2.0})
    axes = plot_words(notes, LADDER, "right", {19: curve, 20: curve})
    labels = [text.get_text() for text in axes.get_legend().get_texts()]
    assert [label for label in labels if "pour" in label][:3] == ["earlier pours", "pour 19", "pour 20"]


def test_functions_draw_where_they_are_told_and_give_it_back(shown, felt):
    axes, flat, bare = (pyplot.figure().add_subplot() for _ in range(3))
    assert plot_hardness(shown, axes) is axes
    assert plot_chance(shown, bare) is bare
    notes = felt.readings()
    assert plot_words(notes, list(felt.question.ladder), "soft", {}, flat) is flat


def test_a_picture_carries_its_message_as_text_and_closes_its_figure():
    figure, axes = pyplot.subplots()
    axes.plot(np.arange(3))
    said = picture(figure, 'how "hard" it sets')
    assert 'alt="how &quot;hard&quot; it sets"' in said
    assert "data:image/png;base64," in said
    assert not pyplot.fignum_exists(figure.number)
