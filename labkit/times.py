"""Times as they are kept, compared and said."""

from datetime import datetime, timedelta
from typing import Annotated

from pydantic import AfterValidator

from labkit.errors import LabError

CLOCK_SLACK = timedelta(minutes=5)
"""The clocks of a tablet and of the lab may differ by this."""


def zoned(when: datetime) -> datetime:
    """Return ``when`` if it says its zone; raise `LabError` if not."""
    if when.tzinfo is None:
        raise LabError(f"the time {when:%Y-%m-%d %H:%M} does not say its zone")
    return when


Zoned = Annotated[datetime, AfterValidator(zoned)]
"""A time that says its zone."""


def now() -> datetime:
    """Return the time, with its zone."""
    return datetime.now().astimezone()


def spoken(when: datetime) -> str:
    """Return a day and a time of the lab's clock.

    >>> spoken(datetime(2026, 3, 5, 19, 20))
    'Thu 5 Mar, 19:20'
    """
    here = when.astimezone()
    return f"{here:%a} {here.day} {here:%b, %H:%M}"


def refuse_future(when: datetime) -> None:
    """Raise `LabError` where a time is still to come."""
    if when > now() + CLOCK_SLACK:
        raise LabError(f"{spoken(when)} {when.astimezone().year} is still to come. Give an earlier time.")


def mended_time(before: datetime, after: datetime | None) -> datetime:
    """Return the time to keep: a form shows minutes, so the same minute is the same time."""
    same = after is None or after.replace(second=0, microsecond=0) == before.replace(second=0, microsecond=0)
    return before if same or after is None else after
