"""A streak test in a real browser at a tablet's size: a run by pressing, with the kernel killed in it."""

import re

import pytest
from browser.contrast import THEMES, weak_texts
from browser.forms import form_of, low_buttons, sticks_out
from playwright.sync_api import expect

from labkit.book import TrialBook
from labkit.streak.trial import StreakTrial
from tests.streak.photos import Scene, Streaks

NOTEBOOK = "streak-test.ipynb"
WAIT_MS = 60_000
PIGMENTS = ("red iron oxide", "titanium dioxide")


@pytest.fixture
def page_options():
    return {"viewport": {"width": 820, "height": 1180}, "has_touch": True}


@pytest.fixture
def panel(page, lab, open_notebook):
    return open_notebook(page, lab, NOTEBOOK).locator(".labkit-panel")


def start(page, panel):
    form = form_of(page, panel, "Start the clock")
    for line, pigment in enumerate(PIGMENTS, 1):
        form.get_by_label(f"Pigment, {line}", exact=True).fill(pigment)
    form.get_by_role("radio", name="dry powder", exact=True).check()
    form.get_by_role("button", name="Start the clock").click()
    expect(panel.get_by_role("timer")).to_contain_text("since stirring began", timeout=WAIT_MS)


def look(page, panel, number, grades, photo=None):
    form = form_of(page, panel, f"Save round {number}")
    for pigment, grade in zip(PIGMENTS, grades, strict=True):
        group = form.get_by_role("radiogroup", name=pigment)
        group.get_by_role("radio", name=re.compile(f"^{grade} ")).check()
    if photo:
        form.get_by_label("Photo, if you like").set_input_files(photo)
        expect(form.get_by_text("a photo is kept")).to_be_visible(timeout=WAIT_MS)
    form.get_by_role("button", name=f"Save round {number}", exact=True).click()


def grades_of(lab):
    with TrialBook(lab.folder / "lab-book.db") as book:
        rows = StreakTrial(book).rounds()
    return (
        rows.pivot(index="round", columns="pigment", values="grade")[list(PIGMENTS)]
        .astype(int)
        .values.tolist()
    )


def test_a_run_by_pressing_with_a_kernel_killed_in_the_middle(page, lab, panel, tmp_path):
    start(page, panel)
    for number, grades in enumerate([(3, 4), (2, 3)], 1):
        look(page, panel, number, grades)
        expect(panel.get_by_text(f"Saved: round {number}.")).to_be_visible(timeout=WAIT_MS)
    expect(panel.get_by_text("Stir on, about")).to_be_visible(timeout=WAIT_MS)
    lab.kill_kernels()
    look(page, panel, 3, (1, 2))
    for _ in range(90):
        if len(grades_of(lab)) == 3:
            break
        page.wait_for_timeout(1_000)
    expect(form_of(page, panel, "Save round 4")).to_be_visible(timeout=WAIT_MS)
    photo = tmp_path / "streaks.jpg"
    photo.write_bytes(Scene(streaks=[Streaks("white")]).jpeg(90))
    look(page, panel, 4, (0, 1), photo)
    expect(panel.locator("img[alt*='unevenness']")).to_be_visible(timeout=WAIT_MS)
    for number in range(5, 9):
        look(page, panel, number, (0, 0))
        expect(panel.get_by_text(f"Saved: round {number}.")).to_be_visible(timeout=WAIT_MS)
    expect(panel.get_by_text("You can stop: each")).to_be_visible(timeout=WAIT_MS)
    assert grades_of(lab) == [[3, 4], [2, 3], [1, 2], [0, 1], *[[0, 0]] * 4]


def test_everything_fits_a_finger_and_a_tablet_and_can_be_read(page, lab, panel):
    start(page, panel)
    look(page, panel, 1, (3, 4))
    expect(panel.get_by_text("Saved: round 1.")).to_be_visible(timeout=WAIT_MS)
    for fold in ("How ways of stirring differ", "Top and bottom of a set stick", "Your rounds"):
        panel.get_by_role("button", name=fold).click()
        expect(panel.get_by_role("button", name=f"▾ {fold}")).to_be_visible(timeout=WAIT_MS)
    expect(panel.get_by_role("table", name="Rounds")).to_be_visible(timeout=WAIT_MS)
    assert sticks_out(panel) <= 1
    assert low_buttons(panel) == []
    for theme in THEMES:
        assert weak_texts(page, theme) == []
    before = panel.get_by_role("timer").locator("strong").first.inner_text()
    expect(panel.get_by_role("timer").locator("strong").first).not_to_have_text(before, timeout=WAIT_MS)
