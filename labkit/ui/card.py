"""A card to print."""

from pathlib import Path

import anywidget
import traitlets

from labkit.ui.text import Html

PRINT_STYLE = (
    "body{font:13pt sans-serif;color:#000}table{border-collapse:collapse;margin:.5em 0}"
    "th,td{border:1px solid #000;padding:.25em .6em;text-align:left}.labkit-right{text-align:right}"
    "caption{text-align:left;font-weight:bold;padding:.3em 0}"
)


class Card(anywidget.AnyWidget):
    """Shows markup made with `labkit.ui.text` and prints it, alone on its page."""

    _esm = Path(__file__).with_name("card.js")
    _css = Path(__file__).with_name("form.css")

    html = traitlets.Unicode().tag(sync=True)
    print_style = traitlets.Unicode(PRINT_STYLE).tag(sync=True)

    def __init__(self, html: Html | None = None) -> None:
        super().__init__(html=html or "")
