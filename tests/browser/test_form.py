"""The form in a real browser, on a stand-in room: times, focus, mending, what is said and when it goes."""

import json
import re
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from browser.conftest import Lab
from browser.contrast import THEMES, weak_texts
from playwright.sync_api import expect

from labkit.lab.server import WORKSPACES, fold_file_list

STANDIN = Path(__file__).parent / "standin"
PANEL_CELL = "from labkit.formroom import FormPanel\npanel = FormPanel()\npanel"
PRESS_ONCE_SAVED = """(status) => new MutationObserver((_, observer) => {
    if (!status.textContent.startsWith('Saved')) return;
    observer.disconnect();
    status.parentElement.querySelector('.labkit-press').click();
}).observe(status, {childList: true})"""
FOCUSED = "it => it === document.activeElement"


@pytest.fixture(scope="module")
def opened(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Lab]:
    """One lab for all tests here: each has a folder, a book and a kernel of its own in it."""
    shared = Lab(tmp_path_factory.mktemp("forms"), {"PYTHONPATH": str(STANDIN), "TZ": "UTC"}, {})
    try:
        shared.start()
        yield shared
    finally:
        shared.stop()


@pytest.fixture
def place(opened: Lab, tmp_path: Path) -> Path:
    """The folder of this test's notebook, in a lab that has no other open."""
    shutil.rmtree(opened.folder / WORKSPACES)
    fold_file_list(opened.folder / WORKSPACES)
    folder = opened.folder / tmp_path.name
    folder.mkdir()
    return folder


@pytest.fixture
def panel(page, opened: Lab, place: Path, open_notebook):
    cell = {"cell_type": "code", "id": "panel", "metadata": {"tags": ["labkit-panel"]}, "source": PANEL_CELL,
            "outputs": [], "execution_count": None}  # fmt: skip
    kernel = {"kernelspec": {"name": "python3", "display_name": "Python 3", "language": "python"}}
    notebook = {"cells": [cell], "metadata": kernel, "nbformat": 4, "nbformat_minor": 5}
    (place / "form.ipynb").write_text(json.dumps(notebook), encoding="utf-8")
    yield open_notebook(page, opened, f"{place.name}/form.ipynb").locator(".labkit-panel")
    page.evaluate("jupyterapp.shell.currentWidget.sessionContext.shutdown()")


def pressed(place: Path) -> list:
    file = place / "pressed.jsonl"
    return [json.loads(line) for line in file.read_text().splitlines()] if file.exists() else []


def button(panel, name):
    return panel.get_by_role("button", name=name, exact=True)


def save(panel, name="Save this"):
    button(panel, name).click()
    expect(status(panel)).to_have_text("Saved: it is in your book.", timeout=20_000)


def status(panel):
    return panel.locator(".labkit-form:has([data-path^='felt/'])").get_by_role("status")


def felt(panel):
    return panel.locator("input[type='datetime-local']")


# Times


@pytest.mark.parametrize(
    ("page_options", "day", "offset"),
    [
        ({"timezone_id": "Europe/Berlin"}, "2026-03-05", "+01:00"),
        ({"timezone_id": "Europe/Berlin"}, "2026-06-05", "+02:00"),
        ({"timezone_id": "America/St_Johns"}, "2026-03-05", "-03:30"),
    ],
)
def test_a_time_is_that_of_the_browsers_clock_on_that_day(page, place, panel, day, offset):
    button(panel, "Felt: now. Change to earlier").click()
    felt(panel).fill(f"{day}T19:20")
    save(panel)
    (found,) = pressed(place)
    assert found["typed"] == f"{day}T19:20{offset}"
    sign, hours, minutes = -1 if offset[0] == "-" else 1, int(offset[1:3]), int(offset[4:])
    utc = 19 * 60 + 20 - sign * (60 * hours + minutes)
    assert found["felt_at"] == f"{day}T{utc // 60:02}:{utc % 60:02}:00+00:00"


@pytest.mark.parametrize("page_options", [{"timezone_id": "Asia/Kolkata"}])
def test_a_saved_time_is_shown_by_the_browsers_clock_and_stays_the_same(page, place, panel):
    button(panel, "Mend").click()
    expect(felt(panel)).to_have_value("2026-03-05T23:50")
    save(panel, "Save the mended one")
    assert pressed(place)[0]["typed"] == "2026-03-05T18:20+00:00"


def test_a_half_typed_time_is_not_taken_and_not_lost(page, place, panel):
    button(panel, "Felt: now. Change to earlier").click()
    felt(panel).focus()
    page.keyboard.press("Backspace")
    expect(panel.get_by_text("That is no whole time.")).to_be_visible()
    expect(button(panel, "Save this")).to_be_disabled()
    assert felt(panel).evaluate(FOCUSED)
    assert felt(panel).evaluate("it => it.validity.badInput")
    felt(panel).fill("2026-03-05T19:20")
    save(panel)


# Mending


def test_what_was_saved_can_be_emptied_and_its_photo_taken_off(page, place, panel, tmp_path):
    from PIL import Image

    Image.effect_noise((400, 300), 40).convert("RGB").save(place / "photo.jpg")
    button(panel, "Mend").click()
    expect(panel.get_by_text("a photo is kept")).to_be_visible()
    expect(panel.get_by_role("img", name="The photo that is kept")).to_be_visible()
    assert panel.get_by_role("img", name="The photo that is kept").evaluate("it => it.naturalWidth") == 240
    button(panel, "take the photo off").focus()
    page.keyboard.press("Enter")
    assert panel.get_by_label("Photo", exact=True).evaluate(FOCUSED)
    panel.get_by_label("Room", exact=True).fill("")
    panel.get_by_label("Sticks", exact=True).fill("")
    save(panel, "Save the mended one")
    (found,) = pressed(place)
    assert {name: found[name] for name in ("photo", "room_c", "sticks", "remark")} == {
        "photo": "", "room_c": None, "sticks": 0, "remark": "glides",
    }  # fmt: skip


def test_mending_brings_the_form_into_view_with_its_first_field_focused(page, place, panel):
    expect(felt(panel)).to_have_count(0)
    button(panel, "Mend").click()
    expect(felt(panel)).to_be_focused()
    expect(felt(panel)).to_be_in_viewport()


def test_a_grave_button_asks_first_and_is_answered_with_the_keyboard(page, place, panel):
    keys = page.keyboard
    button(panel, "Take it back").focus()
    keys.press("Enter")
    expect(panel.get_by_text("Take back pour 1 and its notes?")).to_be_visible()
    expect(button(panel, "No")).to_be_focused()
    keys.press("Escape")
    expect(button(panel, "Take it back")).to_be_focused()
    keys.press("Enter")
    keys.press("Enter")
    expect(button(panel, "Take it back")).to_be_focused()
    keys.press("Enter")
    keys.press("Shift+Tab")
    expect(button(panel, "Yes, take it back")).to_be_focused()
    assert pressed(place) == []
    keys.press("Space")
    expect(button(panel, "Take it back")).to_be_focused()
    save(panel)
    assert pressed(place)[0] == "taken"


# What is said


def test_an_error_stays_while_something_is_typed_and_goes_with_the_next_press(page, place, panel):
    button(panel, "Fail").click()
    alert = panel.get_by_role("alert")
    expect(alert).to_have_text("The press has failed.")
    remark = panel.get_by_label("Remark", exact=True)
    remark.fill("broken")
    expect(alert).to_have_text("The check has failed.")
    remark.fill("mended")
    panel.get_by_label("Room", exact=True).fill("warm")
    expect(panel.get_by_text(re.compile("“warm”"))).to_be_visible()
    expect(alert).to_have_text("The check has failed.")
    panel.get_by_label("Room", exact=True).fill("20")
    save(panel)
    expect(alert).to_have_count(0)


def test_what_was_said_goes_when_typing_starts_again_or_the_subject_changes(page, place, panel):
    save(panel)
    panel.get_by_label("Room", exact=True).fill("2")
    expect(status(panel)).to_have_text("")
    panel.get_by_label("Room", exact=True).fill("")
    save(panel)
    expect(button(panel, "Save this")).to_be_enabled()
    panel.get_by_label("Subject").select_option("one", force=True)
    panel.get_by_label("Subject").select_option(index=1)
    expect(status(panel)).to_have_text("")


def test_what_was_said_goes_once_it_may_be_true_no_longer_and_a_fault_stays(page, place, panel):
    save(panel)
    expect(button(panel, "Save this")).to_be_enabled()
    button(panel, "Unsay").click()
    expect(status(panel)).to_have_text("")
    panel.get_by_label("Remark", exact=True).fill("refused")
    button(panel, "Save this").click()
    expect(status(panel)).to_have_text("It is refused.", timeout=20_000)
    button(panel, "Unsay").click()
    page.wait_for_timeout(500)
    expect(status(panel)).to_have_text("It is refused.")


# Focus


def test_the_focus_stays_where_it_was_when_something_is_saved_or_asked_anew(page, place, panel):
    save(panel)
    expect(button(panel, "Save this")).to_be_enabled()
    expect(button(panel, "Save this")).to_be_focused()
    remark = panel.get_by_label("Remark", exact=True)
    remark.focus()
    remark.evaluate("it => { it.mine = true; }")
    page.keyboard.type("ab")
    page.keyboard.press("ArrowLeft")
    button(panel, "Ask anew").evaluate("it => it.click()")
    expect(panel.get_by_label("Weighed, oil", exact=True)).to_be_visible()
    expect(remark).to_be_focused()
    assert remark.evaluate("it => it.mine && it.selectionStart") == 1
    page.keyboard.type("x")
    expect(remark).to_have_value("axb")


def test_a_large_choice_made_with_the_keyboard_keeps_the_focus(page, place, panel):
    panel.get_by_label("this one", exact=True).focus()
    page.keyboard.press("Space")
    expect(panel.get_by_label("this one", exact=True)).to_be_checked()
    expect(panel.get_by_label("this one", exact=True)).to_be_focused()
    page.keyboard.press("Tab")
    expect(panel.get_by_label("Which of many?", exact=True)).to_be_focused()


def test_a_press_with_marked_places_goes_to_the_first_of_them(page, place, panel):
    panel.get_by_label("Room", exact=True).focus()
    before = panel.get_by_label("Room", exact=True).bounding_box()
    panel.get_by_label("Room", exact=True).fill("warm")
    expect(button(panel, "Save this")).to_be_disabled()
    assert panel.get_by_label("Room", exact=True).bounding_box() == before
    button(panel, "Save this").click(force=True)
    expect(panel.get_by_label("Room", exact=True)).to_be_focused()
    assert pressed(place) == []


def test_a_form_that_goes_away_once_saved_hands_the_focus_on(page, place, panel):
    panel.get_by_label("Remark", exact=True).fill("the last")
    button(panel, "Save this").focus()
    page.keyboard.press("Enter")
    expect(panel.get_by_label("Name of the next", exact=True)).to_be_focused(timeout=20_000)


@pytest.mark.parametrize("how", ["double click", "held key", "second press", "third press"])
def test_a_hasty_second_press_saves_nothing_more(page, place, panel, how):
    once = button(panel, "Save this")
    if how == "double click":
        once.dblclick()
    elif how == "held key":
        once.focus()
        for _ in range(5):
            page.keyboard.down("Enter")
        page.keyboard.up("Enter")
    elif how == "second press":
        once.evaluate("it => { it.click(); it.click(); }")
    else:
        status(panel).evaluate(PRESS_ONCE_SAVED)
        once.click()
    expect(status(panel)).to_have_text("Saved: it is in your book.", timeout=20_000)
    expect(once).to_be_enabled()
    assert len(pressed(place)) == 1
    save(panel)
    assert len(pressed(place)) == 2


# The card


def test_an_empty_card_offers_no_printing(page, place, panel):
    expect(button(panel, "Print this card")).to_be_visible()
    expect(panel.get_by_text("on the screen")).to_be_visible()
    expect(panel.get_by_text("on paper")).to_be_hidden()
    button(panel, "Empty the card").click()
    expect(button(panel, "Print this card")).to_be_hidden()


def test_a_printed_card_has_room_to_write_in_by_hand(page, place, panel):
    page.evaluate(
        """() => {
            const append = document.body.append.bind(document.body);
            document.body.append = (frame) => {
                frame.style.cssText = 'position:fixed;width:794px;height:1000px';
                append(frame);
                frame.contentWindow.print = () => {
                    const page = frame.contentDocument;
                    const cell = page.querySelector('td:empty').getBoundingClientRect();
                    window.printed = [cell.width, cell.height, page.body.scrollWidth, page.body.innerText];
                };
            };
        }"""
    )
    button(panel, "Print this card").click()
    page.wait_for_function("window.printed")
    width, height, page_width, said = page.evaluate("window.printed")
    assert "on paper" in said
    assert "on the screen" not in said
    assert width >= 2.4 * 96 / 2.54
    assert height >= 1.0 * 96 / 2.54
    assert page_width <= 794


# Themes


@pytest.mark.parametrize("theme", THEMES)
def test_faults_questions_and_what_is_kept_can_be_read(page, place, panel, theme):
    button(panel, "Take it back").click()
    button(panel, "Fail").click()
    panel.get_by_label("Room", exact=True).fill("warm")
    expect(panel.get_by_text(re.compile("“warm”"))).to_be_visible()
    assert weak_texts(page, theme) == []


@pytest.mark.parametrize("theme", THEMES)
def test_a_picture_lies_on_a_dark_page_as_a_card_and_keeps_its_colours(page, place, panel, theme):
    weak_texts(page, theme)
    look = """it => {
        const style = getComputedStyle(it);
        return [style.borderRadius, style.filter, style.backgroundColor];
    }"""
    dark = theme == THEMES[1]
    shown = panel.get_by_role("img", name="a picture")
    radius, darker, back = shown.evaluate(look)
    assert (radius != "0px", darker) == (dark, "none")
    assert back == "rgb(255, 255, 255)"
    page.emulate_media(media="print")
    assert shown.evaluate(look)[:2] == ["0px", "none"]


# Narrow windows


@pytest.mark.parametrize("page_options", [{"viewport": {"width": 500, "height": 900}}])
def test_what_a_closed_list_cuts_is_told_on_hover_and_on_focus(page, place, panel):
    small, subject = panel.get_by_label("Which of many?", exact=True), panel.get_by_label("Subject")
    small.hover()
    assert small.get_attribute("title") == small.locator("option:checked").text_content()
    assert len(small.get_attribute("title")) > 100
    small.select_option("this one")
    assert small.get_attribute("title") == "this one"
    subject.focus()
    assert subject.get_attribute("title") == "one"


TABLET = {"viewport": {"width": 820, "height": 1180}}
ZOOMED = {"viewport": {"width": 683, "height": 384}, "device_scale_factor": 2}


@pytest.mark.parametrize("page_options", [TABLET, ZOOMED], ids=["tablet", "200 %"])
def test_nothing_is_cut_in_a_narrow_window(page, place, panel):
    """WCAG 2.2, success criterion 1.4.10: no scrolling in two directions."""
    cut = panel.evaluate(
        """(panel) => {
            const right = panel.getBoundingClientRect().right;
            return [...panel.querySelectorAll(':not(option, style, datalist)')]
                .filter((each) => each.checkVisibility())
                .filter((each) => each.getBoundingClientRect().right > right + 1
                    || each.matches('button, th, td, label') && each.scrollWidth > each.clientWidth + 1)
                .map((each) => each.outerHTML.slice(0, 200));
        }"""
    )
    assert cut == []
    assert panel.bounding_box()["width"] > 0.75 * page.viewport_size["width"]
