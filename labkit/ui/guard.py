"""Errors in a panel's callbacks: shown in the maker's words, with details, and logged."""

import logging
import threading
import traceback
from types import TracebackType

import ipywidgets

from labkit.errors import LabError
from labkit.ui.text import html

_log = logging.getLogger("labkit")
one_at_a_time = threading.RLock()
"""Held by what a panel does: a kernel hears each form and button in a thread of its own."""


class Guard:
    """A context in which nothing fails silently, and one thing happens at a time.

    What it says stays until `clear`, which the next press or choice calls.

    >>> guard = Guard()
    >>> with guard:
    ...     raise LabError("The scale's step is larger than the wax.")
    >>> guard.errors
    ["The scale's step is larger than the wax."]
    """

    def __init__(self) -> None:
        self.errors: list[str] = []
        self.box = ipywidgets.HTML()

    def __enter__(self) -> "Guard":
        one_at_a_time.acquire()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> bool:
        try:
            if not isinstance(error, Exception):
                return False
            self.report(error)
            return True
        finally:
            one_at_a_time.release()

    def clear(self) -> None:
        """Take away what was said: something new begins."""
        self.box.value = ""

    def report(self, error: Exception) -> None:
        """Show and log an error without stopping the panel."""
        if isinstance(error, LabError):
            self.errors.append(str(error))
            self.box.value = html('<p role="alert" class="labkit-alert">{}</p>', str(error))
            return
        details = "".join(traceback.format_exception(error))
        _log.error(details)
        self.errors.append(details.strip().splitlines()[-1])
        self.box.value = html(
            '<div role="alert" class="labkit-alert"><p>Something went wrong in the lab, not in what you '
            "typed. What is saved is safe.</p>"
            "<details><summary>Details</summary><pre>{}</pre></details></div>",
            details,
        )
