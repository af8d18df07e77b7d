"""The least of something that has to go into the pot, and what it does to everything else there."""

from collections.abc import Callable, Mapping

import numpy as np

from labkit.batch.asked import Floats
from labkit.batch.pot import Pot

_STEPS = 60
_SHOWN = 0.05  # % of the pot


def least_amount(added: Callable[[float], Pot], enough: Callable[[Pot], bool], most: float) -> float:
    """Return the least g, up to `most`, after which the pot is as it should be; 0 where none is enough.

    Sixty even amounts are tried, and the gap below the first that is enough is halved: a
    shorter stretch of "enough" below it may be overlooked.

    >>> pot = Pot({"oil": 9.0})
    >>> round(least_amount(lambda grams: pot.add("wax", grams), lambda after: after.total_g >= 10.0, 5.0), 4)
    1.0
    """
    tried: Floats = np.linspace(0.0, most, _STEPS + 1)[1:]
    first = next((float(each) for each in tried if enough(added(float(each)))), None)
    if first is None:
        return 0.0
    low, high = first - float(tried[0]), first
    while high - low > 1e-4 * tried[0]:
        middle = (low + high) / 2.0
        low, high = (low, middle) if enough(added(middle)) else (middle, high)
    return high


def on_scale(grams: float, step: float) -> float:
    """Return grams as the scale can weigh them: the nearest step, and at least one.

    >>> on_scale(1.26, 0.5), on_scale(0.02, 0.1)
    (1.5, 0.1)
    """
    return round(max(round(grams / step), 1) * step, 6)


def add_all(pot: Pot, grams: Mapping[str, float]) -> Pot:
    """Return the pot with more of several ingredients."""
    for name, each in grams.items():
        pot = pot.add(name, each)
    return pot


def what_else(before: Pot, after: Pot, first: str = "") -> str:
    """Return in words how the % of everything changed, `first` named first.

    >>> pot = Pot({"castor oil": 80.0, "beeswax": 20.0})
    >>> what_else(pot, pot.add("beeswax", 5.0), "beeswax")
    'beeswax 20.0 → 23.8 %; castor oil 80.0 → 76.2 %'
    """
    was, now = before.percent, after.percent
    names = sorted(now, key=lambda name: (name != first, -was.get(name, 0.0)))
    return "; ".join(
        f"{name} {was.get(name, 0.0):.1f} → {now[name]:.1f} %"
        for name in names
        if name == first or abs(now[name] - was.get(name, 0.0)) >= _SHOWN
    )
