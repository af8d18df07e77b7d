"""Beyond words, in a real browser: a reading, a comparison, a look, how pours vary, a second question."""

import re

import pytest
from browser.test_first_trial import NOTEBOOK, POURED, ask, book_of, form, pour_and_feel, press
from playwright.sync_api import expect

from labkit.texture.trial import TextureTrial


@pytest.fixture
def panel(page, lab, open_notebook):
    made = open_notebook(page, lab, NOTEBOOK).locator(".labkit-panel")
    ask(made)
    pour_and_feel(made, 1, "soft")
    pour_and_feel(made, 2, "just right")
    return made


def more(panel, label):
    logged = form(panel, label)
    logged.get_by_text("More", exact=True).click()
    return logged


def test_a_reading_and_a_comparison_are_saved_without_a_word(lab, panel):
    note = more(panel, "Save this word")
    note.get_by_label("Reading", exact=True).fill("62")
    note.get_by_label("Read with", exact=True).select_option("needle")
    expect(note.get_by_text("the load (g) is missing")).to_be_visible(timeout=20_000)
    note.get_by_label("Load of needle or cone", exact=True).fill("100")
    press(panel, "Save this word", "Saved: pour 2: 62 × 0.1 mm by needle.")
    note.get_by_label("Compared", exact=True).select_option("harder")
    note.get_by_label("than / as", exact=True).fill("pour 1")
    press(panel, "Save this word", "Saved: pour 2: harder than pour 1.")
    with book_of(lab) as book:
        trial = TextureTrial(book)
        assert trial.notes()["reading"].dropna().tolist() == [62.0]
        assert trial.notes()["relation"].tolist().count("harder") == 1
        assert trial.model is not None


def test_opening_what_is_folded_leaves_nothing_to_scroll_sideways(panel):
    """The left edge of every form and table was cut by two pixels once the page had been scrolled."""
    for name in ("Stock melts", "How your pours vary"):
        panel.get_by_role("button", name=name).click()
    assert panel.evaluate("it => it.scrollWidth - it.clientWidth") == 0


def test_a_stock_is_saved_taken_back_and_put_back(page, lab, panel):
    panel.get_by_role("button", name="Stock melts").click()
    stock = form(panel, "Save this stock")
    stock.get_by_label("Stock", exact=True).fill("soft")
    stock.get_by_label("Weighed, castor oil", exact=True).fill("80")
    press(panel, "Save this stock", "Saved: stock “soft”")
    press(panel, "Put it on the weigh card", "On the weigh card: pour 4")
    expect(panel.get_by_text("Saved: stock “soft”")).to_have_count(0)
    mend = panel.get_by_label("Mend what was saved", exact=True)
    mend.select_option(label="stock “soft”")
    panel.get_by_role("button", name="Take it back", exact=True).click()
    panel.get_by_role("button", name="Yes, take it back", exact=True).click()
    expect(panel.get_by_text("Taken back: the stock “soft”")).to_be_visible(timeout=20_000)
    expect(panel.get_by_text("On the weigh card: pour 4.")).to_have_count(0)
    mend.select_option(label="taken back: stock “soft”")
    panel.get_by_role("button", name="Put it back", exact=True).click()
    expect(panel.get_by_text("Put back as it stood.")).to_be_visible(timeout=20_000)
    with book_of(lab) as book:
        assert TextureTrial(book).melts.names == ["soft"]


def test_a_look_is_ticked_with_the_keyboard_and_told(page, lab, panel):
    head = panel.get_by_role("button", name="Look again")
    head.focus()
    page.keyboard.press("Enter")
    look = form(panel, "Save what you saw")
    look.get_by_label("grainy", exact=True).focus()
    page.keyboard.press("Space")
    press(panel, "Save what you saw", "Saved: pour")
    expect(panel.get_by_role("table", name="What was seen")).to_contain_text("day 0")
    with book_of(lab) as book:
        assert TextureTrial(book).looks()["defects"].tolist() == [("grainy",)]


def test_how_pours_vary_and_a_second_question_are_answered(lab, panel):
    panel.get_by_role("button", name="How your pours vary").click()
    expect(panel.get_by_role("img", name=re.compile("cannot be told"))).to_be_visible(timeout=30_000)
    panel.get_by_role("button", name="Ask your notes something else").click()
    asked = form(panel, "Ask")
    asked.get_by_role("radio", name="firm", exact=True).check()
    asked.get_by_label("At least, butter", exact=True).fill("33")
    press(panel, "Ask", "Answered.")
    expect(panel.get_by_text("Most likely “firm” with at least 33 % butter")).to_be_visible()
    panel.get_by_role("button", name="Put the answer on the weigh card").click()
    expect(panel.get_by_role("table", name="Weigh card")).to_contain_text("Pour 4", timeout=20_000)
    expect(panel.get_by_role("button", name=POURED)).to_have_text("Pour 3 is poured: save it")
    with book_of(lab) as book:
        assert [pour.number for pour in TextureTrial(book).waiting] == [3, 4]
