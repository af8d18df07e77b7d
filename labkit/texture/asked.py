"""Whole numbers, seeds and grams that were asked for, read."""

from numbers import Integral, Real

import numpy as np

from labkit.errors import LabError


def read_count(value: object, what: str, least: int) -> int:
    """Return a whole number of at least `least`.

    Raises
    ------
    LabError
        Where it is something else.

    Examples
    --------
    >>> read_count(3, "pours", 1)
    3
    """
    if isinstance(value, (bool, np.bool_)) or not isinstance(value, Integral):
        raise LabError(f"The number of {what} is {value!r}: give a whole number.")
    if value < least:
        raise LabError(f"The number of {what} is {value}: it has to be {least} or more.")
    return int(value)


def read_seed(seed: object) -> np.random.Generator:
    """Return random draws from a seed: a whole number from 0, or None for other draws every time.

    Raises
    ------
    LabError
        Where it is something else.
    """
    if seed is None:
        return np.random.default_rng()
    try:
        return np.random.default_rng(read_count(seed, "the seed", 0))
    except LabError:
        raise LabError(f"The seed is {seed!r}: give a whole number from 0, such as 7.") from None


def read_grams(grams: object, what: str) -> float:
    """Return grams above 0.

    Raises
    ------
    LabError
        Where it is no number, or not above 0.
    """
    if isinstance(grams, (bool, np.bool_)) or not isinstance(grams, Real):
        raise LabError(f"The {what} is {grams!r}: give grams as a number, such as 20.")
    if not 0 < float(grams) < np.inf:
        raise LabError(f"The {what} of {float(grams):g} g cannot be: give grams above 0.")
    return float(grams)
