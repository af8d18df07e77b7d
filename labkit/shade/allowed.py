"""Which pigments a market allows on lips, and up to what load."""

from collections.abc import Sequence
from dataclasses import dataclass

from labkit.errors import LabError

_LEFT_OUT = ("not allowed", "unknown")


@dataclass(frozen=True)
class Allowed:
    """Names that may be used, limits by name [mass % of the finished product], and what to say about it."""

    names: tuple[str, ...]
    limits: dict[str, float]
    remarks: tuple[str, ...]


def allowed_on_lips(names: Sequence[str], market: str | None, may_lack: bool = True) -> Allowed:
    """Return which of the pigments a market allows on lips; all of them where no market is given.

    Information only, as `labkit.rules.permitted` gives it: what is not recorded there is left out too.

    Parameters
    ----------
    may_lack
        False: the pigments are in the pot already, so none of them can be left out.

    Raises
    ------
    LabError
        Where the market is not known, or allows none of them, or one that cannot be left out.

    >>> allowed_on_lips(["red iron oxide", "ultramarine"], "US").names
    ('red iron oxide',)
    """
    if market is None or not names:
        return Allowed(tuple(names), {}, ())
    rulings = {name: _ruling(name, market) for name in names}
    out = [name for name, (status, _, _) in rulings.items() if status in _LEFT_OUT]
    if out and not may_lack:
        raise LabError(f"“{out[0]}” is in the pot, and nothing can be taken out. {rulings[out[0]][2]}")
    if len(out) == len(names):
        raise LabError(f"None of these pigments is left: {' '.join(rulings[name][2] for name in out)}")
    return Allowed(
        names=tuple(name for name in names if name not in out),
        limits={
            name: limit for name, (_, limit, _) in rulings.items() if limit is not None and name not in out
        },
        remarks=tuple(_remark(name, *ruling) for name, ruling in rulings.items() if ruling[0] != "allowed"),
    )


def _remark(name: str, status: str, limit: float | None, why: str) -> str:
    if status in _LEFT_OUT:
        return f"“{name}” is left out. {why}"
    return f"“{name}” is kept to {limit:g} %. {why}" if limit is not None else f"“{name}”: {why}"


def _ruling(name: str, market: str) -> tuple[str, float | None, str]:
    """Return status, limit and reason."""
    from labkit.materials import find
    from labkit.rules import permitted

    try:
        found = find(name)
    except LabError:
        return "unknown", None, f"“{name}” is not among the colourants whose rules are recorded."
    ruling = permitted(found, market, "lips")
    return ruling.status, ruling.limit_percent, ruling.why
