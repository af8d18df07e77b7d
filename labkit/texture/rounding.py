"""Compositions that a scale can weigh: whole steps that add up to the batch and stay in the region."""

from itertools import product

import numpy as np
from numpy.typing import NDArray

from labkit.errors import LabError
from labkit.texture.asked import read_grams
from labkit.texture.candidates import not_near, unlike
from labkit.texture.region import Region

Floats = NDArray[np.float64]
Steps = NDArray[np.int64]

_COARSE = 300  # mixes up to which every one is a candidate
_BOX = 200_000  # mixes up to which they are counted one by one
_TRIES = 400  # batches looked at for one that would do
_NEAR = 8  # mixes kept around each composition


def whole_steps(batch_g: float | None, step_g: float | None) -> int | None:
    """Return how many steps of the scale make the batch; None where neither is given.

    Raises
    ------
    LabError
        Where one is given without the other, is no number above 0, or the batch is no
        whole number of steps.

    >>> whole_steps(25.0, 0.1)
    250
    """
    if batch_g is None and step_g is None:
        return None
    if batch_g is None or step_g is None:
        given, missing = ("step", "batch_g") if batch_g is None else ("batch", "step_g")
        raise LabError(f"The {given} alone does not say what can be weighed. Give {missing} too, in grams.")
    batch_g, step_g = read_grams(batch_g, "batch"), read_grams(step_g, "scale's step")
    steps = round(batch_g / step_g)
    if steps < 1 or abs(batch_g / step_g - steps) > 1e-6 * max(steps, 1):
        below, above = (max(np.floor(batch_g / step_g) + up, 1) * step_g for up in (0, 1))
        offers = f"{below:.10g}" if below == above else f"{below:.10g} or {above:.10g}"
        raise LabError(f"{batch_g:g} g is no whole number of steps of {step_g:g} g: weigh {offers} g.")
    return steps


def weighable(
    region: Region, targets: Floats, given: Floats, steps: int, step_g: float
) -> tuple[Floats, bool]:
    """Return mixes on the scale's steps, inside the region, and whether the steps are coarse.

    All mixes where they are few (coarse), else those around each target, and at least
    as many as targets; those that were poured are left out while enough others remain.

    Raises
    ------
    LabError
        Where the step is too coarse for so many different mixes: says the smallest
        batch that would do.
    """
    every = all_mixes(region, steps)
    coarse = every is not None and len(every) <= _COARSE
    if every is not None and coarse:
        mixes = every / steps
    else:
        mixes = unlike(np.vstack([_mixes_near(region, target, steps) for target in targets]), 0.5 / steps)
        if len(mixes) < len(targets) and every is not None:
            mixes = every[np.linspace(0, len(every) - 1, _COARSE).astype(int)] / steps
    if len(mixes) < len(targets):
        raise LabError(_too_coarse(region, len(targets), len(mixes), steps, step_g))
    fresh = not_near(mixes, given, 0.5 / steps)
    return (fresh if len(fresh) >= len(targets) else mixes), coarse


def all_mixes(region: Region, steps: int) -> Steps | None:
    """Return every mix of whole steps in the region, shape (mixes, parts); None where too many to count."""
    corners = region.corners().to_numpy()
    least = np.ceil(corners.min(axis=0) * steps - 1e-6).astype(int)
    most = np.floor(corners.max(axis=0) * steps + 1e-6).astype(int)
    widest = int(np.argmax(most - least))
    free = np.delete(np.arange(len(least)), widest)
    widths = np.maximum(most - least + 1, 0)[free]
    if widths.prod(dtype=float) > _BOX:
        return None
    box = np.indices(widths).reshape(len(free), -1).T + least[free]
    mixes = np.insert(box, widest, steps - box.sum(axis=1), axis=1)
    return mixes[region.contains(mixes / steps)]


def _mixes_near(region: Region, target: Floats, steps: int) -> Floats:
    """Return the nearest mixes in the region, searched two steps of each part around the target."""
    parts = len(target)
    moves = np.array([move for move in product(range(-2, 3), repeat=parts - 1) if abs(sum(move)) <= 2])
    moves = np.column_stack([moves, -moves.sum(axis=1)])
    start = np.floor(target * steps).astype(int)
    start[np.argsort(start - target * steps)[: steps - start.sum()]] += 1
    mixes = (start + moves) / steps
    mixes = mixes[region.contains(mixes)]
    order = np.argsort(np.linalg.norm(mixes - target, axis=1).round(12), kind="stable")
    return mixes[order[:_NEAR]]


def _too_coarse(region: Region, needed: int, found: int, steps: int, step_g: float) -> str:
    mixes = "no mix" if found == 0 else "only 1 mix" if found == 1 else f"only {found} different mixes"
    batch = f"A batch of {steps * step_g:.10g} g on steps of {step_g:g} g"
    start = f"{batch} allows {mixes} here, and the plan needs {needed}"
    enough = _smallest_batch(region, needed, steps)
    if enough is None:
        return f"{start}. Weigh on a finer step, or widen the bounds."
    return f"{start}. Weigh at least {enough * step_g:.10g} g, or weigh on a finer step."


def _smallest_batch(region: Region, needed: int, steps: int) -> int | None:
    """Return the next number of steps that allows enough mixes; None where none is found."""
    for more in range(steps + 1, steps + 1 + _TRIES):
        mixes = all_mixes(region, more)
        if mixes is None:
            return None
        if len(mixes) >= needed:
            return more
    return None
