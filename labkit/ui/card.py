"""A card to print."""

from pathlib import Path

import anywidget
import traitlets

from labkit.ui.text import Html

PRINT_STYLE = (
    "@page{margin:14mm}body{font:13pt sans-serif;color:#000}table{border-collapse:collapse;margin:.5em 0}"
    "th,td{border:1px solid #000;padding:.5em .6em;height:1cm;text-align:left;vertical-align:top;"
    "overflow-wrap:anywhere}tr{break-inside:avoid}thead th{height:auto}"
    ".labkit-right{text-align:right;white-space:nowrap}td:empty{min-width:2.4cm}"
    ".labkit-screen{display:none}h1{font-size:18pt;margin:0}"
    "caption{text-align:left;font-weight:bold;padding:.3em 0}"
)
"""An empty cell has room to write by hand what was really weighed."""


class Card(anywidget.AnyWidget):
    """Shows markup made with `labkit.ui.text` and prints it, alone on its page.

    What has the class “labkit-paper” is on the paper alone, what has the class
    “labkit-screen” on the screen alone. An empty card, and one that is not
    ``printable``, offers no printing.
    """

    _esm = Path(__file__).with_name("card.js")
    _css = Path(__file__).with_name("form.css")

    html = traitlets.Unicode().tag(sync=True)
    printable = traitlets.Bool(True).tag(sync=True)
    print_style = traitlets.Unicode(PRINT_STYLE).tag(sync=True)

    def __init__(self, html: Html | None = None, printable: bool = True) -> None:
        super().__init__(html=html or "", printable=printable)
