"""What is off about a colour, as a small wanted shift in CIELAB."""

import numpy as np
from scipy.optimize import brentq

from labkit.batch.asked import Floats
from labkit.errors import LabError, did_you_mean

SHIFT_DE = 2.5
"""A colour that is called off is moved by this ΔE00, a difference that is just visible (a judgement)."""

TOLD = 0.5
"""A change of L*, chroma or hue below this is not told (a judgement)."""

_NEUTRAL = 1.0
_FURTHEST = 25.0

_WAYS = {
    "too pale": "darker",
    "too dark": "lighter",
    "too orange": "turned in hue from orange towards red and pink",
    "too pink": "turned in hue from pink towards orange",
    "too purple": "turned in hue from purple towards red and orange",
    "too brown": "brighter, of more chroma",
}


def ways() -> tuple[str, ...]:
    """Return what a colour can be said to be.

    >>> ways()[:2]
    ('too pale', 'too dark')
    """
    return tuple(_WAYS)


def way_words(off: str) -> str:
    """Return which way a colour that is off is moved; raise `LabError` for something that is not known.

    >>> way_words("too dark")
    'lighter'
    """
    if off not in _WAYS:
        raise LabError(f"“{off}” does not say which way the colour is off. {did_you_mean(off, _WAYS)}")
    return _WAYS[off]


def way(lab: Floats, off: str) -> Floats:
    """Return the direction to move in, of length 1 in CIELAB, shape (3,).

    Lightness alone for pale and dark; across the hue for orange (hue angle down), pink and purple (up);
    along the chroma for brown.

    >>> way(np.array([40.0, 30.0, 0.0]), "too orange").round(6)
    array([ 0.,  0., -1.])
    """
    way_words(off)
    if off in ("too pale", "too dark"):
        return np.array([-1.0 if off == "too pale" else 1.0, 0.0, 0.0])
    chroma = float(np.hypot(lab[1], lab[2]))
    along = lab[1:] / chroma if chroma > _NEUTRAL else np.array([1.0, 0.0])
    across = np.array([-along[1], along[0]])
    turned = {"too brown": along, "too orange": -across}.get(off, across)
    return np.concatenate([[0.0], turned])


def wanted_colour(lab: Floats, off: str, shift_de: float = SHIFT_DE) -> Floats:
    """Return the colour that lies `shift_de` [ΔE00] away from the side that it is off to, shape (3,).

    >>> wanted = wanted_colour(np.array([40.0, 30.0, 20.0]), "too pale")
    >>> wanted.round(1), bool(wanted[0] < 40.0)
    (array([37.1, 30. , 20. ]), True)
    """
    from labkit.colour.cie import delta_e00

    towards = way(lab, off)

    def short(size: float) -> float:
        return float(delta_e00(lab, lab + size * towards)) - shift_de

    return np.asarray(lab + brentq(short, 0.0, _FURTHEST) * towards)


def move_words(before: Floats, after: Floats) -> str:
    """Return how a colour changes, in words: lightness, chroma and hue, the largest first, in CIELAB units.

    The hue's change is ΔH*, √(Δa*² + Δb*² − ΔC*²) (CIE 15:2004, 8.2.1, from memory).

    >>> move_words(np.array([40.0, 30.0, 20.0]), np.array([38.0, 27.0, 18.0]))
    'duller by 3.6, darker by 2.0'
    """
    chroma, turned = (float(np.hypot(each[1], each[2])) for each in (before, after))
    way_round = float(np.sign(before[1] * after[2] - before[2] * after[1]))
    hue = way_round * float(np.sqrt(max(2.0 * (chroma * turned - float(before[1:] @ after[1:])), 0.0)))
    changes = {
        ("lighter", "darker"): float(after[0] - before[0]),
        ("brighter", "duller"): turned - chroma,
        ("towards orange", "towards pink"): hue,
    }
    told = sorted(changes.items(), key=lambda each: -abs(each[1]))
    said = [f"{words[0 if size > 0 else 1]} by {abs(size):.1f}" for words, size in told if abs(size) >= TOLD]
    return ", ".join(said) or "hardly"
