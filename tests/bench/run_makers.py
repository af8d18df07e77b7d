"""Run many simulated makers by hand, a line of results for each, and tell what was found.

``python -m tests.bench.run_makers --makers 200 --save makers.jsonl`` goes on where that file
ends; several runs with other ``--first`` may share a folder, and ``--report *.jsonl`` tells all.
"""

import argparse
import json
import time
from collections.abc import Iterable, Sequence
from pathlib import Path

import numpy as np
import pandas as pd

from tests.bench.makers import (
    A_DAY,
    DAY_SD,
    EARLY_H,
    MARKS,
    NOTES,
    WAYS,
    early_one,
    in_tenths,
    score_ways,
    tenths,
)
from tests.bench.strategies import STRATEGIES, run_quest

POURS, NOISES = (6, 12, 20), (1.0, 2.0)
LEAST = 0.02  # of the statements; rarer tenths are told but not judged
LIMITS = {1.0: 5.0, 2.0: 8.0}  # points


def one_maker(seed: int) -> dict[str, object]:
    """Return all that is told about maker `seed`, whose days differ."""
    row: dict[str, object] = {"maker": seed, "early": early_one(seed)}
    for noise in NOISES:
        for pours in POURS:
            scored = score_ways(seed, pours, noise, DAY_SD)
            row[f"chances {noise:g} {pours}"] = {
                "excess": scored.excess(),
                "tenths": tenths(scored).tolist(),
                "covered": float(scored.covered.mean()),
            }
        row[f"quest {noise:g}"] = run_quest(seed, noise, DAY_SD)
    return row


def run(makers: range, save: Path | None, minutes: float) -> list[dict]:
    """Return the results of all makers in the file and of those that were still missing."""
    until = time.monotonic() + 60.0 * minutes
    rows = read([save]) if save is not None and save.exists() else []
    had = {row["maker"] for row in rows}
    for seed in makers:
        if seed in had:
            continue
        if time.monotonic() > until:
            break
        rows.append(one_maker(seed))
        if save is not None:
            with save.open("a") as lines:
                lines.write(json.dumps(rows[-1]) + "\n")
    return rows


def read(files: Iterable[Path]) -> list[dict]:
    """Return the results in files, one maker once."""
    rows = [json.loads(line) for file in files for line in file.read_text().splitlines()]
    return list({row["maker"]: row for row in rows}.values())


# ---- what was found --------------------------------------------------------------


def shown(values: "pd.Series[float]") -> str:
    """Return "mean ± standard error"."""
    return f"{values.mean():.4f} ± {values.std() / np.sqrt(len(values)):.4f}"


def _table(head: str, lines: Iterable[Sequence[str]]) -> list[str]:
    rule = "|" + "---|" * (head.count("|") - 1)
    return [head, rule, *("| " + " | ".join(cells) + " |" for cells in lines)]


def report_scores(rows: list[dict]) -> list[str]:
    """Return the table of excess scores, and of differences."""
    rivals = [name for name in WAYS if name != "labkit"]
    lines = []
    for noise in NOISES:
        for pours in POURS:
            table = pd.DataFrame([row[f"chances {noise:g} {pours}"]["excess"] for row in rows])
            gains = [shown(table[name] - table["labkit"]) for name in rivals]
            lines.append([str(pours), f"×{noise:g}", *(shown(table[name]) for name in WAYS), *gains])
    heads = ["pours", "noise", *WAYS, *(f"{name} − labkit" for name in rivals)]
    return _table("| " + " | ".join(heads) + " |", lines)


def report_calibration(rows: list[dict]) -> list[str]:
    """Return the table of stated against true chances; † beyond the limit, where it is judged."""
    lines = []
    for noise in NOISES:
        for pours in POURS:
            sums = np.sum([row[f"chances {noise:g} {pours}"]["tenths"] for row in rows], axis=0)
            for stated, true, gap, share in in_tenths(sums).to_numpy():
                beyond = share >= LEAST and abs(100 * gap) > LIMITS[noise]
                cells = [
                    f"{stated:.2f}",
                    f"{true:.2f}",
                    f"{100 * gap:+.1f}{' †' * bool(beyond)}",
                    f"{100 * share:.1f}",
                ]
                lines.append([f"×{noise:g}", str(pours), *cells])
    return _table("| noise | pours | stated | true | gap (points) | % of statements |", lines)


def report_bands(rows: list[dict]) -> list[str]:
    """Return the table of how often the 90 % band of the surface held it."""
    lines = [
        [
            f"×{noise:g}",
            str(pours),
            shown(pd.Series([row[f"chances {noise:g} {pours}"]["covered"] for row in rows])),
        ]
        for noise in NOISES
        for pours in POURS
    ]
    return _table("| noise | pours | part of the region that the 90 % band holds |", lines)


def report_early(rows: list[dict]) -> list[str]:
    """Return the table of early notes."""
    table = pd.DataFrame([row["early"] for row in rows])
    cells = [table["set curve"], table["as if set"], table["as if set"] - table["set curve"]]
    return _table("| through the set curve | as if set | difference |", [[shown(each) for each in cells]])


def report_quests(rows: list[dict]) -> list[str]:
    """Return the table of chance of right over the best possible; ‡ where the interval is not above −0.02."""
    rivals, lines = [name for name in STRATEGIES if name != "next pour"], []
    for noise in NOISES:
        table = pd.DataFrame([quest for row in rows if (quest := row[f"quest {noise:g}"]) is not None])
        for mark in MARKS:
            ours = table[f"next pour {mark}"]
            cells = [shown(table[f"{name} {mark}"]) for name in STRATEGIES]
            lines.append([f"×{noise:g}", str(len(table)), str(mark), *cells])
            lines[-1] += [_difference(ours - table[f"{name} {mark}"]) for name in rivals]
    heads = ["noise", "makers", "pours", *STRATEGIES, *(f"over {name} (95 % interval)" for name in rivals)]
    return _table("| " + " | ".join(heads) + " |", lines)


def _difference(values: "pd.Series[float]") -> str:
    reach = 1.96 * values.std() / np.sqrt(len(values))
    low, high = values.mean() - reach, values.mean() + reach
    return f"{values.mean():+.4f} ({low:+.3f} to {high:+.3f}){' ‡' * bool(low <= -0.02)}"


def tell(rows: list[dict]) -> str:
    """Return all that was found, as Markdown."""
    numbers = sorted(row["maker"] for row in rows)
    pieces = [
        f"{len(rows)} invented makers ({numbers[0]} to {numbers[-1]}), half of them with a quadratic and "
        f"half with a saturating surface, {NOTES} notes a pour, five rungs, {A_DAY} pours a day, "
        f"days that differ by {DAY_SD:g} rungs; mean ± standard error.",
        "Excess ranked probability score over the true chances (0 is best):",
        *report_scores(rows),
        "Stated chances of each word against the true ones; † beyond 5 points at the normal noise or 8 "
        f"at twice it, in tenths with at least {100 * LEAST:g} % of the statements:",
        *report_calibration(rows),
        "How much of the region the 90 % band of the surface holds:",
        *report_bands(rows),
        f"Excess for set sticks from 8 pours felt at {EARLY_H:g} hours only, days alike:",
        *report_early(rows),
        "True chance of right at the final recommendation over the best possible; ‡ not shown no worse:",
        *report_quests(rows),
    ]
    apart = [f"\n{piece}\n" if not piece.startswith("|") else piece for piece in pieces]
    return "\n".join(apart).strip() + "\n"


def main() -> None:
    """Print what the simulation finds."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--makers", type=int, default=10, help="how many")
    parser.add_argument("--first", type=int, default=0, help="number of the first")
    parser.add_argument("--minutes", type=float, default=np.inf, help="stop after the maker at hand")
    parser.add_argument("--save", type=Path, help="a file of results to go on with")
    parser.add_argument("--report", type=Path, nargs="+", help="only tell what is in these files")
    asked = parser.parse_args()
    makers = range(asked.first, asked.first + asked.makers)
    print(tell(read(asked.report) if asked.report else run(makers, asked.save, asked.minutes)))


if __name__ == "__main__":
    main()
