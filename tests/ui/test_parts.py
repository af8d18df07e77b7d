"""Buttons, choices and the guard: what went wrong is said, and stays until something new begins."""

import pytest

from labkit.errors import LabError
from labkit.ui.card import PRINT_STYLE, Card
from labkit.ui.guard import Guard
from labkit.ui.parts import Choice, button, confirm_button
from labkit.ui.text import html


def fail():
    raise LabError("It has failed.")


@pytest.fixture
def failed() -> Guard:
    guard = Guard()
    with guard:
        fail()
    return guard


def test_an_error_stays_until_it_is_cleared(failed):
    """The box was emptied by every letter that was typed."""
    with failed:
        pass
    assert "It has failed." in failed.box.value
    failed.clear()
    assert failed.box.value == ""


def test_a_press_or_a_choice_clears_what_was_said(failed):
    button("Go", failed, lambda: None).click()
    assert failed.box.value == ""
    choice = Choice("Which", failed, lambda value: None)
    choice.offer([("a", "a"), ("b", "b")], "a")
    button("Fail", failed, fail).click()
    assert failed.box.value
    choice.value = "b"
    assert failed.box.value == ""


def test_a_grave_button_does_nothing_before_it_is_answered():
    done, guard = [], Guard()
    grave = confirm_button("Take it back", "Take back pour 1?", guard, lambda: done.append(1))
    assert (grave.label, grave.question, grave.yes) == (
        "Take it back", "Take back pour 1?", "Yes, take it back",
    )  # fmt: skip
    grave._received(None, {}, [])
    assert done == []
    grave._received(None, {"yes": True}, [])
    grave.click()
    assert done == [1, 1]


def test_a_grave_button_that_fails_says_so():
    guard = Guard()
    confirm_button("Take it back", "Sure?", guard, fail, yes="with its notes").click()
    assert guard.errors == ["It has failed."]


def test_a_card_may_be_made_without_printing():
    assert Card(html("<p></p>")).printable
    assert not Card(printable=False).printable
    assert "break-inside:avoid" in PRINT_STYLE
