"""The most likely pigments behind swatches, what is left uncertain, and which swatch does not fit."""

from dataclasses import dataclass

import numpy as np

from labkit.shade.swatch_optics import Answers, SwatchOptics

_STEPS = 60
_ROUNDS = 40
_SETTLED = 1e-3
_SHARES = 0.5 ** np.arange(10)
_WILD = 0.001
"""Chance with which a swatch that is right lies so far off that it counts less."""
_DOUBT = 4
"""Power with which a swatch counts less the farther off it lies."""


@dataclass(frozen=True)
class Fit:
    """What swatches say of the weights of m modes.

    Attributes
    ----------
    mean, covariance
        Of the weights, shapes (m,) and (m, m).
    believed
        How far each swatch is believed, 0 to 1, shape (n,).
    off
        How far each lies from what the others and the start lead one to expect: 1 is as far as one swatch in
        a thousand lies by chance, shape (n,).
    """

    mean: np.ndarray
    covariance: np.ndarray
    believed: np.ndarray
    off: np.ndarray


def fit(optics: SwatchOptics) -> Fit:
    """Return the `Fit` of swatches: Gauss–Newton to the most likely weights, and Laplace's covariance there.

    The weights start as independent standard normals, each film's thickness is one more unknown. A swatch
    that lies too far from what all others and the start lead one to expect is believed less, in rounds.
    """
    at = np.zeros(len(optics.pigments.modes))
    films = np.zeros(len(optics.swatches))
    believed, colours = np.ones(len(optics.swatches)), optics.as_colours()
    for _ in range(_ROUNDS):
        at, films = most_likely(optics, believed, at, films)
        seen = without_films(optics.answers(at, films), films)
        covariance = np.linalg.inv(information(seen, believed))
        colour = without_films(colours.answers(at, films), films)
        off = surprise(seen, colour, covariance, believed)
        wanted = np.minimum(1.0, 1 / np.maximum(off, 1e-9)) ** _DOUBT
        if np.abs(wanted - believed).max() < _SETTLED:
            break
        believed = np.sqrt(believed * wanted)
    return Fit(at, covariance, believed, off)


def most_likely(
    optics: SwatchOptics, believed: np.ndarray, at: np.ndarray, films: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Return the most likely weights of the modes and deviations of the films, from a first guess."""
    here = _stand(optics, believed, at, films)
    for _ in range(_STEPS):
        step, film_step = newton_step(here.seen, believed, here.at, here.films)
        ways = (
            _stand(optics, believed, here.at + share * step, here.films + share * film_step)
            for share in _SHARES
        )
        better = next((way for way in ways if way.worth <= here.worth), here)
        gained, here = here.worth - better.worth, better
        if gained < _SETTLED**3 * (1 + here.worth):
            break
    return here.at, here.films


@dataclass(frozen=True)
class _Place:
    at: np.ndarray
    films: np.ndarray
    seen: Answers
    worth: float


def _stand(optics: SwatchOptics, believed: np.ndarray, at: np.ndarray, films: np.ndarray) -> _Place:
    seen = optics.answers(at, films)
    return _Place(at, films, seen, misfit(seen, believed, at, films))


def misfit(seen: Answers, believed: np.ndarray, at: np.ndarray, films: np.ndarray) -> float:
    """Return twice the negative logarithm of the posterior density, less a constant."""
    return float(at @ at + believed @ (films**2 + (seen.missed**2).sum(1)))


def without_films(seen: Answers, films: np.ndarray) -> Answers:
    """Return the answers with the films' errors taken into the readings' errors, again of unit covariance."""
    g = seen.by_film
    square = (g**2).sum(1)
    shrink = np.divide(1 - 1 / np.sqrt(1 + square), square, out=np.zeros_like(square), where=square > 0)
    missed = seen.missed - g * films[:, None]
    return Answers(
        missed=missed - g * (shrink * (g * missed).sum(1))[:, None],
        by_mode=seen.by_mode
        - g[:, :, None] * (shrink[:, None] * np.einsum("nq,nqm->nm", g, seen.by_mode))[:, None],
        by_film=np.zeros_like(g),
    )


def information(seen: Answers, believed: np.ndarray) -> np.ndarray:
    """Return the inverse covariance of the weights, shape (m, m)."""
    rows = seen.by_mode.shape[0] * seen.by_mode.shape[1]
    flat = (np.sqrt(believed)[:, None, None] * seen.by_mode).reshape(rows, -1)
    return np.eye(flat.shape[1]) + flat.T @ flat


def newton_step(
    seen: Answers, believed: np.ndarray, at: np.ndarray, films: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Return the step of weights and films to where the misfit, taken as quadratic, is least."""
    free = without_films(seen, films)
    slope = at + np.einsum("n,nqm,nq->m", believed, free.by_mode, free.missed, optimize=True)
    step = -np.linalg.solve(information(free, believed), slope)
    g = seen.by_film
    left = seen.missed - g * films[:, None] + seen.by_mode @ step
    return step, -(g * left).sum(1) / (1 + (g**2).sum(1)) - films


def surprise(seen: Answers, colour: Answers, covariance: np.ndarray, believed: np.ndarray) -> np.ndarray:
    """Return how far each swatch's colour lies from its forecast by all others, as `Fit` has it in ``off``.

    A spectrum is judged by its colour too: 36 readings that scatter a little more than is usual are not
    wild. With H = J C Jᵀ and A = J_c C Jᵀ of a swatch that counts w (J of what was read, J_c of its
    colour), the forecast without it misses by r_c + wA(1 − wH)⁻¹r, and the covariance of that miss is
    1 + J_c C J_cᵀ + wA(1 − wH)⁻¹Aᵀ.
    """
    from scipy.special import chdtri

    J, J_c = seen.by_mode, colour.by_mode[:, :3]
    H, A, own = (
        left @ covariance @ right.transpose(0, 2, 1) for left, right in ((J, J), (J_c, J), (J_c, J_c))
    )
    w = believed[:, None, None]
    back = w * np.linalg.solve(np.eye(H.shape[1]) - w * H, A.transpose(0, 2, 1)).transpose(0, 2, 1)
    miss = colour.missed[:, :3, None] + back @ seen.missed[:, :, None]
    spread = np.eye(3) + own + back @ A.transpose(0, 2, 1)
    squared = (miss * np.linalg.solve(spread, miss)).sum((1, 2))
    return squared / chdtri(3, _WILD)
