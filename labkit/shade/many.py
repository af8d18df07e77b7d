"""The colours of a great many blends at once."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from labkit.colour.cie import lab_of_xyz, weights
from labkit.errors import LabError
from labkit.shade.backing import reflectance_of
from labkit.shade.film_colour import inside, one_film
from labkit.shade.medium import USUAL, Medium
from labkit.shade.mixture import check_loads, volume_fractions
from labkit.shade.optics import CLEAR
from labkit.shade.pigments import Pigments, default_pigments

_TOGETHER = 500
"""Blends that are computed at a time: their spectra stay in the processor's cache."""


def predict_many(
    loads: Any,
    names: Sequence[str],
    film_um: float = 10.0,
    backing: Any = "lip",
    pigments: Pigments | None = None,
    medium: Medium | None = None,
) -> np.ndarray:
    """Forecast CIELAB of many blends, shape (n, 3), from mass % of shape (n, p).

    Parameters
    ----------
    loads
        Mass % of the finished product: a row for each blend, a column for each of ``names``.
    film_um, backing, pigments, medium
        As `labkit.shade.predict` takes them; one film and one backing for all.

    Raises
    ------
    LabError
        As `labkit.shade.predict` does; it says in which row.

    >>> predict_many([[0.0], [0.0]], ["ultramarine"], backing=[52, 21, 13]).round(6)
    array([[52., 21., 13.],
           [52., 21., 13.]])
    """
    own = (pigments or default_pigments()).only(names)
    loads = check_loads(_rows(_in_order(loads, names)), own.names)
    base = medium or USUAL
    films = prepare(own, one_film(film_um), reflectance_of(backing), base)
    return films.lab(volume_fractions(loads, own.density_g_ml, base))


def _in_order(loads: Any, names: Sequence[str]) -> Any:
    """Return a table's columns in the order of ``names`` where it has them all; anything else as it is."""
    has = set(getattr(loads, "columns", ()))
    return loads[list(names)] if has and has == set(names) else loads


def _rows(loads: Any) -> np.ndarray:
    try:
        rows = np.atleast_2d(np.asarray(loads, float))
    except (TypeError, ValueError):
        raise LabError("the loads: not all are numbers. Give mass %, a row for each blend.") from None
    if rows.ndim > 2:
        raise LabError(
            f"the loads have shape {rows.shape}; give a row for each blend, a column for each pigment."
        )
    return rows


@dataclass(frozen=True)
class Films:
    """Films of one thickness over one backing: all that does not depend on the blend.

    With t = tanh(γX), the reading is c(γR_g + t·A) / (γ(1 − k2·R_g) + t·B), where γ² = K(K + 2S) and, since
    K and S are sums over the pigments, so are A = S(1 − R_g) − K·R_g and
    B = K(1 + k2·R_g) + S(1 − R_g)(1 − k2): it is `optics.film` and `optics.saunderson` in one fraction.
    """

    thickness: float
    absorbed: np.ndarray
    widened: np.ndarray
    above: np.ndarray
    below: np.ndarray
    backing: np.ndarray
    surface: np.ndarray
    to_xyz: np.ndarray

    def lab(self, fractions: np.ndarray) -> np.ndarray:
        """Return CIELAB, shape (n, 3), of volume fractions of shape (n, p)."""
        xyz = np.empty((len(fractions), 3))
        for start in range(0, len(fractions), _TOGETHER):
            some = slice(start, start + _TOGETHER)
            np.matmul(self._readings(fractions[some]), self.to_xyz, out=xyz[some])
        return lab_of_xyz(xyz)

    def _readings(self, fractions: np.ndarray) -> np.ndarray:
        gamma = fractions @ self.absorbed
        gamma *= fractions @ self.widened
        np.sqrt(gamma, out=gamma)
        np.maximum(gamma, CLEAR, out=gamma)
        t = gamma * self.thickness
        np.tanh(t, out=t)
        read = fractions @ self.above
        read *= t
        read += gamma * self.backing
        share = fractions @ self.below
        share *= t
        gamma *= self.surface
        share += gamma
        read /= share
        return read


def prepare(pigments: Pigments, film_um: float, backing: np.ndarray, medium: Medium) -> Films:
    """Return `Films` of these pigments over a backing whose reflectance was measured in air."""
    R_g = inside(backing, medium)
    k, s, k2 = pigments.k, pigments.s, medium.k2
    return Films(
        thickness=film_um,
        absorbed=k,
        widened=k + 2 * s,
        above=s * (1 - R_g) - k * R_g,
        below=k * (1 + k2 * R_g) + s * (1 - R_g) * (1 - k2),
        backing=R_g,
        surface=1 - k2 * R_g,
        to_xyz=(1 - medium.k1) * (1 - k2) * weights(),
    )
