"""Corners marked on a photo in a real browser: clicked, dragged, moved with the arrow keys, typed."""

import json
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from browser.conftest import KERNEL_IS_IDLE, READY_MS, Lab
from browser.contrast import THEMES, weak_texts
from playwright.sync_api import expect

from labkit.colour.cie import delta_e00, lab_of_srgb
from tests.colour.scenes import CHART_AT, SWATCH, SWATCH_AT, camera, fractions, jpeg, scene

CELL = """
import ipywidgets
from labkit.book import TrialBook
from labkit.shade.photo_part import PhotoPart
from labkit.ui.desk import Desk
from labkit.ui.form import Saved
from labkit.ui.guard import Guard
from labkit.ui.parts import style

class Standin(Desk):
    room = "standin"

guard, read = Guard(), ipywidgets.HTML()
desk = Standin(guard, TrialBook("room.db"), lambda say, entry: Saved(say))
part = PhotoPart(desk, lambda filled: read.set_trait("value", str(filled)))
panel = ipywidgets.VBox([style(), guard.box, part, read])
panel.add_class("labkit-panel")
panel
"""
CORNERS = [*fractions(CHART_AT).tolist(), *fractions(SWATCH_AT)[[0, 2]].tolist()]
MARKS = [*(f"chart corner {at}" for at in (1, 2, 3, 4)), "swatch corner 1", "swatch corner 2"]
USE = "Use this colour in the swatch below"
DONE = re.compile("Every corner is marked")


@pytest.fixture(scope="module")
def opened(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Lab]:
    """One lab for all tests here."""
    shared = Lab(tmp_path_factory.mktemp("photos"), {}, {})
    try:
        shared.start()
        yield shared
    finally:
        shared.stop()


@pytest.fixture(scope="module")
def photo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A drawn photo of a chart and a swatch."""
    path = tmp_path_factory.mktemp("drawn") / "chart.jpg"
    path.write_bytes(jpeg(camera(scene())))
    return path


@pytest.fixture
def panel(page, opened: Lab, tmp_path: Path, open_notebook):
    folder = opened.folder / tmp_path.name
    folder.mkdir()
    cell = {
        "cell_type": "code",
        "id": "part",
        "metadata": {},
        "source": CELL,
        "outputs": [],
        "execution_count": None,
    }
    kernel = {"kernelspec": {"name": "python3", "display_name": "Python 3", "language": "python"}}
    notebook = {"cells": [cell], "metadata": kernel, "nbformat": 4, "nbformat_minor": 5}
    (folder / "photo.ipynb").write_text(json.dumps(notebook), encoding="utf-8")
    name = f"{folder.name}/photo.ipynb"
    shown = open_notebook(page, opened, name, panel=False)
    page.evaluate("jupyterapp.commands.execute('notebook:run-all-cells')")
    page.wait_for_selector(".labkit-panel input[type=file]", timeout=READY_MS)
    page.wait_for_function(KERNEL_IS_IDLE, arg=name, timeout=READY_MS)
    yield shown.locator(".labkit-panel")
    page.evaluate("jupyterapp.shell.currentWidget.sessionContext.shutdown()")


@pytest.fixture
def chosen(panel, photo):
    choose(panel, photo)
    expect(status(panel)).to_have_text("The photo is kept.", timeout=20_000)
    return panel


def choose(panel, path):
    panel.get_by_label("Take or choose a photo").set_input_files(path)


def status(panel):
    return panel.get_by_role("status")


def next_mark(panel):
    return panel.locator(".labkit-next-mark")


def picture(panel):
    return panel.get_by_alt_text("The photo to mark corners on")


def mark_of(panel, name):
    return panel.get_by_role("button", name=name, exact=True)


def place_of(panel, name):
    """Where a mark stands, as fractions of the photo."""
    around, mark = picture(panel).bounding_box(), mark_of(panel, name).bounding_box()
    return [
        (mark["x"] + mark["width"] / 2 - around["x"]) / around["width"],
        (mark["y"] + mark["height"] / 2 - around["y"]) / around["height"],
    ]


def click(panel, fraction, **more):
    around = picture(panel).bounding_box()
    at = {"x": fraction[0] * around["width"], "y": fraction[1] * around["height"]}
    picture(panel).click(position=at, force=True, **more)


def click_corners(panel, corners=CORNERS):
    for corner in corners:
        click(panel, corner)


def read_hex(panel):
    said = status(panel)
    expect(said).to_have_text(re.compile("^The swatch is read: #"), timeout=30_000)
    return said.inner_text().removeprefix("The swatch is read: ").rstrip(".")


def drag(page, panel, name, by):
    box = mark_of(panel, name).bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + by[0] / 2, y + by[1] / 2)
    expect(panel.locator(".labkit-loupe")).to_be_visible()
    page.mouse.move(x + by[0], y + by[1])
    page.mouse.up()
    expect(panel.locator(".labkit-loupe")).to_be_hidden()


def test_corners_are_clicked_dragged_and_moved_with_keys_and_the_colour_goes_on(page, chosen):
    expect(next_mark(chosen)).to_have_text("Click the chart’s corner 1 of 4: top left (as the card is read).")
    click(chosen, CORNERS[0])
    click(chosen, CORNERS[1], click_count=2)
    expect(next_mark(chosen)).to_have_text("Click the chart’s corner 3 of 4: bottom right.")
    click_corners(chosen, CORNERS[2:])
    expect(next_mark(chosen)).to_have_text(DONE)
    first = read_hex(chosen)
    assert delta_e00(lab_of_srgb([int(first[at : at + 2], 16) / 255 for at in (1, 3, 5)]), SWATCH) < 3
    for name, corner in zip(MARKS, CORNERS, strict=True):
        assert place_of(chosen, name) == pytest.approx(corner, abs=0.003)

    drag(page, chosen, "chart corner 3", (30, 20))
    wide = picture(chosen).bounding_box()["width"]
    assert place_of(chosen, "chart corner 3")[0] == pytest.approx(CORNERS[2][0] + 30 / wide, abs=0.003)
    drag(page, chosen, "chart corner 3", (-30, -20))
    mark_of(chosen, "chart corner 3").focus()
    for key in ("ArrowRight", "Shift+ArrowRight", "ArrowLeft"):
        page.keyboard.press(key)
    assert place_of(chosen, "chart corner 3")[0] == pytest.approx(CORNERS[2][0] + 10 / wide, abs=0.003)
    expect(mark_of(chosen, "chart corner 3")).to_be_focused()

    chosen.get_by_role("button", name="Start the swatch again").click()
    expect(mark_of(chosen, "swatch corner 1")).to_have_count(0)
    expect(chosen.get_by_role("button", name=USE)).to_be_hidden()
    click_corners(chosen, CORNERS[4:])
    read_hex(chosen)
    chosen.get_by_role("button", name=USE).click()
    expect(chosen.get_by_text("'read_by': 'photo, 24-patch chart'")).to_be_visible()


def test_corners_are_typed_and_a_bad_photo_or_corner_is_refused_in_words(page, chosen, tmp_path):
    heic = tmp_path / "photo.heic"
    heic.write_bytes(bytes(4) + b"ftypheic" + bytes(40))
    chosen.get_by_text("Type the corners instead").click()
    boxes = chosen.locator("details input")
    for box, (x, y) in zip(boxes.all(), CORNERS, strict=True):
        box.fill(f"{100 * x:.2f} % {100 * y:.2f} %")
    boxes.nth(1).fill("5000 20")
    boxes.nth(1).press("Shift+Enter")
    fault = chosen.get_by_text("5000, 20 lies outside the photo (1200 × 900 pixels).")
    expect(fault).to_be_visible()
    expect(boxes.nth(1)).to_be_focused()
    expect(mark_of(chosen, "chart corner 1")).to_have_count(0)
    boxes.nth(1).fill("830 90")
    boxes.nth(1).press("Enter")
    expect(fault).to_have_count(0)
    read = read_hex(chosen)
    expect(boxes.nth(0)).to_have_value("150 130")
    choose(chosen, heic)
    expect(status(chosen)).to_have_text(re.compile("HEIC.*Send it as a JPEG.*still here, with its marks"))
    expect(chosen.locator(".labkit-mark")).to_have_count(6)
    expect(chosen.get_by_role("img", name=f"The colour {read}")).to_be_visible()


@pytest.mark.parametrize("page_options", [{"viewport": {"width": 683, "height": 384}, "has_touch": True}])
def test_it_is_tapped_in_a_narrow_window_and_nothing_is_cut(page, chosen):
    """200 % zoom on a small laptop. WCAG 2.2, success criteria 1.4.3, 1.4.10 and 2.5.5 (44 px)."""
    for x, y in CORNERS:
        around = picture(chosen).bounding_box()
        picture(chosen).tap(position={"x": x * around["width"], "y": y * around["height"]}, force=True)
    read_hex(chosen)
    sizes = [mark_of(chosen, name).bounding_box() for name in MARKS]
    assert all(each["width"] >= 44 and each["height"] >= 44 for each in sizes)
    right = chosen.bounding_box()["x"] + chosen.bounding_box()["width"]
    shown = chosen.locator(":is(.labkit-form, .labkit-pictures) *").all()
    boxes = [each.bounding_box() for each in shown if each.is_visible()]
    assert [box for box in boxes if box["x"] + box["width"] > right + 1] == []
    for theme in THEMES:
        assert [text for text in weak_texts(page, theme) if "labkit-mark" not in text] == []
