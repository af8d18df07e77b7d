"""A button that asks before it does what it says."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import anywidget
import traitlets


class Confirm(anywidget.AnyWidget):
    """A button; once pressed, a question with “Yes, …” and “No” stands in its place.

    Parameters
    ----------
    label, question, yes
        On the button, of the question, on the button that means it.
    pressed
        Called after “Yes, …”.
    """

    _esm = Path(__file__).with_name("confirm.js")
    _css = Path(__file__).with_name("form.css")

    label = traitlets.Unicode().tag(sync=True)
    question = traitlets.Unicode().tag(sync=True)
    yes = traitlets.Unicode().tag(sync=True)

    def __init__(self, label: str, question: str, yes: str, pressed: Callable[[], None]) -> None:
        super().__init__(label=label, question=question, yes=yes)
        self._pressed = pressed
        self.on_msg(self._received)

    def click(self) -> None:
        """Do what the button says, as if its question had been answered with yes."""
        self._pressed()

    def _received(self, _: Any, content: dict[str, Any], buffers: list[memoryview]) -> None:
        if content.get("yes"):
            self.click()
