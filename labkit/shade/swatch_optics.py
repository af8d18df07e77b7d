"""What swatches would read, and how each reading answers to what is not known of the pigments."""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from labkit.colour.cie import WAVELENGTHS, lab_of, lab_of_xyz, weights, white
from labkit.shade.film_colour import inside, readings
from labkit.shade.medium import Medium
from labkit.shade.mixture import volume_fractions
from labkit.shade.pigments import Pigments
from labkit.shade.swatches import Swatches

THEORY_SD = 0.3
"""What the theory of two fluxes itself adds to each of L*, a*, b*, as a standard deviation."""
_SHARED, _OWN = (0.001, 0.01), (0.002, 0.005)
"""Errors of a spectral reading, theory and instrument: a floor, and a share of the reading. The first is of
the whole spectrum or smooth, the second each wavelength's own."""
_COMMON, _SMOOTH_NM = 1 / 3, 40.0
"""How much of the shared variance is one for the whole spectrum; the rest is smooth over so many nm."""
_STEP = 1e-4


@dataclass(frozen=True)
class Answers:
    """Readings less their forecasts and their derivatives, in standard deviations of the readings.

    Attributes
    ----------
    missed
        Forecast less reading, shape (n, 36): three for a colour, one for a wavelength, 0 beyond.
    by_mode
        Its derivative by the weight of each mode, shape (n, 36, m).
    by_film
        Its derivative by the film's thickness, in standard deviations of that, shape (n, 36).
    """

    missed: np.ndarray
    by_mode: np.ndarray
    by_film: np.ndarray


@dataclass(frozen=True)
class SwatchOptics:
    """Swatches, and the pigments that they are made of."""

    swatches: Swatches
    pigments: Pigments
    medium: Medium

    @cached_property
    def fractions(self) -> np.ndarray:
        """Volume fractions, shape (n, p)."""
        return volume_fractions(self.swatches.loads, self.pigments.density_g_ml, self.medium)

    @cached_property
    def below(self) -> np.ndarray:
        """Reflectance of the backings as the base sees them, shape (n, 36)."""
        return inside(self.swatches.backing, self.medium)

    def reflectance(self, K: np.ndarray, S: np.ndarray, film_um: np.ndarray) -> np.ndarray:
        """Return the readings, shape (n, 36)."""
        return readings(K, S, film_um[:, None], self.below, self.medium)

    def forecast(self, films: np.ndarray, weights_of_modes: np.ndarray | None = None) -> np.ndarray:
        """Return the forecast CIELAB, shape (n, 3), where films deviate by so many sd (n,)."""
        at = np.zeros(len(self.pigments.modes)) if weights_of_modes is None else weights_of_modes
        K, S = self._each(at).sum(1).transpose(1, 0, 2)
        return lab_of(self.reflectance(K, S, self._film_um(films)))

    def answers(self, weights_of_modes: np.ndarray, films: np.ndarray) -> Answers:
        """Return the `Answers` where modes have these weights (m,) and films deviate by so many sd (n,)."""
        each = self._each(weights_of_modes)
        K, S = each.sum(1).transpose(1, 0, 2)
        X = self._film_um(films)
        R = self.reflectance(K, S, X)
        up, down = np.exp(_STEP), np.exp(-_STEP)
        by_log = np.stack([
            self.reflectance(K * up, S, X) - self.reflectance(K * down, S, X),
            self.reflectance(K, S * up, X) - self.reflectance(K, S * down, X),
        ], axis=1) / (2 * _STEP)  # fmt: skip
        by_film = (self.reflectance(K, S, X * up) - self.reflectance(K, S, X * down)) / (2 * _STEP)
        total = np.stack([K, S], axis=1)[:, None]
        share = np.divide(each, total, out=np.zeros_like(each), where=total > 0) * by_log[:, None]
        by_mode = np.einsum("npcw,mpcw->nwm", share, self.pigments.modes, optimize=True)
        return self._in_sd(R, by_mode, by_film * self.swatches.film_sd[:, None])

    def _each(self, weights_of_modes: np.ndarray) -> np.ndarray:
        """Return what each pigment gives to K and S, shape (n, p, 2, 36)."""
        logs = self.pigments.log_ks + np.tensordot(weights_of_modes, self.pigments.modes, 1)
        return self.fractions[:, :, None, None] * np.exp(logs)

    def _film_um(self, films: np.ndarray) -> np.ndarray:
        return self.swatches.film_um * np.exp(self.swatches.film_sd * films)

    def _in_sd(self, R: np.ndarray, by_mode: np.ndarray, by_film: np.ndarray) -> Answers:
        spectral = self.swatches.spectral
        missed = np.where(spectral[:, None], R - np.nan_to_num(self.swatches.reflectance), 0.0)
        missed[~spectral, :3] = lab_of_xyz(R[~spectral] @ weights()) - self.swatches.lab[~spectral]
        scale = self.scale.copy()
        scale[~spectral] = scale[~spectral] @ lab_by_reflectance(R[~spectral])
        return Answers(
            missed=np.einsum("nqw,nw->nq", self.scale, missed),
            by_mode=scale @ by_mode,
            by_film=np.einsum("nqw,nw->nq", scale, by_film),
        )

    @cached_property
    def scale(self) -> np.ndarray:
        """What turns each swatch's error into independent standard deviations, shape (n, 36, 36)."""
        scale = np.zeros((len(self.swatches), WAVELENGTHS.size, WAVELENGTHS.size))
        for i, spectral in enumerate(self.swatches.spectral):
            if spectral:
                scale[i] = spectral_scale(self.swatches.reflectance[i])
            else:
                scale[i, range(3), range(3)] = 1 / self.lab_sd[i]
        return scale

    @cached_property
    def lab_sd(self) -> np.ndarray:
        """Standard deviations of readings of CIELAB, theory and reading, shape (n, 3)."""
        return np.hypot(self.swatches.lab_sd, THEORY_SD)

    @cached_property
    def lab_read(self) -> np.ndarray:
        """CIELAB as read or of the spectrum as read, shape (n, 3)."""
        lab, spectral = self.swatches.lab.copy(), self.swatches.spectral
        lab[spectral] = lab_of(filled(self.swatches.reflectance[spectral]))
        return lab

    def as_colours(self) -> "SwatchOptics":
        """Return the same with the colour of each spectrum, and its error, in its place."""
        read = self.swatches
        sd = read.lab_sd.copy()
        for i in np.flatnonzero(read.spectral):
            whole = filled(read.reflectance[i : i + 1])
            by_wavelength = lab_by_reflectance(whole)[0, :3]
            sd[i] = np.sqrt(
                sd[i] ** 2 + np.diag(by_wavelength @ spectral_covariance(whole[0]) @ by_wavelength.T)
            )
        unread = np.full_like(read.reflectance, np.nan)
        return replace(self, swatches=replace(read, lab=self.lab_read, lab_sd=sd, reflectance=unread))


def filled(reflectance: np.ndarray) -> np.ndarray:
    """Return reflectances whose ends count on to where nothing was read, shape (n, 36)."""
    rows = []
    for row in reflectance:
        read = np.isfinite(row)
        rows.append(np.interp(WAVELENGTHS, WAVELENGTHS[read], row[read]))
    return np.reshape(rows, reflectance.shape)


def spectral_covariance(reflectance: np.ndarray) -> np.ndarray:
    """Return the covariance of the errors of a spectral reading, shape (36, 36)."""
    apart = (WAVELENGTHS[:, None] - WAVELENGTHS) / _SMOOTH_NM
    correlation = _COMMON + (1 - _COMMON) * np.exp(-(apart**2) / 2)
    shared, own = (np.hypot(floor, share * reflectance) for floor, share in (_SHARED, _OWN))
    return correlation * np.outer(shared, shared) + np.diag(own**2)


def spectral_scale(reflectance: np.ndarray) -> np.ndarray:
    """Return the inverse Cholesky factor of a spectrum's covariance, shape (36, 36), 0 where not read."""
    read = np.isfinite(reflectance)
    scale = np.zeros((WAVELENGTHS.size, WAVELENGTHS.size))
    covariance = spectral_covariance(reflectance)[np.ix_(read, read)]
    scale[np.ix_(read, read)] = np.linalg.inv(np.linalg.cholesky(covariance))
    return scale


def lab_by_reflectance(reflectance: np.ndarray) -> np.ndarray:
    """Return the derivative of CIELAB by reflectance, shape (n, 36, 36), 0 below the third row."""
    ratio = reflectance @ weights() / white()
    slope = np.where(ratio > 216 / 24389, np.cbrt(np.maximum(ratio, 1e-9)) ** -2 / 3, 24389 / 27 / 116)
    of_root = np.array([[0, 116, 0], [500, -500, 0], [0, 200, -200]])
    derivative = np.zeros((*reflectance.shape, WAVELENGTHS.size))
    derivative[:, :3] = of_root * (slope / white())[:, None] @ weights().T
    return derivative
