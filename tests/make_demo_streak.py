"""Make the demo's streak tests. Run by hand: ``python tests/make_demo_streak.py``.

The tests, their maker and how fast their streaks fade are invented. The same seed gives the same book.
"""

from datetime import UTC, datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
from diary import id_at

from labkit.book import TrialBook, write_lines
from labkit.streak.record import Question
from labkit.streak.trial import KIND, StreakTrial

BOOK = Path(__file__).resolve().parent.parent / "data" / "demo-streak.jsonl"
MAKER = "00000000-0000-4000-8000-0000000000de"
FIRST_DAY = datetime(2026, 4, 14, 10, 0, tzinfo=UTC)
PIGMENTS = {
    "red iron oxide": (36.0, 30.0, 21.0),
    "titanium dioxide": (97.0, 0.0, 2.0),
    "ultramarine": (30.0, 22.0, -58.0),
}  # fmt: skip
START = {"red iron oxide": 2.6, "titanium dioxide": 3.6, "ultramarine": 2.8}
"""Invented hidden grade before the first round."""
FADES = {"dry powder": 0.45, "wetted in oil first": 0.8}
"""Invented grades a round; titanium dioxide takes longer."""
LOOKS_SD = 0.35
WAYS = ("dry powder", "wetted in oil first") * 7
STOPPED = {2: 5, 7: 3, 10: 4}
"""Tests that were stopped before a clean look: after which round."""
MOST = 14


def run(book: TrialBook, rng: np.random.Generator, number: int, way: str, last: bool) -> None:
    """Write one test, to its first clean look or to where it was stopped."""
    began = FIRST_DAY + timedelta(days=2 * number, minutes=int(rng.integers(0, 120)))
    pigments = [{"name": name, "lab": lab} for name, lab in PIGMENTS.items()]
    question = Question.of({"pigments": pigments, "method": way, "began_at": began})
    name = "Invented example: a rosewood red" if last else f"Invented test {number + 1}"
    book.append(KIND, question, trial=name, id=id_at(began, rng))
    trial = StreakTrial(book, name)
    pace = FADES[way] * np.exp(rng.normal(0, 0.2))
    when = began
    for at in range(1, 6 if last else 1 + STOPPED.get(number, MOST)):
        when += timedelta(minutes=float(rng.uniform(2.0, 4.0)))
        hidden = {
            each: START[each] - pace * (0.8 if each == "titanium dioxide" else 1.0) * at for each in PIGMENTS
        }
        grades = {
            each: int(np.clip(round(left + rng.normal(0, LOOKS_SD)), 0, 4)) for each, left in hidden.items()
        }
        trial = trial.log_round(
            grades, id_at(when, rng), graded_at=when, celsius=round(float(rng.normal(74, 1.5)), 1),
            how="rubbed" if at > 4 else "drawn",
        )  # fmt: skip
        if not last and not any(grades.values()):
            return


def make_book(path: Path = BOOK, seed: int = 5) -> None:
    """Write the demo tests to a file of lines."""
    rng = np.random.default_rng(seed)
    with TemporaryDirectory() as folder, TrialBook(Path(folder) / "demo.db", maker=MAKER) as book:
        for number, way in enumerate(WAYS):
            run(book, rng, number, way, last=number == len(WAYS) - 1)
        write_lines(book, path)


if __name__ == "__main__":
    make_book()
