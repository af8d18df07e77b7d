"""Of the runs that are told "stop", what share still shows a streak? What was promised?

Run by hand: ``python -m tests.bench.streak_stops --runs 1000``. Everything here is invented: a
maker's usual start, rate and scatter are drawn, then trials of one pigment with them, then grades.
"""

import argparse
from dataclasses import dataclass, replace

import numpy as np

from labkit.streak.fading import (
    RATE,
    RATE_SPREAD,
    SCATTER,
    START,
    START_SPREAD,
    Outlook,
    likelihood,
    prior_of,
)
from labkit.streak.rounds import MOST, Course

LIMITS = (0.2, 0.1, 0.05)
MOST_ROUNDS = 40


@dataclass(frozen=True)
class Maker:
    """What the truth is drawn from; the usual one is what `labkit.streak.fading` takes for granted."""

    start: tuple[float, float] = START
    start_spread: tuple[float, ...] = START_SPREAD
    rate: tuple[float, float] = RATE
    rate_spread: tuple[float, ...] = RATE_SPREAD
    scatter: tuple[float, float] = SCATTER
    floor: float = -np.inf


USUAL = Maker()
MAKERS = {
    "as taken for granted": USUAL,
    "twice as slow": replace(USUAL, rate=(RATE[0] - np.log(2), RATE[1])),
    "twice as fast": replace(USUAL, rate=(RATE[0] + np.log(2), RATE[1])),
    "looks scatter twice as much": replace(USUAL, scatter=(SCATTER[0] + np.log(2), SCATTER[1])),
    "clumps that never go (amount stays over 0)": replace(USUAL, floor=0.0),
}


def amounts(maker, usual_start, usual_rate, start_sd, rate_sd, rng):
    """Draw one trial's hidden amount, round by round."""
    start = rng.normal(usual_start, start_sd)
    rate = np.exp(rng.normal(usual_rate, rate_sd))
    return np.maximum(start - rate * np.arange(MOST_ROUNDS), maker.floor)


def look(amount, scatter, rng):
    """Return the grade of one look."""
    return int(np.clip(np.floor(amount + rng.normal(0, scatter) + 0.5), 0, MOST))


def course(grades):
    told = np.array(grades)
    return Course("red", "", "", np.arange(len(told)), told, len(told) - 1)


def run(maker, earlier, rng):
    """Return for each limit: round of the stop, chance told then, whether another look shows a streak."""
    usual = rng.normal(*maker.start), rng.normal(*maker.rate)
    spreads = rng.choice(maker.start_spread), rng.choice(maker.rate_spread)
    scatter = np.exp(rng.normal(*maker.scatter))
    before = []
    for _ in range(earlier):
        hidden = amounts(maker, *usual, *spreads, rng)
        before.append(course([look(each, scatter, rng) for each in hidden[: rng.integers(4, 9)]]))
    prior, hidden = prior_of(before), amounts(maker, *usual, *spreads, rng)
    stops, grades = {}, []
    for after, amount in enumerate(hidden):
        grades.append(look(amount, scatter, rng))
        weight = prior * likelihood(course(grades))
        chance = Outlook(weight / weight.sum(), after).chance()
        for limit in LIMITS:
            if chance < limit and limit not in stops:
                stops[limit] = (after + 1, chance, look(amount, scatter, rng) > 0)
        if len(stops) == len(LIMITS):
            break
    return stops


def stops_of(maker, earlier, runs, seed=0):
    """Return for each limit: how many stopped, median round, promised and found share, its standard error."""
    rng = np.random.default_rng([seed, earlier, runs])
    each = [run(maker, earlier, rng) for _ in range(runs)]
    found = {}
    for limit in LIMITS:
        stopped = np.array([one[limit] for one in each if limit in one], dtype=float)
        promised = stopped[:, 1].mean()
        error = np.sqrt((stopped[:, 1] * (1 - stopped[:, 1])).sum()) / len(stopped)
        found[limit] = (len(stopped), float(np.median(stopped[:, 0])), promised, stopped[:, 2].mean(), error)
    return found


def main():
    arguments = argparse.ArgumentParser(description=__doc__)
    arguments.add_argument("--runs", type=int, default=1000)
    runs = arguments.parse_args().runs
    print("| the truth | earlier trials | limit | stopped | rounds, median | promised, % | streak left, % |")
    print("|---|---|---|---|---|---|---|")
    for name, maker in MAKERS.items():
        for earlier in (0, 3):
            for limit, (count, rounds, promised, left, error) in stops_of(maker, earlier, runs).items():
                cells = f"{100 * promised:.1f} | {100 * left:.1f} ± {100 * error:.1f}"
                print(
                    f"| {name} | {earlier} | {100 * limit:g} % | {count} of {runs} | {rounds:g} | {cells} |",
                    flush=True,
                )


if __name__ == "__main__":
    main()
