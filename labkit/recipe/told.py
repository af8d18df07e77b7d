"""One difference between two recipes, and what it is likely to do."""

from typing import NamedTuple

USUAL = "general trade knowledge, no source"
"""What an effect rests on that no model and no table tells."""
LEAST = 1e-6
"""A smaller difference is none."""


class Told(NamedTuple):
    """A difference: what, its figures (b less a is the change), the likely effect, and its size.

    A size of 1 is what a maker would just notice.
    """

    what: str
    a: float
    b: float
    change: float
    effect: str
    size: float
