"""A tablet on the home network: let in with the code, over HTTPS, and no other way."""

import re
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import expect

NOTEBOOK = "texture-trial.ipynb"
CODE = re.compile(r"\b[a-z2-9]{4}(?:-[a-z2-9]{4}){3}\b")


@pytest.fixture
def lab_options():
    return ("--tablet",)


@pytest.fixture
def page_options():
    return {"viewport": {"width": 820, "height": 1180}, "has_touch": True, "ignore_https_errors": True}


def test_a_tablet_comes_in_with_the_code_and_not_without(page, lab, open_notebook):
    address = urlsplit(lab.address)
    assert address.scheme == "https"
    assert not address.query
    assert address.hostname != "127.0.0.1"
    page.goto(lab.address)
    expect(page).to_have_url(re.compile("/login"))
    page.get_by_role("textbox", name="Password or token").fill("abcd-efgh-jkmn-pqrs")
    page.get_by_role("button", name="Log in", exact=True).click()
    expect(page).to_have_url(re.compile("/login"))
    page.get_by_role("textbox", name="Password or token").fill(CODE.search(lab.said())[0])
    page.get_by_role("button", name="Log in", exact=True).click()
    page.wait_for_url(re.compile("/lab/tree/"))
    panel = open_notebook(page, lab, NOTEBOOK).locator(".labkit-panel")
    expect(panel.locator(".labkit-press").first).to_be_visible()
    assert lab.labkit().stdout.startswith(f"The lab is already open at {lab.address}")
