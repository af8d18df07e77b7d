"""Colour and coverage as the load of pigment and the thickness of the film go up."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from labkit.colour.cie import delta_e00, hex_of_lab, lab_of, luminance
from labkit.errors import LabError
from labkit.shade.backing import BLACK_CARD, WHITE_CARD, reflectance_of
from labkit.shade.film_colour import check_film, drawn_coefficients, inside, one_film, readings
from labkit.shade.medium import USUAL, Medium
from labkit.shade.mixture import check_loads, coefficients, read_blend, read_parts
from labkit.shade.pigments import Pigments, default_pigments

BAND = (5, 95)
"""Percentiles of a 90 % band."""
ENOUGH = 0.01
"""A rise of the contrast ratio that the eye hardly sees, for one more % of pigment (judgement)."""


def contrast_ratio(
    blend: Mapping[str, float],
    film_um: float = 10.0,
    pigments: Pigments | None = None,
    medium: Medium | None = None,
) -> float:
    """Forecast the contrast ratio of a film: Y over the black card / Y over the white card of 0.80.

    Source of the ratio: ISO 6504-1 and ISO 6504-3, which are for light paints; for deep shades it is a
    convention.

    Raises
    ------
    LabError
        As `labkit.shade.predict` does.

    >>> contrast_ratio({}, film_um=10.0)
    0.0
    """
    names, loads = read_blend(blend)
    own, base = (pigments or default_pigments()).only(names), medium or USUAL
    below = np.stack([inside(reflectance_of(card), base) for card in (BLACK_CARD, WHITE_CARD)])
    K, S = coefficients(loads, own, base)
    return float(_ratio(_over(K, S, one_film(film_um), below, base)))


def sweep(
    blend: Mapping[str, float],
    loads: Iterable[float],
    films_um: Iterable[float],
    backings: Sequence[Any],
    pigments: Pigments | None = None,
    medium: Medium | None = None,
) -> pd.DataFrame:
    """Forecast colour and coverage for every load, film and backing.

    Parameters
    ----------
    blend
        The pigments and their ratio; what they add up to does not matter.
    loads
        Mass % of the finished product that the pigments are together.
    films_um
        Thicknesses of the film [µm].
    backings
        Each as `labkit.shade.predict` takes it; one that has no name is called "backing 1" and so on.
    pigments, medium
        As `labkit.shade.predict` takes them.

    Returns
    -------
    DataFrame
        A row for each load, film_um and backing, in that order: L, a, b, their standard deviations L_sd,
        a_sd, b_sd, hex; contrast_ratio (cards) with its 90 % band contrast_low, contrast_high; and
        show_through, the ΔE00 between the film over the lightest and over the darkest of ``backings``, with
        its 90 % band show_low, show_high.

    Raises
    ------
    LabError
        As `labkit.shade.predict` does, and where there is no pigment, load, film or backing.

    >>> told = sweep({"ultramarine": 1}, [1, 5], [10], ["black card", "white card"])
    >>> len(told), bool(told.contrast_ratio.is_monotonic_increasing)
    (4, True)
    """
    names, ratio = read_parts(blend)
    own, base = (pigments or default_pigments()).only(names), medium or USUAL
    amounts = check_loads(_each(loads, "load")[:, None] * ratio, own.names)
    films = check_film(_each(films_um, "film"))
    called = _names(backings)
    below = np.stack([inside(reflectance_of(each), base) for each in (*backings, BLACK_CARD, WHITE_CARD)])
    exact, drawn = coefficients(amounts, own, base), drawn_coefficients(amounts, own, base)
    blocks = []
    for film_um in films:
        reading, drawn_reading = (_over(*each, film_um, below, base) for each in (exact, drawn))
        blocks.append(_block(amounts.sum(-1), film_um, called, reading, drawn_reading))
    told = pd.concat(blocks, ignore_index=True)
    return told.sort_values(["load", "film_um"], kind="stable", ignore_index=True)


def _over(K: np.ndarray, S: np.ndarray, film_um: float, below: np.ndarray, medium: Medium) -> np.ndarray:
    """Return readings over each backing, shape (..., backings, 36), of K and S of shape (..., 36)."""
    return readings(K[..., None, :], S[..., None, :], film_um, below, medium)


def _block(
    loads: np.ndarray, film_um: float, called: Sequence[str], reading: np.ndarray, drawn: np.ndarray
) -> pd.DataFrame:
    """Return the rows of one film; ``reading`` (loads, backings and two cards, 36), ``drawn`` by draw."""
    lab, drawn_lab = lab_of(reading[:, :-2]), lab_of(drawn[:, :, :-2])
    sd = drawn_lab.std(0)
    low, high = np.percentile(_ratio(drawn), BAND, axis=0)
    show_low, show_high = np.percentile(_show_through(drawn_lab), BAND, axis=0)
    each = len(called)
    return pd.DataFrame(
        {
            "load": np.repeat(loads, each),
            "film_um": film_um,
            "backing": np.tile(np.array(called, dtype=object), len(loads)),
            **{name: lab[..., at].ravel() for at, name in enumerate("Lab")},
            **{f"{name}_sd": sd[..., at].ravel() for at, name in enumerate("Lab")},
            "hex": hex_of_lab(lab).ravel(),
            "contrast_ratio": np.repeat(_ratio(reading), each),
            "contrast_low": np.repeat(low, each),
            "contrast_high": np.repeat(high, each),
            "show_through": np.repeat(_show_through(lab), each),
            "show_low": np.repeat(show_low, each),
            "show_high": np.repeat(show_high, each),
        }
    )


def _ratio(reading: np.ndarray) -> np.ndarray:
    """Return Y over black / Y over white of readings whose last two backings are the cards."""
    y = luminance(reading[..., -2:, :])
    return y[..., 0] / y[..., 1]


def _show_through(lab: np.ndarray) -> np.ndarray:
    """Return ΔE00 between the lightest and the darkest backing, (..., backings, 3) to (...); NaN for one."""
    if lab.shape[-2] < 2:
        return np.full(lab.shape[:-2], np.nan)
    order = np.argsort(lab[..., 0], axis=-1)[..., None]
    dark, light = (np.take_along_axis(lab, order[..., end, :], -2)[..., 0, :] for end in ([0], [-1]))
    return np.asarray(delta_e00(light, dark))


def _each(values: Iterable[float], what: str) -> np.ndarray:
    try:
        listed = np.atleast_1d(np.asarray(list(values) if isinstance(values, Iterable) else values, float))
    except (TypeError, ValueError):
        raise LabError(f"the {what}s: {values!r} are no numbers. Give a list, such as [2, 5, 10].") from None
    if not listed.size:
        raise LabError(f"There is no {what}: give at least one.")
    return listed


def _names(backings: Sequence[Any]) -> list[str]:
    if isinstance(backings, str) or not len(backings):
        raise LabError('Give a list of backings, such as ["black card", "white card", "lip"].')
    return [each if isinstance(each, str) else f"backing {at}" for at, each in enumerate(backings, 1)]


@dataclass(frozen=True)
class Enough:
    """The load [mass %] from which more pigment hardly covers more, and its 90 % band.

    Infinite where even the highest load that was looked at still gains more.
    """

    load: float
    low: float
    high: float


def enough_load(
    blend: Mapping[str, float],
    loads: Iterable[float],
    film_um: float = 10.0,
    pigments: Pigments | None = None,
    medium: Medium | None = None,
) -> Enough:
    """Return the load from which one more % raises the contrast ratio by less than `ENOUGH`.

    Parameters and what is raised: as in `sweep`, for one film.

    >>> found = enough_load({"black iron oxide": 1}, range(1, 31))
    >>> found.low <= found.load <= found.high
    True
    """
    names, ratio = read_parts(blend)
    own, base = (pigments or default_pigments()).only(names), medium or USUAL
    steps = np.unique(_each(loads, "load"))
    if steps.size < 2:
        raise LabError("One load tells nothing of what more pigment does: give several.")
    amounts = check_loads(steps[:, None] * ratio, own.names)
    below = np.stack([inside(reflectance_of(card), base) for card in (BLACK_CARD, WHITE_CARD)])
    film = one_film(film_um)
    curves = [
        _ratio(_over(*each, film, below, base))
        for each in (coefficients(amounts, own, base), drawn_coefficients(amounts, own, base))
    ]
    low, high = np.percentile(enough(steps, curves[1]), BAND, axis=0, method="nearest")
    return Enough(float(enough(steps, curves[0])), float(low), float(high))


def enough(loads: np.ndarray, contrast_ratio: np.ndarray) -> np.ndarray:
    """Return where curves of contrast ratio, shape (..., loads), rise by less than `ENOUGH` a further %.

    >>> float(enough(np.array([1.0, 2, 3, 4]), np.array([0.5, 0.7, 0.705, 0.706])))
    2.0
    """
    gaining = np.diff(contrast_ratio) / np.diff(loads) >= ENOUGH
    last = gaining.shape[-1] - np.argmax(gaining[..., ::-1], axis=-1)
    return np.asarray(np.append(loads[:-1], np.inf)[np.where(gaining.any(-1), last, 0)])
