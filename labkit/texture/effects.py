"""What hardness is made of: the terms of the model, with their sizes by judgement."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from labkit.errors import LabError, did_you_mean
from labkit.materials.name_words import hardens as name_hardens
from labkit.texture.gather import Gathered
from labkit.texture.priors import Priors
from labkit.texture.setting import Late, Pace, SetCurve
from labkit.texture.surface import Build, Terms
from labkit.texture.terms import Bend, Cast, Day, Level, Load, Offset, Slope, Term

Floats = NDArray[np.float64]

# Judgement without a source, tried on simulated makers.
EDGE_SD = 0.25  # rungs
_LEVEL_SD = 0.33  # of the ladder's length in rungs
_WAX_LEAN = (14.0, 7.0)  # rungs per unit of share: mean and sd
_WAX_USUAL = 0.2  # share at which wax is that steep, straight or saturating
_SET_GAIN = (2.0, 1.5)  # rungs from pouring to set: mean and sd
_PACE_SD = 0.3  # rungs; by how much a cast's change differs from the trial's
_LATE_SD = 0.25  # rungs for every 2.7-fold time after 48 h: 0.66 in four weeks
_LOAD_LEAN = (10.0, 8.0)  # rungs per unit of mass fraction (that it stiffens: common practice, no source)
_TESTER = 0.6  # scatter of testers over that of notes


def builder(gathered: Gathered, hardens: Sequence[str] | None, words: int) -> Build:
    """Return what makes the terms of a trial from sets of priors.

    Raises
    ------
    LabError
        A part that is to harden but is none.
    """
    leans, steps = leans_of(gathered.parts, hardens), words - 1
    centre, past = gathered.centre, gathered.recalled

    def build(priors: Priors) -> Terms:
        level = Level(0.5 * steps, max(1.0, _LEVEL_SD * steps))
        lean, extra = (size * leans for size in _WAX_LEAN)
        slope = Slope(centre, lean, priors.slope_sd, extra, leans > 0.0, priors.half, _WAX_USUAL)
        of_set: list[Term] = [
            level,
            slope,
            Bend(priors.bend_sd, priors.length),
            Load(gathered.load, *_LOAD_LEAN),
        ]
        if len(past.level_sd):
            of_set.append(Offset(centre, past.level_sd, past.slope_sd))
        pace = Pace(_PACE_SD, priors.rate_per_h)
        casual: list[Term] = [Cast(priors.cast_sd), pace]
        if gathered.days:
            casual.append(Day(priors.day_sd))
        curve = SetCurve(*_SET_GAIN, priors.rate_per_h)
        return Terms(of_set, curve, Late(_LATE_SD), casual, pace, _TESTER * priors.note_sd, max(2.0, steps))

    return build


def leans_of(parts: Sequence[str], hardens: Sequence[str] | None) -> Floats:
    """Return 1 for each part that is expected to harden, else 0.

    Raises
    ------
    LabError
        A part that is to harden but is none.
    """
    if hardens is None:
        return np.array([name_hardens(part) for part in parts], float)
    if unknown := [part for part in hardens if part not in parts]:
        raise LabError(f"“{unknown[0]}” is to harden but is no part. {did_you_mean(unknown[0], parts)}")
    return np.array([part in hardens for part in parts], float)


def widen(priors: Priors, gathered: Gathered) -> Priors:
    """Return the sets of priors with the further sizes that what was seen calls for."""
    if gathered.days:
        priors = priors.with_days()
    return priors.with_readings() if len(gathered.seen.readings) else priors
