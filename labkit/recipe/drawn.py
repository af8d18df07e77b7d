"""A batch weighed out many times, and what of the recipe is then off."""

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from labkit.recipe.groups import BASE_GROUPS
from labkit.recipe.lines import Batch

DRAWS = 10_000
"""So many that a standard deviation is known to 1 %."""
_SEED = 20


class Drawn(NamedTuple):
    """Contents of a batch weighed out many times [g].

    Attributes
    ----------
    wanted : ndarray, shape (parts,)
    off : ndarray, shape (lines, draws, parts)
        By how much the error of each line moves each part.
    """

    wanted: np.ndarray
    off: np.ndarray

    @property
    def together(self) -> np.ndarray:
        """Contents where all lines err, shape (draws, parts)."""
        return np.asarray(self.wanted + self.off.sum(axis=0))

    @property
    def alone(self) -> np.ndarray:
        """Contents where one line errs, shape (lines, draws, parts)."""
        return self.wanted + self.off


def draw(batch: Batch, draws: int = DRAWS) -> Drawn:
    """Weigh a batch out many times: always the same draws, so that two batches can be compared.

    A line on the scale errs as `labkit.recipe.Scale` says, one by the spoon by a log-normal factor with
    mean 1; a pre-mix that was weighed on the same scale holds its parts in the shares that it got.
    """
    rng = np.random.default_rng(_SEED)
    errors = iter(_unrelated([_errors(batch, each, draws, rng) for each in _sources(batch)]).T)
    off = np.empty((len(batch.lines), draws, len(batch.parts)))
    for at, line in enumerate(batch.lines):
        if line.by_spoon:
            grams = line.wanted_g * _factors(line.sd_g / line.wanted_g, next(errors))
        else:
            grams = np.maximum(line.wanted_g + batch.scale.sd_g * next(errors), 0.0)
        holds = _mixed(batch, at, errors, draws) if at in batch.premixes else batch.holds[at]
        off[at] = grams[:, None] * holds - line.wanted_g * batch.holds[at]
    return Drawn(batch.contents_g, off)


def _sources(batch: Batch) -> list[bool]:
    """Return for each source of error, in order, whether it is a spoon: lines, each before its pre-mix."""
    sources = []
    for at, line in enumerate(batch.lines):
        sources.append(line.by_spoon)
        sources += [False] * np.count_nonzero(batch.premixes.get(at, ()))
    return sources


def _errors(batch: Batch, by_spoon: bool, draws: int, rng: np.random.Generator) -> np.ndarray:
    return rng.standard_normal(draws) if by_spoon else batch.scale.errors(draws, rng)


def _unrelated(errors: list[np.ndarray]) -> np.ndarray:
    """Return errors with mean 0, variance 1 and no correlation in the sample, shape (draws, sources).

    So what is straight in the errors comes out exactly (moment matching; Glasserman 2003, Monte Carlo Methods
    in Financial Engineering, 4.5, from memory).
    """
    drawn = np.stack(errors, axis=1)
    drawn = drawn - drawn.mean(axis=0)
    root = np.linalg.cholesky(drawn.T @ drawn / len(drawn))
    return np.asarray(np.linalg.solve(root, drawn.T).T)


def _factors(sd: float, normal: np.ndarray) -> np.ndarray:
    """Return log-normal factors with mean 1 and a standard deviation."""
    variance = np.log1p(sd**2)
    return np.asarray(np.exp(np.sqrt(variance) * normal - variance / 2.0))


def _mixed(batch: Batch, at: int, errors: Iterator[np.ndarray], draws: int) -> np.ndarray:
    """Return draws of the shares that a pre-mix got when it was weighed, shape (draws, parts)."""
    wanted = batch.premixes[at]
    weighed = np.zeros((draws, len(wanted)))
    for part in np.flatnonzero(wanted):
        weighed[:, part] = np.maximum(wanted[part] + batch.scale.sd_g * next(errors), 0.0)
    return np.asarray(weighed / weighed.sum(axis=1, keepdims=True))


# ---- what is asked of contents, shape (..., parts) --------------------------------


def percent_of(contents: np.ndarray) -> np.ndarray:
    """Return mass % of each part, shape (..., parts)."""
    return np.asarray(100.0 * contents / contents.sum(axis=-1, keepdims=True))


def wax_share_of(contents: np.ndarray, batch: Batch) -> np.ndarray:
    """Return the share of wax among butter, oil and wax; nan without any, shape (...)."""
    base = contents[..., batch.among(*BASE_GROUPS)].sum(axis=-1)
    wax = contents[..., batch.among("wax")].sum(axis=-1)
    return np.divide(wax, base, out=np.full_like(base, np.nan), where=base > 0.0)


def load_of(contents: np.ndarray, batch: Batch) -> np.ndarray:
    """Return mass % of all pigments, shape (...)."""
    return np.asarray(percent_of(contents)[..., batch.among("pigment")].sum(axis=-1))


def blend_of(contents: np.ndarray, batch: Batch) -> np.ndarray:
    """Return the part of each pigment among the pigments, shape (..., pigments)."""
    pigments = contents[..., batch.among("pigment")]
    total = pigments.sum(axis=-1, keepdims=True)
    return np.divide(pigments, total, out=np.zeros_like(pigments), where=total > 0.0)
