"""What tests of several panels look for on them."""

LOW_BUTTONS = """(node) => [...node.querySelectorAll('.labkit-big, .labkit-press, .jupyter-button')]
    .filter((each) => each.offsetParent && each.getBoundingClientRect().height < 44)
    .map((each) => each.textContent)"""


def form_of(page, panel, button):
    """The form with this button."""
    return panel.locator(".labkit-form").filter(has=page.get_by_role("button", name=button, exact=True))


def low_buttons(panel) -> list[str]:
    """The buttons that are too low for a finger (under 44 px)."""
    return panel.evaluate(LOW_BUTTONS)


def sticks_out(panel) -> int:
    """By how many pixels the panel is wider than its place."""
    return panel.evaluate("(node) => node.scrollWidth - node.clientWidth")
