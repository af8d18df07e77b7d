"""Cells of a table for spreadsheets: no text in them is ever taken for a formula."""

import re

_RISKY = re.compile(r"(^|[;\t\r\n])([ \u00a0]*)(?=['=+\-@＝＋－＠])")
_MADE_SAFE = re.compile(r"(^|[;\t\r\n])([ \u00a0]*)'(?=['=+\-@＝＋－＠])")


def safe_text(text: str) -> str:
    """Return a text with an apostrophe before what a spreadsheet would take for a formula.

    That is =, +, -, @ and their wide forms, and the apostrophe itself, at the start of the text and of
    whatever a spreadsheet that splits at other signs would take for a cell of its own: after a
    semicolon, a tab and the end of a line. `as_written` gives the text back.

    >>> safe_text("=1+1"), safe_text("soft; -2 °C"), safe_text("butter")
    ("'=1+1", "soft; '-2 °C", 'butter')
    """
    return _RISKY.sub(r"\1\2'", text)


def as_written(cell: str) -> str:
    """Return the text that `safe_text` was given.

    >>> as_written(safe_text("'=1;=2")) == "'=1;=2"
    True
    """
    return _MADE_SAFE.sub(r"\1\2", cell)
