"""A shade trial in a real browser: a sweep, a swatch, a photo read, a colour found and sent on."""

import re
from pathlib import Path

import pytest
from browser.conftest import Lab
from browser.contrast import THEMES, weak_texts
from browser.forms import form_of, sticks_out
from playwright.sync_api import expect

from tests.colour.scenes import CHART_AT, SWATCH_AT, camera, fractions, jpeg, scene

NOTEBOOK = "pigment-load.ipynb"
WAIT_MS = 60_000


@pytest.fixture
def page_options():
    return {"viewport": {"width": 1366, "height": 768}}


@pytest.fixture
def panel(page, lab: Lab, open_notebook):
    return open_notebook(page, lab, NOTEBOOK).locator(".labkit-panel")


def ask(page, panel, market="EU"):
    form = form_of(page, panel, "Draw the sweep")
    form.get_by_role("radio", name=market, exact=True).check()
    for line, (pigment, parts) in enumerate((("red iron oxide", "6"), ("titanium dioxide", "2")), 1):
        form.get_by_label(f"Pigment, {line}").fill(pigment)
        form.get_by_label(f"Parts, {line}").fill(parts)
    expect(form.get_by_text(f"On lips, {market}:")).to_contain_text(
        "red iron oxide: allowed", timeout=WAIT_MS
    )
    form.get_by_role("button", name="Draw the sweep").click()
    expect(panel.locator("img[alt^='Strips of the forecast']")).to_be_visible(timeout=WAIT_MS)


def test_a_shade_goes_round(page, panel):
    ask(page, panel)
    swatch = form_of(page, panel, "Save this swatch")
    swatch.get_by_label("Load of pigment").fill("8")
    swatch.get_by_label("How thick").select_option("a normal use (10 µm)")
    swatch.get_by_role("radio", name="L*a*b*").check()
    swatch.get_by_role("textbox", name="Its colour", exact=True).fill("42 34 25")
    swatch.get_by_role("button", name="Save this swatch").click()
    expect(swatch.get_by_text("Saved. The forecast was")).to_be_visible(timeout=WAIT_MS)
    panel.get_by_role("button", name="Forecast against swatches").click()
    expect(panel.get_by_text("What your swatches changed")).to_be_visible(timeout=WAIT_MS)

    wish = form_of(page, panel, "Find blends")
    wish.get_by_label("Wanted colour", exact=True).fill("#9a4b3c")
    wish.get_by_role("button", name="Find blends").click()
    expect(panel.get_by_text("In % of the finished product")).to_be_visible(timeout=WAIT_MS)
    page.set_viewport_size({"width": 820, "height": 1180})
    assert sticks_out(panel) <= 1
    keep = form_of(page, panel, "Keep it for a recipe")
    keep.get_by_label("Call it").fill("Rosewood <b> & co")
    keep.get_by_role("button", name="Keep it for a recipe").click()
    expect(keep.get_by_text("is kept for a recipe")).to_be_visible(timeout=WAIT_MS)
    panel.get_by_role("button", name="Kept blends").click()
    panel.get_by_role("button", name="Start a shade trial of it").click()
    chosen = panel.get_by_label("Trial", exact=True).locator("option:checked")
    expect(chosen).to_have_text("Rosewood <b> & co", timeout=WAIT_MS)


def test_a_colour_read_from_a_photo_is_a_swatch(page, panel, tmp_path: Path):
    ask(page, panel)
    panel.get_by_role("button", name="Read its colour from a photo").click()
    photo = tmp_path / "chart.jpg"
    photo.write_bytes(jpeg(camera(scene())))
    panel.get_by_label("Take or choose a photo").first.set_input_files(photo)
    picture = panel.get_by_alt_text("The photo to mark corners on").first
    expect(picture).to_be_visible(timeout=WAIT_MS)
    for x, y in [*fractions(CHART_AT).tolist(), *fractions(SWATCH_AT)[[0, 2]].tolist()]:
        picture.scroll_into_view_if_needed()
        box = picture.bounding_box()
        picture.click(position={"x": x * box["width"], "y": y * box["height"]}, force=True)
    use = panel.get_by_role("button", name="Use this colour in the swatch below")
    expect(use).to_be_enabled(timeout=WAIT_MS)
    use.click()
    swatch = form_of(page, panel, "Save this swatch")
    expect(swatch.get_by_role("textbox", name="Its colour", exact=True)).to_have_value(
        re.compile(r"^4\d\.\d+ 4\d\.\d+ 2\d\.\d+$"), timeout=WAIT_MS
    )
    swatch.get_by_label("Load of pigment").fill("8")
    swatch.get_by_label("How thick").select_option("so thick that nothing shows through")
    swatch.get_by_role("button", name="Save this swatch").click()
    expect(swatch.get_by_text("Saved. The forecast was")).to_be_visible(timeout=WAIT_MS)


def test_a_pigment_that_may_not_go_on_lips_is_marked_where_it_is_typed(page, panel):
    form = form_of(page, panel, "Draw the sweep")
    form.get_by_role("radio", name="US", exact=True).check()
    form.get_by_label("Pigment, 1").fill("ultramarine")
    fault = form.locator(".labkit-fault").filter(has_text="not allowed on lips in US")
    expect(fault).to_contain_text("21 CFR 73.2725", timeout=WAIT_MS)


def test_every_text_can_be_read_in_both_themes_and_nothing_is_cut_off_at_twice_the_size(page, panel):
    ask(page, panel)
    panel.get_by_role("button", name="May these pigments go on lips?").click()
    for theme in THEMES:
        assert weak_texts(page, theme) == []
    page.set_viewport_size({"width": 683, "height": 384})
    assert sticks_out(panel) <= 1
