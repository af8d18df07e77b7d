"""What an addition changes beside what it is for: the load of pigment, the wax, the hardness, the colour."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from labkit.batch.additions import Hardness
from labkit.batch.asked import Floats
from labkit.batch.off_colour import move_words
from labkit.batch.pot import Pot

Colour = Callable[[Mapping[str, float]], tuple[Floats, Floats] | None]
"""From mass % of each pigment to CIELAB and its sd, shapes (3,); None where it cannot be forecast."""

UNSEEN_DE = 0.5
"""A change of colour below this is not seen (a judgement; about 1 is perceptible)."""
ALIKE_RUNGS = 0.05
"""A change in hardness below this is none (a judgement)."""


@dataclass(frozen=True)
class Watched:
    """What is looked at, as far as it is known.

    Attributes
    ----------
    pigments, waxes : tuple of str
        Which ingredients are such.
    hardness, colour : callable or None
        Models of the pot.
    """

    pigments: tuple[str, ...] = ()
    waxes: tuple[str, ...] = ()
    hardness: Hardness | None = None
    colour: Colour | None = None

    def loads(self, pot: Pot) -> dict[str, float]:
        """Return mass % of each pigment in the pot."""
        return {name: pot.percent.get(name, 0.0) for name in self.pigments}

    def colour_of(self, pot: Pot) -> tuple[Floats, Floats] | None:
        """Return CIELAB of the pot and its sd; None where nothing is known."""
        found = self.colour(self.loads(pot)) if self.colour else None
        if found is None:
            return None
        lab, sd = (np.asarray(each, dtype=float) for each in found)
        return (lab, sd) if np.isfinite(lab).all() else None


def side_effects(before: Pot, after: Pot, watched: Watched, but: str = "") -> str:
    """Return what changes, in words; `but` names what is left out: "hardness" or "colour".

    >>> pot = Pot({"castor oil": 80.0, "beeswax": 15.0, "red iron oxide": 5.0})
    >>> side_effects(pot, pot.add("beeswax", 2.0), Watched(("red iron oxide",), ("beeswax",)))
    'all pigment 5.0 → 4.9 %; all wax 15.0 → 16.7 %'
    """
    said = [
        _share("all pigment", watched.pigments, before, after),
        _share("all wax", watched.waxes, before, after),
        "" if but == "hardness" else _hardness(before, after, watched.hardness),
        "" if but == "colour" else _colour(before, after, watched),
    ]
    return "; ".join(filter(None, said))


def _share(what: str, names: tuple[str, ...], before: Pot, after: Pot) -> str:
    was, now = (sum(pot.percent.get(name, 0.0) for name in names) for pot in (before, after))
    return f"{what} {was:.1f} → {now:.1f} %" if names and was + now > 0.0 else ""


def _hardness(before: Pot, after: Pot, hardness: Hardness | None) -> str:
    was, now = (hardness(pot.shares) if hardness else None for pot in (before, after))
    if was is None or now is None:
        return ""
    change = now[0] - was[0]
    if abs(change) < ALIKE_RUNGS:
        return "as hard as before"
    return f"{'harder' if change > 0 else 'softer'} by {abs(change):.1f} words"


def _colour(before: Pot, after: Pot, watched: Watched) -> str:
    from labkit.colour.cie import delta_e00

    was, now = watched.colour_of(before), watched.colour_of(after)
    if was is None or now is None:
        return ""
    moved = float(delta_e00(was[0], now[0]))
    if moved < UNSEEN_DE:
        return "colour as before"
    return f"colour moves by {moved:.1f} ΔE00 ({move_words(was[0], now[0])})"
