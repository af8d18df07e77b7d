"""Simulated pots for the tests of the cooling curve."""

import numpy as np


def newton(minutes, start=75.0, tau=12.0, room=22.0):
    """Return Newton's law."""
    return room + (start - room) * np.exp(-np.asarray(minutes) / tau)


def with_plateau(minutes, level, lasts, start=78.0, tau=12.0, room=22.0, later_tau=None):
    """Return a pot that stands at a level, then cools on from there."""
    minutes = np.asarray(minutes, dtype=float)
    begins = tau * np.log((start - room) / (level - room))
    after = newton(minutes - begins - lasts, level, later_tau or tau, room)
    found = np.where(minutes < begins, newton(minutes, start, tau, room), level)
    return np.where(minutes < begins + lasts, found, after)


def reheated(rng=None, sd=0.0):
    """Return minutes and °C of a pot that cools, is warmed for three minutes, and cools again."""
    minutes = np.arange(21.0)
    celsius = np.r_[newton(minutes[:9], 76.0), [50.0, 60.0, 70.0], newton(minutes[12:] - 12.0, 74.0)]
    return minutes, celsius + (sd * rng.standard_normal(21) if rng is not None else 0.0)
