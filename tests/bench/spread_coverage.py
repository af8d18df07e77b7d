"""How often do the 90 % intervals of `spread` hold the truth, from few groups?

Run by hand: ``python -m tests.bench.spread_coverage --draws 1000``. Everything here is invented.
"""

import argparse
from itertools import cycle, islice, product
from multiprocessing import Pool

import numpy as np
import pandas as pd

from labkit.variation import spread

GROUPS = (3, 4, 5, 6)
REPEATS = {"2": (2,), "3": (3,), "2 and 3 in turn": (2, 3)}
RATIOS = (0.0, 0.25, 0.5, 1.0, 2.0, 5.0)
NAMES = ("repeatability_sd", "between_sd", "reproducibility_sd")

Cell = tuple[int, str, float]


def readings(groups: int, repeats: str, ratio: float, rng: np.random.Generator) -> pd.DataFrame:
    """Draw a trial: repeats scatter by 1, groups by `ratio`."""
    day = np.repeat(np.arange(groups), list(islice(cycle(REPEATS[repeats]), groups)))
    return pd.DataFrame(
        {"day": day, "rung": rng.normal(0.0, ratio, groups)[day] + rng.normal(0.0, 1.0, len(day))}
    )


def run_cell(cell: Cell, draws: int) -> dict[str, float | str]:
    """Return the share of trials whose interval holds the truth, and the median upper limit ÷ truth."""
    groups, repeats, ratio = cell
    rng = np.random.default_rng([groups, len(repeats), int(100 * ratio), draws])
    truth = dict(zip(NAMES, (1.0, ratio, np.hypot(1.0, ratio)), strict=True))
    held = dict.fromkeys(NAMES, 0)
    widest = []
    for _ in range(draws):
        found = spread(readings(groups, repeats, ratio, rng), "rung", "day").intervals
        for name, (low, high) in found.items():
            held[name] += low <= truth[name] <= high
        widest.append(found["between_sd"][1])
    shares: dict[str, float | str] = {name: count / draws for name, count in held.items()}
    return {
        "groups": groups,
        "repeats": repeats,
        "between ÷ repeat": ratio,
        **shares,
        "upper limit": float(np.median(widest)),
        "least upper limit": min(widest),
    }


def run(draws: int, processes: int) -> pd.DataFrame:
    """Return one row for every number of groups, of repeats and ratio."""
    cells = product(GROUPS, REPEATS, RATIOS)
    with Pool(processes) as pool:
        return pd.DataFrame(pool.starmap(run_cell, [(cell, draws) for cell in cells]))


def report(table: pd.DataFrame, draws: int) -> str:
    """Return the results as Markdown, with standard errors."""
    lines = [
        "# Intervals from few groups: what was found",
        "",
        f"Command: `python -m tests.bench.spread_coverage --draws {draws}`. Everything in it is invented:",
        "normal readings, repeats that scatter by 1.",
        "",
        f"Share of {draws} trials whose 90 % interval holds the truth, in % ± standard error; the last two",
        "columns are the upper limits of the spread between groups, their median and the least of all.",
        "",
        "| groups | repeats | between ÷ repeat | repeatability | between | reproducibility | upper | least |",
        "|---|---|---|---|---|---|---|---|",
    ]
    for row in table.to_dict("records"):
        shares = " | ".join(
            f"{100 * row[name]:.1f} ± {100 * np.sqrt(row[name] * (1 - row[name]) / draws):.1f}"
            for name in NAMES
        )
        lines.append(
            f"| {row['groups']} | {row['repeats']} | {row['between ÷ repeat']:g} | {shares} "
            f"| {row['upper limit']:.2f} | {row['least upper limit']:.2f} |"
        )
    extremes = ", ".join(
        f"{name.removesuffix('_sd')} {100 * table[name].min():.1f} to {100 * table[name].max():.1f} %"
        for name in NAMES
    )
    return "\n".join([*lines, "", f"Over all rows: {extremes}.", ""])


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--draws", type=int, default=1000)
    parser.add_argument("--processes", type=int, default=2)
    asked = parser.parse_args()
    print(report(run(asked.draws, asked.processes), asked.draws), end="")
