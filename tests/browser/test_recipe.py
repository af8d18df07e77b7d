"""From a poured trial to a card in a real browser, without leaving the notebook."""

import re

import pytest
from browser.contrast import THEMES, weak_texts
from browser.forms import form_of, low_buttons, sticks_out
from playwright.sync_api import expect

from labkit.book import TrialBook
from labkit.texture.begin import start_trial

NOTEBOOK = "recipe-card.ipynb"
WAIT_MS = 60_000
USUAL = {"shea butter": 12, "castor oil": 20, "beeswax": 6.5, "red iron oxide": 3, "ultramarine": 0.2}


@pytest.fixture
def page_options():
    return {"viewport": {"width": 820, "height": 1180}}


@pytest.fixture
def panel(page, lab, open_notebook):
    with TrialBook(lab.folder / "lab-book.db") as book:
        start_trial(book, USUAL, name="Too soft", step_g=0.1).log_pour(1)
    return open_notebook(page, lab, NOTEBOOK).locator(".labkit-panel")


def test_a_poured_trial_becomes_a_card_that_prints_in_grey(page, lab, panel):
    panel.get_by_label("Begin with").select_option("pour 1 of “Too soft”")
    form = form_of(page, panel, "Save this recipe")
    expect(form.get_by_label("Ingredient, 2", exact=True)).to_have_value("castor oil", timeout=WAIT_MS)
    form.locator("summary").click()
    form.get_by_label("Name of this recipe").fill("Rosewood <b> & co")
    form.get_by_label("Order of work").fill("Melt it slowly.\nPour it.")
    form.get_by_role("button", name="Save this recipe").click()
    card = panel.get_by_role("heading", name="Rosewood <b> & co", level=1)
    expect(card).to_be_visible(timeout=WAIT_MS)
    for words in ("For 12 of 4.5 g, make 58.7 g", "By weighing alone", "ultramarine is small for your scale"):
        expect(panel.get_by_text(words).first).to_be_visible(timeout=WAIT_MS)
    for fold in ("Its label", "What a tube costs", "Something is out of stock"):
        panel.get_by_role("button", name=fold).click()
        expect(panel.get_by_role("button", name=f"▾ {fold}")).to_be_visible(timeout=WAIT_MS)
    expect(panel.get_by_text("Cera Alba")).to_be_visible(timeout=WAIT_MS)
    panel.get_by_label("Instead of").select_option("beeswax")
    expect(panel.get_by_text("candelilla wax").first).to_be_visible(timeout=WAIT_MS)
    assert sticks_out(panel) <= 1
    assert low_buttons(panel) == []
    for theme in THEMES:
        assert weak_texts(page, theme) == []

    panel.get_by_role("button", name="Write the card").click()
    expect(panel.get_by_text("Written: ")).to_be_visible(timeout=WAIT_MS)
    (written,) = (lab.folder / "cards").glob("*.html")
    paper = page.context.new_page()
    paper.goto(written.as_uri())
    paper.emulate_media(media="print")
    expect(paper.get_by_role("heading", level=1)).to_have_text("Rosewood <b> & co")
    expect(paper.get_by_text("Melt it slowly.")).to_be_visible()
    pages = len(re.findall(rb"/Type\s*/Page\b", paper.pdf(format="A4")))
    assert pages == 1
    colours = paper.evaluate(
        "() => [...document.querySelectorAll('body *')].map((each) => getComputedStyle(each).color)"
    )
    assert set(colours) == {"rgb(0, 0, 0)"}
