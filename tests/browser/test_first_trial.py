"""A texture trial goes round once, in a real browser: asked, weighed, poured, felt, mapped, poured next."""

import re

import pytest
from browser.contrast import THEMES, weak_texts
from playwright.sync_api import expect

from labkit.book import TrialBook
from labkit.texture.trial import TextureTrial
from labkit.texture.trials import trial_names

NOTEBOOK = "texture-trial.ipynb"
RECIPE = (("shea butter", "12"), ("castor oil", "20"), ("beeswax", "6,5"), ("red iron oxide", "3"))
POURED = re.compile(r"^Pour \d+ is poured: save it$")
WORDS = ("soft", "soft", "just right", "firm")


def book_of(lab) -> TrialBook:
    return TrialBook(lab.folder / "lab-book.db")


def pours_of(lab) -> list[int]:
    """The numbers of the pours that are on disk."""
    with book_of(lab) as book:
        return book.frame("texture.pour")["number"].tolist()


def trial_of(lab) -> TextureTrial:
    with book_of(lab) as book:
        trial = TextureTrial(book)
        return trial, trial.pours(), trial.notes()


def form(panel, label):
    """The form whose button says this."""
    return panel.locator(".labkit-form").filter(
        has=panel.page.get_by_role("button", name=label, exact=isinstance(label, str))
    )


def press(panel, label, said):
    panel.get_by_role("button", name=label, exact=True).click()
    expect(panel.get_by_role("status").filter(has_text=said).first).to_be_visible(timeout=20_000)


def ask(panel):
    fill_question(panel)
    panel.get_by_role("button", name="Make my weigh card", exact=True).click()
    expect(panel.get_by_role("table", name="Weigh card")).to_be_visible(timeout=20_000)


def fill_question(panel):
    for row, (name, grams) in enumerate(RECIPE, 1):
        panel.get_by_label(f"Ingredient, {row}", exact=True).fill(name)
        panel.get_by_label(f"Grams, {row}", exact=True).fill(grams)
    panel.get_by_label("too soft", exact=True).check()


def pour_and_feel(panel, number, word):
    panel.get_by_role("button", name=POURED).click()
    note = form(panel, "Save this word")
    expect(note.get_by_role("radio", name=str(number), exact=True)).to_be_checked(timeout=20_000)
    note.get_by_role("radio", name=word, exact=True).check()
    press(panel, "Save this word", f"Saved: pour {number}: “{word}”")


@pytest.fixture
def panel(page, lab, open_notebook):
    return open_notebook(page, lab, NOTEBOOK).locator(".labkit-panel")


def test_a_trial_goes_round_once_with_the_mouse(page, lab, panel, open_notebook):
    expect(panel.get_by_role("img", name=re.compile("Invented example")).first).to_be_visible()
    ask(panel)
    expect(panel.get_by_role("table", name="Weigh card")).to_contain_text("shea butter")
    expect(panel.get_by_text("Weigh and pour: three pours")).to_be_visible()

    for number, word in enumerate(WORDS[:3], 1):
        pour_and_feel(panel, number, word)
    expect(panel.get_by_role("img", name=re.compile("^Map of the base"))).to_have_count(0)
    press(panel, "Put it on the weigh card", "On the weigh card: pour 4")
    pour_and_feel(panel, 4, WORDS[3])
    expect(panel.get_by_role("img", name=re.compile("^Map of the base")).first).to_be_visible(timeout=20_000)
    expect(panel.get_by_text("Most likely “just right” as things stand")).to_be_visible()
    panel.get_by_role("button", name="Plan several pours").click()
    press(panel, "Plan these pours", "On the weigh card: six pours")

    _, pours, notes = trial_of(lab)
    assert list(pours["pour"]) == [1, 2, 3, 4]
    assert list(notes["word"]) == list(WORDS)
    assert notes["hours"].between(0, 0.1).all()

    page.reload()
    again = open_notebook(page, lab, NOTEBOOK).locator(".labkit-panel")
    expect(again.get_by_text("Most likely “just right” as things stand")).to_be_visible()
    assert trial_of(lab)[1].equals(pours)


def test_a_trial_is_started_and_logged_with_the_keyboard_alone(page, lab, panel):
    panel.get_by_label("Ingredient, 1", exact=True).focus()
    keys = page.keyboard
    for name, grams in RECIPE:
        keys.type(name)
        keys.press("Enter")
        keys.type(grams)
        keys.press("Enter")
        keys.press("Tab")
        keys.press("Tab")
    keys.press("Tab")
    keys.press("Space")
    expect(panel.get_by_label("too soft", exact=True)).to_be_checked()
    keys.press("Tab")
    expect(panel.get_by_label("3. Your scale's step", exact=True)).to_be_focused()
    keys.type("0.01")
    for _ in range(2):
        keys.press("Tab")
    expect(panel.get_by_role("button", name="Make my weigh card")).to_be_focused()
    keys.press("Enter")
    expect(panel.get_by_role("table", name="Weigh card")).to_be_visible(timeout=20_000)
    panel.get_by_label("Weighed, shea butter", exact=True).first.focus()
    keys.press("Control+A")
    keys.type("12,34")
    while not panel.get_by_role("button", name=POURED).evaluate("it => it === document.activeElement"):
        keys.press("Tab")
    keys.press("Space")
    expect(panel.get_by_text("Saved: pour 1")).to_be_visible(timeout=20_000)
    with book_of(lab) as book:
        assert book.frame("texture.pour")["shea butter_g"].tolist() == [12.34]
        assert book.frame("texture.question")["step_g"].tolist() == [0.01]


def test_a_bad_entry_stays_marks_its_place_and_is_not_saved(page, lab, panel):
    fill_question(panel)
    grams = panel.get_by_label("Grams, 1", exact=True)
    grams.fill("1,234")
    expect(panel.get_by_text("could be 1.234 or 1234")).to_be_visible()
    expect(panel.get_by_role("button", name="Make my weigh card")).to_be_disabled()
    expect(grams).to_have_value("1,234")
    grams.fill("12.34")
    panel.get_by_role("button", name="Make my weigh card", exact=True).click()
    expect(panel.get_by_role("table", name="Weigh card")).to_be_visible(timeout=20_000)
    with book_of(lab) as book:
        assert book.entries("texture.question")[0].payload["usual"][0]["grams"] == 12.34


def test_names_with_markup_and_quotes_are_text(page, lab, panel):
    nasty = "<img src=x onerror=\"window.caught=1\"> 'butter'"
    fill_question(panel)
    panel.get_by_label("Ingredient, 1", exact=True).fill(nasty)
    panel.get_by_role("button", name="Make my weigh card", exact=True).click()
    expect(panel.get_by_role("table", name="Weigh card")).to_contain_text(nasty)
    assert page.evaluate("window.caught") is None


def test_what_is_typed_outlives_the_kernel_and_the_page(page, lab, panel, open_notebook):
    fill_question(panel)
    lab.kill_kernels()
    panel.get_by_label("Grams, 2", exact=True).fill("21")
    page.reload()
    again = open_notebook(page, lab, NOTEBOOK).locator(".labkit-panel")
    expect(again.get_by_label("Grams, 2", exact=True)).to_have_value("21")
    expect(again.get_by_label("Ingredient, 4", exact=True)).to_have_value("red iron oxide")


@pytest.mark.parametrize("moment", ["before", "during"])
def test_a_kernel_killed_in_the_middle_of_a_save_loses_nothing_and_doubles_nothing(page, lab, panel, moment):
    ask(panel)
    button = panel.get_by_role("button", name=POURED)
    expect(button).to_be_enabled()
    if moment == "before":
        lab.kill_kernels()
        button.click()
    else:
        button.click(no_wait_after=True)
        lab.kill_kernels()
    for _ in range(90):
        if pours_of(lab):
            break
        page.wait_for_timeout(1_000)
    page.wait_for_timeout(6_000)
    assert pours_of(lab) == [1]
    with book_of(lab) as book:
        assert len(trial_names(book)) == 1


def test_every_control_has_a_name(page, lab, panel):
    ask(panel)
    pour_and_feel(panel, 1, "soft")
    nameless = page.evaluate(
        """() => [...document.querySelectorAll('.labkit-panel :is(input, select, textarea, button, img)')]
            .filter((each) => each.offsetParent)
            .filter((each) => !['aria-label', 'alt'].some((name) => each.getAttribute(name)))
            .filter((each) => !each.labels?.length && !each.textContent.trim())
            .map((each) => each.outerHTML)"""
    )
    assert nameless == []


def test_the_card_is_printed_alone(page, lab, panel):
    ask(panel)
    page.evaluate(
        """() => {
            const append = document.body.append.bind(document.body);
            document.body.append = (frame) => {
                append(frame);
                const inside = frame.contentWindow;
                inside.print = () => { window.printed = inside.document.body.innerText; };
            };
        }"""
    )
    panel.get_by_role("button", name="Print this card").click()
    page.wait_for_function("window.printed")
    printed = page.evaluate("window.printed")
    assert "Weigh card" in printed
    assert "beeswax" in printed
    assert "Pour 1: the usual." in printed
    assert "Save" not in printed


@pytest.mark.parametrize("theme", THEMES)
def test_what_is_shown_has_contrast_enough(page, lab, panel, theme):
    ask(panel)
    pour_and_feel(panel, 1, "soft")
    assert weak_texts(page, theme) == []


def test_a_photo_is_shrunk_kept_beside_the_book_and_named_in_the_pour(page, lab, panel, tmp_path):
    from PIL import Image

    big, text = tmp_path / "big.jpg", tmp_path / "text.jpg"
    Image.effect_noise((4000, 3000), 40).convert("RGB").save(big)
    text.write_text("no picture")
    ask(panel)
    logged = form(panel, POURED)
    logged.get_by_text("More", exact=True).click()
    logged.get_by_label("Photo", exact=True).set_input_files(text)
    expect(logged.get_by_role("status")).to_contain_text("cannot read that picture")
    logged.get_by_label("Photo", exact=True).set_input_files(big)
    expect(logged.get_by_role("status")).to_contain_text("Photo kept.", timeout=30_000)
    panel.get_by_role("button", name=POURED).click()
    noted = form(panel, "Save this word").get_by_role("radio", name="1", exact=True)
    expect(noted).to_be_checked(timeout=20_000)
    with book_of(lab) as book:
        name = book.frame("texture.pour")["photo"].iloc[0]
        with Image.open(book.photo_path(name)) as kept:
            assert max(kept.size) == 2400
        assert book.check() == []


def test_bounds_are_changed_and_contradictory_ones_are_marked(page, lab, panel):
    """The bounds vanished as one of them was typed, and the old ones were saved again."""
    ask(panel)
    panel.get_by_role("button", name="Change the question", exact=True).click()
    asked = form(panel, "Save the changed question")
    asked.get_by_text("More", exact=True).click()
    low = asked.get_by_label("Lowest, butter", exact=True)
    low.fill("95")
    expect(asked.get_by_text("all there is to vary")).to_be_visible(timeout=20_000)
    low.fill("15")
    expect(asked.get_by_text("all there is to vary")).to_have_count(0, timeout=20_000)
    expect(low).to_have_value("15")
    panel.get_by_role("button", name="Save the changed question", exact=True).click()
    expect(panel.get_by_text("You may pour butter 15 to")).to_be_visible(timeout=30_000)
    with book_of(lab) as book:
        assert TextureTrial(book).question.low["butter"] == pytest.approx(0.15 * 41.5 / 38.5, abs=0.001)
