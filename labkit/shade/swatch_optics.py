"""What swatches would read, and how each reading answers to what is not known of the pigments."""

from dataclasses import dataclass
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
_RELATIVE, _ABSOLUTE = 0.03, 0.004
"""Standard deviation of a spectral reading, theory and instrument: a share of it, and a floor."""
_COMMON, _SMOOTH, _SMOOTH_NM = 0.3, 0.6, 40.0
"""How much of that variance is one for the whole spectrum, and how much is smooth over so many nm."""
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
        """CIELAB as read or of the spectrum as read, whose ends count on beyond them, shape (n, 3)."""
        lab = self.swatches.lab.copy()
        for i in np.flatnonzero(self.swatches.spectral):
            read = np.isfinite(self.swatches.reflectance[i])
            lab[i] = lab_of(np.interp(WAVELENGTHS, WAVELENGTHS[read], self.swatches.reflectance[i, read]))
        return lab

    @cached_property
    def facts(self) -> np.ndarray:
        """How many numbers were read of each swatch, shape (n,)."""
        return np.where(self.swatches.spectral, np.isfinite(self.swatches.reflectance).sum(1), 3)


def spectral_scale(reflectance: np.ndarray) -> np.ndarray:
    """Return the inverse Cholesky factor of a spectrum's covariance, shape (36, 36), 0 where not read."""
    read = np.flatnonzero(np.isfinite(reflectance))
    apart = (WAVELENGTHS[read, None] - WAVELENGTHS[read]) / _SMOOTH_NM
    correlation = _COMMON + _SMOOTH * np.exp(-(apart**2) / 2) + (1 - _COMMON - _SMOOTH) * np.eye(read.size)
    sd = np.hypot(_ABSOLUTE, _RELATIVE * reflectance[read])
    scale = np.zeros((WAVELENGTHS.size, WAVELENGTHS.size))
    scale[np.ix_(read, read)] = np.linalg.inv(np.linalg.cholesky(correlation * np.outer(sd, sd)))
    return scale


def lab_by_reflectance(reflectance: np.ndarray) -> np.ndarray:
    """Return the derivative of CIELAB by reflectance, shape (n, 36, 36), 0 below the third row."""
    ratio = reflectance @ weights() / white()
    slope = np.where(ratio > 216 / 24389, np.cbrt(np.maximum(ratio, 1e-9)) ** -2 / 3, 24389 / 27 / 116)
    of_root = np.array([[0, 116, 0], [500, -500, 0], [0, 200, -200]])
    derivative = np.zeros((*reflectance.shape, WAVELENGTHS.size))
    derivative[:, :3] = of_root * (slope / white())[:, None] @ weights().T
    return derivative
