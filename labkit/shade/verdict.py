"""What a colour difference means, in a word."""

import numpy as np

BANDS = {"match": 1.0, "close": 2.0, "visible": 3.0, "different": np.inf}
"""The largest ΔE00 of each word. Judgement from dental and skin studies: perceptible from about 1, acceptable
up to 2 or 3."""


def verdict(delta: float) -> str:
    """Return the word for a ΔE00.

    >>> [verdict(each) for each in (0.4, 1.5, 2.5, 6.0)]
    ['match', 'close', 'visible', 'different']
    """
    return next(word for word, most in BANDS.items() if delta <= most)
