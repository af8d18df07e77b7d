"""A day at the stove in a real browser at a tablet's size: from the run sheet to the mass balance."""

import math
import re
from datetime import datetime, timedelta

import pytest
from browser.contrast import THEMES, weak_texts
from browser.forms import form_of, low_buttons, sticks_out
from playwright.sync_api import expect

from labkit.batch.record import Reading
from labkit.batch.trial import BatchTrial
from labkit.book import TrialBook

NOTEBOOK = "batch-day.ipynb"
WAIT_MS = 60_000
RECIPE = (
    ("castor oil", "48"), ("beeswax", "14,5"), ("shea butter", "20"), ("magnesium stearate", "3"),
    ("red iron oxide", "12"),
)  # fmt: skip
ASKED = {
    "Tubes or pots to fill": "20",
    "Nominal fill of each": "4.5",
    "Room": "22",
    "Step of the scale": "0.1",
}
IN, LOG = "It is in the pot", "Log it, now"


@pytest.fixture
def page_options():
    return {"viewport": {"width": 820, "height": 1180}, "has_touch": True}


@pytest.fixture
def panel(page, lab, open_notebook):
    return open_notebook(page, lab, NOTEBOOK).locator(".labkit-panel")


def plan(page, panel):
    form = form_of(page, panel, "Make my run sheet")
    for line, (name, grams) in enumerate(RECIPE, 1):
        form.get_by_label(f"Ingredient, {line}", exact=True).first.fill(name)
        form.get_by_label(f"Grams, {line}", exact=True).fill(grams)
    for label, text in ASKED.items():
        form.get_by_label(label).fill(text)
    form.get_by_role("button", name="Make my run sheet").click()
    expect(panel.get_by_text("Next: 48.0 g of castor oil")).to_be_visible(timeout=WAIT_MS)


def press(form, button, minutes_ago=None):
    """Press, at an earlier time where one is given, and wait until it is saved."""
    if minutes_ago is not None:
        form.get_by_text("earlier…").first.click()
        when = datetime.now() - timedelta(minutes=minutes_ago)
        form.locator("input[type=datetime-local]").first.fill(f"{when:%Y-%m-%dT%H:%M}")
    form.get_by_role("button", name=button, exact=True).click()
    expect(form.get_by_role("status")).to_contain_text("Saved.", timeout=WAIT_MS)


def weigh_in(page, panel):
    for at, (name, grams) in enumerate(RECIPE):
        form = form_of(page, panel, IN)
        expect(form.get_by_label("Into the pot")).to_have_value(name, timeout=WAIT_MS)
        expect(form.get_by_label("Weighed")).to_have_value("")
        form.get_by_label("Weighed").fill(grams)
        press(form, IN, 60 - at)


def log(page, panel, what, celsius, minutes_ago=None):
    form = form_of(page, panel, LOG)
    form.get_by_role("radio", name=what, exact=True).check()
    form.get_by_label("Pot", exact=True).fill(celsius)
    press(form, LOG, minutes_ago)


def batch_of(lab):
    with TrialBook(lab.folder / "lab-book.db") as book:
        return BatchTrial(book).logged


def test_a_day_from_the_run_sheet_to_the_balance_with_a_kernel_killed_in_it(page, lab, panel):
    plan(page, panel)
    panel.get_by_role("button", name="Run sheet, to print").click()
    expect(panel.get_by_role("button", name="Print this card")).to_be_visible(timeout=WAIT_MS)
    panel.get_by_role("button", name="Run sheet, to print").click()
    weigh_in(page, panel)
    expect(panel.get_by_role("table", name="The pot")).to_contain_text("14.9", timeout=WAIT_MS)
    log(page, panel, "heat off", "82", 12)
    for minute in (2, 4, 6):
        log(page, panel, "just the temperature", f"{22 + 60 * math.exp(-minute / 14):.1f}", 12 - minute)
    expect(panel.get_by_role("timer")).to_contain_text("pour window closes", timeout=WAIT_MS)
    expect(panel.locator("img[alt*='63 % of the way']")).to_be_visible(timeout=WAIT_MS)

    lab.kill_kernels()
    form = form_of(page, panel, LOG)
    form.get_by_label("Pot", exact=True).fill("56,5")
    form.get_by_role("button", name=LOG).click()
    for _ in range(90):
        if [each.celsius for _, each in batch_of(lab) if isinstance(each, Reading)][-1] == 56.5:
            break
        page.wait_for_timeout(1_000)
    assert len(batch_of(lab)) == len(RECIPE) + 1 + 4

    expect(panel.get_by_role("timer")).to_contain_text("pour window", timeout=WAIT_MS)
    log(page, panel, "poured", "56")
    expect(panel.get_by_text(re.compile("^Poured "))).to_be_visible(timeout=WAIT_MS)
    filled = form_of(page, panel, "Save the fills")
    filled.get_by_label("Grams in each tube or pot").fill(" ".join(["4.5"] * 19 + ["4,4"]))
    filled.get_by_label("Left in the pan").fill("5.2")
    press(filled, "Save the fills")
    expect(panel.get_by_text("97.5 g went in, 89.9 g are filled")).to_be_visible(timeout=WAIT_MS)
    judged = form_of(page, panel, "Save what you see")
    judged.get_by_role("radio", name="firm", exact=True).check()
    press(judged, "Save what you see")
    expect(panel.get_by_text("The batch is judged")).to_be_visible(timeout=WAIT_MS)


def test_the_day_fits_a_finger_and_a_tablet_and_can_be_read(page, lab, panel):
    plan(page, panel)
    form = form_of(page, panel, IN)
    form.get_by_label("Weighed").fill("48")
    press(form, IN)
    log(page, panel, "heat on", "30")
    for fold in (
        "Run sheet, to print",
        "Taken out before the pour",
        "Take temperatures from",
        "A drip",
        "Your log",
    ):
        panel.get_by_role("button", name=fold).click()
        expect(panel.get_by_role("button", name=f"▾ {fold}")).to_be_visible(timeout=WAIT_MS)
    assert sticks_out(panel) <= 1
    assert low_buttons(panel) == []
    for theme in THEMES:
        assert weak_texts(page, theme) == []
