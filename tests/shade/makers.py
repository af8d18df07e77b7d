"""Makers whose pigments are known to nobody but the test. Everything here is invented."""

from dataclasses import replace

import numpy as np
import pandas as pd

from labkit.colour.cie import WAVELENGTHS, delta_e00, lab_of
from labkit.shade.backing import reflectance_of
from labkit.shade.film_colour import predict
from labkit.shade.medium import USUAL
from labkit.shade.mixture import coefficients
from labkit.shade.pigments import default_pigments
from tests.shade.adding_doubling import read_film

RED, YELLOW, BLACK, WHITE = "red iron oxide", "yellow iron oxide", "black iron oxide", "titanium dioxide"
OXIDES = (RED, YELLOW, BLACK, WHITE)
NINETY = 1.645


def table(rows):
    """Return swatches as `calibrate` takes them, from (blend, film_um, backing, lab)."""
    names = sorted({name for blend, *_ in rows for name in blend})
    return pd.DataFrame(
        {**dict.fromkeys(names, 0.0), **blend, "film_um": film_um, "backing": backing}
        | dict(zip("Lab", lab, strict=True))
        for blend, film_um, backing, lab in rows
    )


def spectra(films, pigments):
    """Return a table of the reflectances that these pigments have, from (blend, film_um, backing)."""
    names = sorted({name for blend, *_ in films for name in blend})
    return pd.DataFrame(
        {**dict.fromkeys(names, 0.0), **blend, "film_um": film_um, "backing": backing}
        | dict(zip(WAVELENGTHS.tolist(), predict(blend, film_um, backing, pigments).reflectance, strict=True))
        for blend, film_um, backing in films
    )


def seen(pigments, blend, film_um, backing):
    return predict(blend, film_um, backing, pigments).lab


def drawn_maker(seed, start=None):
    """Return pigments that differ from the start as much as its own uncertainty says."""
    start = start or default_pigments()
    k, s = start.draws(1, seed=seed)
    return replace(start, log_ks=np.log(np.stack([k[0], s[0]], axis=1)))


def random_films(rng, count, names=OXIDES):
    """Return (blend, film_um, backing) of one to three pigments."""
    films = []
    for _ in range(count):
        chosen = rng.choice(names, rng.integers(1, 4), replace=False)
        blend = dict(zip(chosen.tolist(), rng.uniform(0.5, 8.0, chosen.size), strict=True))
        backing = rng.choice(["black card", "white card", "lip", "skin light"])
        films.append((blend, float(rng.choice([5.0, 10.0, 20.0, 40.0])), str(backing)))
    return films


def noisy(rng, pigments, films, noise=0.5, film_error=0.0):
    """Return (blend, film_um, backing, lab) as this maker reads them; films are not quite as weighed."""
    errors = np.exp(film_error * rng.standard_normal(len(films)))
    return [
        (
            blend,
            film_um,
            backing,
            seen(pigments, blend, film_um * error, backing) + noise * rng.standard_normal(3),
        )
        for (blend, film_um, backing), error in zip(films, errors, strict=True)
    ]


def held(pigments, rows, noise=0.5):
    """Return for each reading of L*, a*, b* whether the 90 % band holds it, shape (rows, 3)."""
    within = []
    for blend, film_um, backing, lab in rows:
        forecast = predict(blend, film_um, backing, pigments)
        within.append(np.abs(forecast.lab - lab) <= NINETY * np.hypot(forecast.lab_sd, noise))
    return np.array(within)


class TransportMaker:
    """A maker whose films obey adding–doubling, of pigments with other strengths and with shifted edges."""

    def __init__(self, seed, names=OXIDES, g=0.0):
        self.rng = np.random.default_rng(seed)
        own = default_pigments().only(names)
        shifts, strengths = self.rng.normal(0, 10, len(own)), self.rng.normal(0, 0.35, (len(own), 2, 1))
        shifted = [
            [np.interp(WAVELENGTHS - shift, WAVELENGTHS, each) for each in logs]
            for shift, logs in zip(shifts, own.log_ks, strict=True)
        ]
        self.pigments, self.g = replace(own, log_ks=np.array(shifted) + strengths), g

    def lab(self, blend, film_um, backing):
        own = self.pigments.only(list(blend))
        K, S = coefficients(np.array(list(blend.values())), own, USUAL)
        return lab_of(read_film(K, S, film_um, reflectance_of(backing), g=self.g))

    def masstones_and_tints(self, noise=0.5, tint_um=25.0, tint_on="white card"):
        """Return one masstone and one tint a pigment, white a film over black; the noise is a ΔE."""
        films = [({WHITE: 8.0}, 25.0, "black card")]
        for name in self.pigments.names:
            if name != WHITE:
                films += [({name: 8.0}, np.inf, "lip"), ({name: 0.8, WHITE: 7.2}, tint_um, tint_on)]
        errors = noise / np.sqrt(3) * self.rng.standard_normal((len(films), 3))
        return table([(*film, self.lab(*film) + error) for film, error in zip(films, errors, strict=True)])

    def blends(self, count):
        """Return held-out rows of two or three pigments: thick, 20 µm on white and 10 µm on a lip."""
        films = []
        for _ in range(count):
            chosen = self.rng.choice(self.pigments.names, self.rng.integers(2, 4), replace=False)
            loads = self.rng.dirichlet(np.ones(chosen.size)) * self.rng.uniform(4, 15)
            blend = dict(zip(chosen.tolist(), loads.tolist(), strict=True))
            films += [(blend, np.inf, "lip"), (blend, 20.0, "white card"), (blend, 10.0, "lip")]
        return [(*film, self.lab(*film)) for film in films]


def missed(pigments, rows):
    """Return ΔE00 of forecasts from what was read."""
    return [float(delta_e00(seen(pigments, *film), lab)) for *film, lab in rows]
