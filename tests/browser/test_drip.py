"""A drip in a real browser: felt too soft, answered in grams by the maker's own map, put right."""

from datetime import timedelta

import pytest
from playwright.sync_api import expect

from labkit.batch.record import Added, Drip
from labkit.batch.trial import BatchTrial, start_batch
from labkit.book import TrialBook
from labkit.texture import start_trial
from labkit.times import now

NOTEBOOK = "batch-day.ipynb"
WAIT_MS = 60_000
BASE = {"shea butter": 12.0, "castor oil": 20.0, "beeswax": 5.0, "red iron oxide": 3.0}
KINDS = {"shea butter": "butter", "castor oil": "oil", "beeswax": "wax", "red iron oxide": "powder"}


@pytest.fixture
def page_options():
    return {"viewport": {"width": 820, "height": 1180}, "has_touch": True}


def with_a_map_and_a_pot(book):
    """A texture trial of four felt pours, and a batch that is weighed in."""
    trial = start_trial(book, BASE, wrong="too soft")
    for number, (wax, word) in enumerate(
        [(5.0, "soft"), (5.0, "soft"), (7.0, "just right"), (9.0, "firm")], 1
    ):
        when = now() - timedelta(days=9 - number)
        weighed = BASE | {"beeswax": wax, "castor oil": 25.0 - wax}
        trial = trial.log_pour(number, weighed, poured_at=when)
        trial = trial.log_note(number, word, felt_at=when + timedelta(hours=48))
    lines = [{"name": name, "grams": 2.5 * grams, "kind": KINDS[name]} for name, grams in BASE.items()]
    batch = start_batch(book, lines, "Brick")
    for at, (name, grams) in enumerate(BASE.items()):
        when = now() - timedelta(minutes=30 - at)
        batch = batch.log(Added, ingredient=name, grams=2.5 * grams, added_at=when)


@pytest.fixture
def panel(page, lab, open_notebook):
    with TrialBook(lab.folder / "lab-book.db") as book:
        with_a_map_and_a_pot(book)
    return open_notebook(page, lab, NOTEBOOK).locator(".labkit-panel")


def batch_of(lab):
    with TrialBook(lab.folder / "lab-book.db") as book:
        batch = BatchTrial(book)
        return batch.of(Drip), batch.of(Added), batch.pot()


def test_a_soft_drip_is_answered_in_grams_and_the_addition_logged_with_one_press(page, lab, panel):
    panel.get_by_role("button", name="A drip: too soft").click()
    form = panel.locator(".labkit-form").filter(has=page.get_by_role("button", name="What to add now?"))
    form.get_by_role("radiogroup", name="It feels").get_by_role("radio", name="too soft").check()
    form.get_by_role("radiogroup", name="Its colour is").get_by_role("radio", name="too dark").check()
    form.get_by_text("More", exact=True).click()
    form.get_by_label("Other pigments at hand").fill("titanium dioxide, CI 77492")
    form.get_by_role("button", name="What to add now?").click()
    expect(panel.get_by_text("From your texture trial")).to_be_visible(timeout=WAIT_MS)
    table = panel.get_by_role("table", name="For how hard it sets")
    expect(table).to_contain_text("beeswax")
    expect(panel.get_by_role("table", name="For the colour")).to_contain_text("titanium dioxide")
    assert panel.evaluate("(node) => node.scrollWidth - node.clientWidth") <= 1
    adding = panel.locator(".labkit-form").filter(has_text="g beeswax").first
    grams = float(adding.get_by_label("Weighed, beeswax").input_value())
    adding.get_by_role("button", name="This went in").click()
    expect(panel.get_by_text("Something went in since the last drip")).to_be_visible(timeout=WAIT_MS)
    drips, added, pot = batch_of(lab)
    assert [(each.felt, each.colour) for each in drips] == [("too soft", "too dark")]
    assert (added[-1].ingredient, added[-1].grams) == ("beeswax", grams)
    assert pot.grams["beeswax"] == pytest.approx(12.5 + grams)
