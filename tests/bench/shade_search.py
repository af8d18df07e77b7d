"""The blend for a wanted colour, beside a general-purpose global optimiser, for many colours.

``python -m tests.bench.shade_search --colours 24 --save shade-search.md``

Both look for the least ΔE00 among six pigments up to 15 % on a lip. SciPy's differential evolution runs at
its default settings, with a seed. Its variables are mass % from 0 to 15 each; where they add up to more than
15 they are scaled down to 15, so that every point is a blend that may be. The objective is lean: backing and
pigments are prepared before. Every other colour is the forecast of a random blend, so that it can be reached;
the rest lie anywhere. Seconds are those of the processor.
"""

import argparse
from pathlib import Path
from time import process_time

import numpy as np

from labkit.colour.cie import delta_e00
from labkit.shade.backing import reflectance_of
from labkit.shade.many import prepare
from labkit.shade.medium import USUAL
from labkit.shade.mixture import volume_fractions
from labkit.shade.pigments import default_pigments
from labkit.shade.wanted import find_shade

NAMES = [
    "red iron oxide",
    "yellow iron oxide",
    "black iron oxide",
    "titanium dioxide",
    "carmine",
    "red 7 lake",
]
MOST = 15.0
_OWN = default_pigments().only(NAMES)
_FILMS = prepare(_OWN, 10.0, reflectance_of("lip"), USUAL)


def forecast(loads):
    """Return CIELAB of mass %, shapes (n, 6) to (n, 3)."""
    return _FILMS.lab(volume_fractions(loads, _OWN.density_g_ml, USUAL))


def wanted_colours(count, seed=0):
    """Return colours, shape (count, 3): in turn one that can be reached, and one from anywhere."""
    rng = np.random.default_rng(seed)
    reached = forecast(rng.dirichlet(np.ones(7), count)[:, :6] * MOST)
    anywhere = rng.uniform([10, -30, -40], [95, 70, 70], (count, 3))
    return np.where(np.arange(count)[:, None] % 2, anywhere, reached)


def may_be(x):
    """Return mass % scaled down to what may be, shape (n, 6)."""
    return x * np.minimum(1, MOST / np.maximum(x.sum(-1, keepdims=True), 1e-12))


def distance(x, wanted):
    """Return ΔE00 of one blend, shape (6,)."""
    return float(delta_e00(forecast(may_be(x[None])), wanted[None])[0])


def distances(x, wanted):
    """Return ΔE00 of many blends, shape (6, n), as the optimiser's vectorised form wants it."""
    lab = forecast(may_be(x.T))
    return delta_e00(lab, np.broadcast_to(wanted, lab.shape))


def evolve(wanted, seed=0, vectorized=False, **settings):
    """Return the optimiser's result."""
    from scipy.optimize import differential_evolution

    if vectorized:
        settings |= {"vectorized": True, "updating": "deferred"}
    objective = distances if vectorized else distance
    return differential_evolution(objective, [(0, MOST)] * 6, args=(wanted,), rng=seed, **settings)


def _timed(what):
    began = process_time()
    found = what()
    return found, process_time() - began


def compare(wanted, seed=0):
    """Return a row: ΔE00 and seconds of processor time of labkit, the optimiser, its vectorised form."""
    ours, own = _timed(lambda: float(find_shade(wanted, NAMES, MOST)["delta_e00"].iloc[0]))
    theirs, scalar = _timed(lambda: evolve(wanted, seed))
    many, vector = _timed(lambda: evolve(wanted, seed, vectorized=True))
    return [ours, theirs.fun, many.fun, own, scalar, vector]


HEAD = (
    "| L* | a* | b* | labkit ΔE00 | evolution ΔE00 | vectorised ΔE00 "
    "| labkit s | evolution × | vectorised × |\n"
)


def main():
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--colours", type=int, default=24)
    asked.add_argument("--seed", type=int, default=0)
    asked.add_argument("--save", type=Path)
    options = asked.parse_args()
    find_shade([50, 20, 10], NAMES, MOST)
    lines = [HEAD, "|---" * 9 + "|\n"]
    for wanted in wanted_colours(options.colours, options.seed):
        ours, theirs, many, own, scalar, vector = compare(wanted)
        lab = " | ".join(f"{each:.1f}" for each in wanted)
        found = f"{ours:.3f} | {theirs:.3f} | {many:.3f}"
        lines.append(f"| {lab} | {found} | {own:.3f} | {scalar / own:.0f} | {vector / own:.1f} |\n")
        print(lines[-1], end="", flush=True)
    if options.save:
        options.save.write_text("".join(lines), encoding="utf-8")


if __name__ == "__main__":
    main()
