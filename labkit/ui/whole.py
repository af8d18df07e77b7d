"""What is chosen in a closed list, told whole."""

from pathlib import Path

import anywidget


class Whole(anywidget.AnyWidget):
    """Shows nothing: gives each closed list of its panel what is chosen as its tooltip, when it is reached.

    A list is cut where its place is too narrow for what is chosen in it.
    """

    _esm = Path(__file__).with_name("whole.js")
