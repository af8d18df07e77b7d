"""Text on a panel: always escaped, so that a name holds whatever its maker likes."""

from collections.abc import Iterable, Sequence
from html import escape
from typing import Any


class Html(str):
    """Markup that is already safe to show."""


def html(template: str, *values: Any) -> Html:
    """Fill a template; plain values are escaped, `Html` values are taken as they are.

    >>> html("<p>{}</p>", "<shea & cocoa>")
    '<p>&lt;shea &amp; cocoa&gt;</p>'
    """
    return Html(template.format(*(each if isinstance(each, Html) else escape(str(each)) for each in values)))


def joined(parts: Iterable[Html], between: str = "") -> Html:
    """Put pieces of markup together."""
    return Html(between.join(parts))


def table(heads: Sequence[str], rows: Iterable[Sequence[Any]], caption: str = "", numbers: int = 0) -> Html:
    """Return a table; the first column names the row, the last ``numbers`` columns are set to the right."""
    first_number = len(heads) - numbers

    def cell(index: int, value: Any) -> Html:
        side = ' class="labkit-right"' if index >= first_number else ""
        if index == 0:
            return html('<th scope="row">{}</th>', value)
        return html(f"<td{side}>{{}}</td>", value)

    top = joined(
        html(f'<th scope="col"{" class=labkit-right" if index >= first_number else ""}>{{}}</th>', head)
        for index, head in enumerate(heads)
    )
    body = joined(
        html("<tr>{}</tr>", joined(cell(index, value) for index, value in enumerate(row))) for row in rows
    )
    named = html("<caption>{}</caption>", caption) if caption else Html("")
    return html(
        '<table class="labkit-table">{}<thead><tr>{}</tr></thead><tbody>{}</tbody></table>', named, top, body
    )
