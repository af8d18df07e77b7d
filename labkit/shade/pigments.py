"""What a film's colour is computed from: each pigment's absorption and scattering, and how sure they are."""

import csv
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import cache
from importlib.resources import files

import numpy as np

from labkit.colour.cie import WAVELENGTHS
from labkit.errors import LabError, did_you_mean

NOT_FORECAST = (
    "“{name}” is not forecast: pearls, interference mica and staining dyes lie outside the theory of pigment "
    "films. Leave it out of the blend, and judge it by eye on a swatch."
)
_UNFORECAST = re.compile(r"\b(pearl\w*|interference|iridescent|shimmer\w*|glitter\w*)\b", re.IGNORECASE)
_KEPT = 0.995
"""Share of the variance of a pigment's spectral deviations that its modes keep."""


@dataclass(frozen=True)
class Pigments:
    """Optics of p pigments on `WAVELENGTHS`, and the directions in which they are not known.

    The natural logarithms of k and s are a Gaussian: their mean, and one standard deviation along each of
    m independent modes.

    Attributes
    ----------
    names
        The p names.
    density_g_ml
        Densities, shape (p,).
    log_ks
        Logarithms of absorption and scattering per unit volume fraction [1/µm], shape (p, 2, 36).
    modes
        Deviations of ``log_ks``, one standard deviation each, shape (m, p, 2, 36).
    basis
        For each pigment what its optics rest on: "published optical constants", "published bands",
        "estimate" or "your swatches".
    """

    names: tuple[str, ...]
    density_g_ml: np.ndarray
    log_ks: np.ndarray
    modes: np.ndarray
    basis: tuple[str, ...]

    def __iter__(self) -> Iterator[str]:
        return iter(self.names)

    def __len__(self) -> int:
        return len(self.names)

    @property
    def k(self) -> np.ndarray:
        """Absorption per unit volume fraction [1/µm], shape (p, 36)."""
        return np.exp(self.log_ks[:, 0])

    @property
    def s(self) -> np.ndarray:
        """Scattering per unit volume fraction [1/µm], shape (p, 36)."""
        return np.exp(self.log_ks[:, 1])

    def only(self, names: Sequence[str]) -> "Pigments":
        """Return these pigments alone, in this order.

        Raises
        ------
        LabError
            Where a name is not known, is no pigment of this theory, or comes twice.

        >>> default_pigments().only(["ultramarine"]).names
        ('ultramarine',)
        """
        at = [self.names.index(self.resolve(name)) for name in names]
        if len(set(at)) < len(at):
            twice = next(names[i] for i, each in enumerate(at) if each in at[:i])
            raise LabError(f"“{twice}” stands there twice; put its mass % into one line.")
        modes = self.modes[:, at]
        return replace(
            self,
            names=tuple(self.names[i] for i in at),
            density_g_ml=self.density_g_ml[at],
            log_ks=self.log_ks[at],
            modes=modes[np.abs(modes).max((1, 2, 3), initial=0) > 0],
            basis=tuple(self.basis[i] for i in at),
        )

    def resolve(self, name: str) -> str:
        """Return the name under which a pigment stands here: by its name, CI number or CAS."""
        folded = str(name).strip().casefold()
        for known in self.names:
            if known.casefold() == folded:
                return known
        return _by_register(str(name), self.names)

    def draws(self, n: int, seed: int = 0) -> tuple[np.ndarray, np.ndarray]:
        """Return n draws of k and s, shapes (n, p, 36); with n even their mean logarithm is exact."""
        half = np.random.default_rng(seed).standard_normal(((n + 1) // 2, len(self.modes)))
        along = np.concatenate([half, -half])[:n]
        logs = self.log_ks + np.tensordot(along, self.modes, 1)
        return np.exp(logs[:, :, 0]), np.exp(logs[:, :, 1])


def known_names(amounts: Mapping[str, float]) -> dict[str, float]:
    """Return amounts under the names that pigments have here; a name that is none of them stays.

    A book may hold pigments that labkit does not forecast any more.

    Raises
    ------
    LabError
        Where one pigment stands there under two names.

    >>> known_names({"CI 77491": 3.0, "moon dust": 1.0})
    {'red iron oxide': 3.0, 'moon dust': 1.0}
    """
    named: dict[str, float] = {}
    for given, amount in amounts.items():
        name = given
        with suppress(LabError):
            name = default_pigments().resolve(given)
        if name in named:
            raise LabError(f"“{name}” stands there twice; put it into one line.")
        named[name] = amount
    return named


def _by_register(name: str, known: Iterable[str]) -> str:
    from labkit.materials import find

    if _UNFORECAST.search(name):
        raise LabError(NOT_FORECAST.format(name=name))
    try:
        found = find(name)
    except LabError as error:
        near = did_you_mean(name, known)
        cure = near if near.startswith("Did you mean") else f"{near} {error}"
        raise LabError(f"“{name}” is no pigment that labkit can forecast. {cure}") from None
    if same := next((each for each in known if find(each).name == found.name), None):
        return same
    if found.kind in ("pearl", "dye"):
        raise LabError(NOT_FORECAST.format(name=found.name))
    raise LabError(f"“{found.name}” has no optics here yet. {did_you_mean(found.name, known)}")


@cache
def default_pigments() -> Pigments:
    """Return the optics that labkit starts from; `sources` says what each rests on.

    >>> "red iron oxide" in default_pigments().names
    True
    """
    rows = _rows("pigments.csv")
    spectra = _spectra()
    names = tuple(row["pigment"] for row in rows)
    return Pigments(
        names=names,
        density_g_ml=np.array([float(row["density_g_ml"]) for row in rows]),
        log_ks=np.log(np.stack([spectra[name] for name in names])),
        modes=_modes(rows),
        basis=tuple(row["basis"] for row in rows),
    )


def sources() -> dict[str, str]:
    """Return for each pigment what its default optics rest on."""
    return {row["pigment"]: row["source"] for row in _rows("pigments.csv")}


_EDGE = 0.5 ** np.arange(WAVELENGTHS.size)
"""What a mode's sign is told by: even and odd ones alike have something at the edge of the spectrum."""


def _rows(table: str) -> list[dict[str, str]]:
    with (files("labkit.shade") / table).open(encoding="utf-8") as lines:
        return list(csv.DictReader(lines))


def _spectra() -> dict[str, np.ndarray]:
    spectra: dict[str, np.ndarray] = {}
    for row in _rows("pigment_spectra.csv"):
        at = int(np.searchsorted(WAVELENGTHS, float(row["nm"])))
        both = spectra.setdefault(row["pigment"], np.full((2, WAVELENGTHS.size), np.nan))
        both[:, at] = float(row["k_per_um"]), float(row["s_per_um"])
    return spectra


def _modes(rows: list[dict[str, str]]) -> np.ndarray:
    blocks = []
    for at, row in enumerate(rows):
        for which, letter in enumerate("ks"):
            level, shape = float(row[f"{letter}_sd"]), float(row[f"{letter}_shape_sd"])
            along = spectral_modes(level, shape, float(row["shape_nm"]))
            block = np.zeros((len(along), len(rows), 2, WAVELENGTHS.size))
            block[:, at, which] = along
            blocks.append(block)
    return np.concatenate(blocks)


def spectral_modes(level_sd: float, shape_sd: float, shape_nm: float) -> np.ndarray:
    """Return the independent ways in which a spectrum's logarithm is not known, shape (modes, 36).

    A level that moves as a whole, and smooth deviations with a squared-exponential correlation.

    Parameters
    ----------
    level_sd, shape_sd
        Standard deviations of the logarithm.
    shape_nm
        Correlation length of the deviations [nm].

    >>> modes = spectral_modes(0.3, 0.0, 60.0)
    >>> modes.shape, float(round(modes[0, 0], 2))
    ((1, 36), 0.3)
    """
    apart = (WAVELENGTHS[:, None] - WAVELENGTHS) / shape_nm
    covariance = level_sd**2 + shape_sd**2 * np.exp(-(apart**2) / 2)
    variance, along = np.linalg.eigh(covariance)
    order = np.argsort(variance)[::-1]
    kept = int(np.searchsorted(np.cumsum(variance[order]) / variance.sum(), _KEPT)) + 1
    modes = (along[:, order[:kept]] * np.sqrt(variance[order[:kept]])).T
    return modes * np.sign(modes @ _EDGE)[:, None]
