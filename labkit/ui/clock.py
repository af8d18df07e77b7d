"""A running clock: how long ago something was, and how long it is until something."""

from collections.abc import Mapping
from datetime import datetime
from pathlib import Path

import anywidget
import traitlets


class Clock(anywidget.AnyWidget):
    """Counts in the browser, by its own clock, so that it runs on while the kernel is busy or gone.

    Attributes
    ----------
    since, until : list of dict
        "label" and "at" (a time with its zone, ISO 8601) of what was, and of what is to come.
    """

    _esm = Path(__file__).with_name("clock.js")
    _css = Path(__file__).with_name("clock.css")

    since = traitlets.List(traitlets.Dict()).tag(sync=True)
    until = traitlets.List(traitlets.Dict()).tag(sync=True)

    def show(self, since: Mapping[str, datetime], until: Mapping[str, datetime] | None = None) -> None:
        """Count from and to these times, each under its label."""
        with self.hold_sync():
            self.since = _listed(since)
            self.until = _listed(until or {})


def _listed(times: Mapping[str, datetime]) -> list[dict[str, str]]:
    return [{"label": label, "at": when.isoformat()} for label, when in times.items()]
