"""The trial book: a grow-only set of immutable entries, in a file or on a server.

Names are loaded when they are asked for: a room that declares its records loads no database.
"""

from typing import TYPE_CHECKING

from labkit.lazy import load_when_asked

if TYPE_CHECKING:
    from labkit.book.book import TrialBook
    from labkit.book.declared import Declared
    from labkit.book.entry import Entry
    from labkit.book.exchange import Refused, Report, read_lines, take_in, take_in_lines, write_lines
    from labkit.book.here import book_here
    from labkit.book.record import Record, RecordError, declarations, noted, read_record, record_type
    from labkit.book.story import history_frame

_HOMES = {
    "TrialBook": "book",
    "Declared": "declared",
    "Entry": "entry",
    "Refused": "exchange",
    "Report": "exchange",
    "read_lines": "exchange",
    "take_in": "exchange",
    "take_in_lines": "exchange",
    "write_lines": "exchange",
    "Record": "record",
    "RecordError": "record",
    "book_here": "here",
    "history_frame": "story",
    "declarations": "record",
    "noted": "record",
    "read_record": "record",
    "record_type": "record",
}

__all__ = [
    "Declared",
    "Entry",
    "Record",
    "RecordError",
    "Refused",
    "Report",
    "TrialBook",
    "book_here",
    "declarations",
    "history_frame",
    "noted",
    "read_lines",
    "read_record",
    "record_type",
    "take_in",
    "take_in_lines",
    "write_lines",
]


__getattr__ = load_when_asked(__name__, _HOMES)


def __dir__() -> list[str]:
    return __all__
