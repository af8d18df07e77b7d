"""Sharing: a trial in one file that somebody else can check, run again, remake and send back."""

from typing import TYPE_CHECKING

from labkit.lazy import load_when_asked

if TYPE_CHECKING:
    from labkit.share.checking import verify
    from labkit.share.packing import bundle, contents
    from labkit.share.remade import remakes
    from labkit.share.remaking import log_remake

_HOMES = {
    "bundle": "packing",
    "contents": "packing",
    "log_remake": "remaking",
    "remakes": "remade",
    "verify": "checking",
}

__all__ = ["bundle", "contents", "log_remake", "remakes", "verify"]

__getattr__ = load_when_asked(__name__, _HOMES)


def __dir__() -> list[str]:
    return __all__
