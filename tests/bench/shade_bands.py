"""Do the bands of a forecast colour hold what is read, and how near do calibrated forecasts come?

Run by hand: ``OMP_NUM_THREADS=1 python -m tests.bench.shade_bands``. Everything here is invented.
"""

import argparse
from dataclasses import replace
from multiprocessing import Pool

import numpy as np

from labkit.shade.calibration import calibrate
from labkit.shade.pigments import Pigments, default_pigments
from tests.shade.makers import (
    OXIDES,
    RED,
    WHITE,
    TransportMaker,
    drawn_maker,
    held,
    missed,
    noisy,
    random_films,
    table,
)

SWATCHES = (1, 4, 12, 30)
FILM_ERRORS = (0.0, 0.10)
SETS = {
    "iron oxides and white": OXIDES,
    "red oxide, carmine, ultramarine, white": (RED, "carmine", "ultramarine", WHITE),
    "red 7 lake, yellow oxide, manganese violet, white": (
        "red 7 lake", "yellow iron oxide", "manganese violet", WHITE,
    ),
}  # fmt: skip
DESIGNS = {
    "tint 25 µm on white": {"tint_um": 25.0, "tint_on": "white card"},
    "tint 25 µm on black": {"tint_um": 25.0, "tint_on": "black card"},
    "tint thick": {"tint_um": np.inf},
}
ANISOTROPIES = (0.0, 0.3, 0.6)


def bands(seed: int) -> list[float]:
    """Return the shares of one maker's held-out readings in the band, before and after swatches."""
    rng, maker = np.random.default_rng(seed), drawn_maker(seed + 10_000)
    tests = noisy(rng, maker, random_films(rng, 12))
    shares = [held(default_pigments(), tests).mean()]
    for error in FILM_ERRORS:
        for count in SWATCHES:
            swatches = noisy(rng, maker, random_films(rng, count), film_error=error)
            shares.append(held(calibrate(table(swatches)), tests).mean())
    return [float(each) for each in shares]


def levels_only() -> Pigments:
    """Return the default pigments with one number each for absorption and for scattering left open."""
    start = default_pigments()
    sd = np.sqrt((start.modes**2).sum(0).mean(2))
    modes = np.zeros((sd.size, *start.log_ks.shape))
    for i, at in enumerate(np.ndindex(sd.shape)):
        modes[i][at] = sd[at]
    return replace(start, modes=modes)


def transport(task: tuple[str, int]) -> list[list[float]]:
    """Return for one maker ΔE00 of held-out blends: before, after each design, and with levels alone."""
    names, seed = task
    maker = TransportMaker(seed, SETS[names], ANISOTROPIES[seed % len(ANISOTROPIES)])
    rows = maker.blends(6)
    found = [missed(default_pigments(), rows)]
    for design in DESIGNS.values():
        swatches = maker.masstones_and_tints(**design)
        found.append(missed(calibrate(swatches), rows))
        found.append(missed(calibrate(swatches, levels_only()), rows))
    return found


def tell_bands(shares: np.ndarray) -> None:
    """Print the share of held-out readings in the 90 % band, ± its standard error over makers."""
    labels = ["before"] + [f"{n} swatches, film error {e:.0%}" for e in FILM_ERRORS for n in SWATCHES]
    print("| swatches | in the 90 % band, % | ± |\n|---|---|---|")
    for label, column in zip(labels, shares.T, strict=True):
        print(f"| {label} | {100 * column.mean():.1f} | {100 * column.std() / np.sqrt(len(column)):.1f} |")


def tell_transport(names: str, missed_by: np.ndarray) -> None:
    """Print the median ΔE00 of held-out blends, shape (makers, columns, blends × 3)."""
    labels = ["before"] + [f"{design}{more}" for design in DESIGNS for more in ("", ", levels only")]
    print(
        f"\n{names}\n\n| | all | thick | 20 µm on white | 10 µm on a lip | g = 0 | g = 0.3 | g = 0.6 "
        "| makers above 2 |"
    )
    print("|---|---|---|---|---|---|---|---|---|")
    for i, label in enumerate(labels):
        each = missed_by[:, i].reshape(len(missed_by), -1, 3)
        by_film = [np.median(each[..., at]) for at in range(3)]
        by_g = [np.median(each[at::3]) for at in range(3)]
        cells = " | ".join(f"{value:.2f}" for value in (np.median(each), *by_film, *by_g))
        print(f"| {label} | {cells} | {(np.median(each, axis=(1, 2)) > 2).mean():.0%} |", flush=True)


def main() -> None:
    """Run both simulations and print their tables."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--makers", type=int, default=120)
    asked.add_argument("--transport", type=int, default=30)
    given = asked.parse_args()
    with Pool(2) as pool:
        tell_bands(np.array(pool.map(bands, range(given.makers))))
        for names in SETS:
            tasks = [(names, seed) for seed in range(given.transport)]
            tell_transport(names, np.array(pool.map(transport, tasks)))


if __name__ == "__main__":
    main()
