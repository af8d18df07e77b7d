"""Make the demo's batches. Run by hand: ``python tests/make_demo_batch.py``.

The batches, their maker and what makes a stick sink are invented: poured hotter, more get a sink hole.
The same seed gives the same book.
"""

from datetime import UTC, datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np
from diary import id_at

from labkit.batch.record import Added, Drip, Filled, Happened, Judged, Question, Reading, Readings, Taken
from labkit.batch.trial import KIND, TIMES, BatchTrial
from labkit.book import TrialBook, write_lines

BOOK = Path(__file__).resolve().parent.parent / "data" / "demo-batch.jsonl"
MAKER = "00000000-0000-4000-8000-0000000000de"
LAST = "Invented example: a rosewood red"
FIRST_DAY = datetime(2026, 5, 4, 9, 0, tzinfo=UTC)
LINES = (
    {"name": "castor oil", "grams": 45.0, "kind": "oil"},
    {"name": "shea butter", "grams": 22.5, "kind": "butter", "melts_c": (32.0, 45.0)},
    {"name": "cocoa butter", "grams": 11.3, "kind": "butter", "melts_c": (28.0, 36.0)},
    {"name": "beeswax", "grams": 10.2, "kind": "wax", "melts_c": (61.0, 66.0)},
    {"name": "magnesium stearate", "grams": 3.7, "kind": "powder"},
    {"name": "red iron oxide", "grams": 5.3, "kind": "powder"},
    {"name": "titanium dioxide", "grams": 1.6, "kind": "powder"},
    {"name": "ultramarine", "grams": 0.4, "kind": "powder"},
)
FIRMER = {"castor oil": 41.0, "beeswax": 14.2}
"""Another recipe: what differs of it."""
ROOM_C, FILL_G, TUBES = 21.5, 4.25, 21
POURED_C = (71.0, 66.0, 74.5, 63.5, 69.0, 64.5, 67.5, 76.0, 68.0)
"""The pour temperature of each batch; the last is that of the whole day."""
OTHER_RECIPE = (3, 6)
REHEATED = (5,)


def sinks(celsius: float) -> float:
    """Return the invented chance that a stick gets a sink hole, by its pour temperature."""
    return float(1.0 / (1.0 + np.exp(-(celsius - 69.0) / 2.2)))


class Day:
    """Writes one batch as it would have gone, with ids and times of its own day."""

    def __init__(self, book: TrialBook, rng: np.random.Generator, number: int, began: datetime) -> None:
        self.rng, self.number, self.when = rng, number, began
        self.tau = float(rng.normal(13.5, 1.2))
        lines = [
            {**line, "grams": FIRMER.get(str(line["name"]), line["grams"])}
            if number in OTHER_RECIPE
            else line
            for line in LINES
        ]
        question = Question.of({
            "lines": lines, "heat": "water bath", "elevation_m": 480.0, "hottest_c": 85.0,
            "pour_c": POURED_C[number], "room_c": ROOM_C, "containers": TUBES, "fill_g": FILL_G,
            "mould_mm": 55.0, "clump_um": 25.0,
        })  # fmt: skip
        name = LAST if number == len(POURED_C) - 1 else f"Invented batch {number + 1}"
        book.append(KIND, question, trial=name, id=id_at(began, rng))
        self.trial = BatchTrial(book, name)

    def log(self, record: type[Any], later: float, /, **fields: Any) -> None:
        """Write something down, so many minutes after what was written before."""
        self.when += timedelta(minutes=later)
        at = TIMES[record.kind]
        self.trial = self.trial.log(record, id_at(self.when, self.rng), **{at: self.when, **fields})

    def weigh(self) -> None:
        """Weigh in what the recipe asks for, the scale's step off at most."""
        for at, line in enumerate(self.trial.question.lines):
            grams = round(line.grams + 0.1 * int(self.rng.integers(-1, 2)), 1)
            lot = f"{line.name[:3].upper()}-{20 + self.number // 3}"
            self.log(Added, 1.5 if at else 2.0, ingredient=line.name, grams=max(grams, 0.1), lot=lot)

    def melt(self) -> float:
        """Heat it until it is clear and blended; return °C as it comes off the heat."""
        self.log(Happened, 1.0, what="heat on")
        self.log(Reading, 6.0, celsius=round(float(self.rng.normal(66.0, 1.5)), 1))
        self.log(Happened, 5.0, what="clear melt", celsius=round(float(self.rng.normal(75.0, 1.0)), 1))
        self.log(Happened, 4.0, what="clean streak")
        return round(float(self.rng.normal(80.5, 1.2)), 1)

    def cool(self, start: float, until: float) -> float:
        """Read the pot every two or three minutes until it may be poured; return °C at the pour."""
        self.log(Happened, 2.0, what="heat off", celsius=start)
        minutes, celsius = 0.0, start
        while celsius > until + 1.5:
            step = float(self.rng.uniform(1.0, 2.0))
            minutes += step
            celsius = ROOM_C + (start - ROOM_C) * float(np.exp(-minutes / self.tau))
            self.log(Reading, step, celsius=round(celsius + float(self.rng.normal(0, 0.3)), 1))
        return celsius

    def pour(self, celsius: float) -> None:
        """Pour, fill, and judge the sticks two days later."""
        self.log(Happened, 0.8, what="poured", celsius=round(celsius, 1))
        pot = self.trial.pot()
        assert pot is not None
        self.fill(pot.total_g, celsius)

    def fill(self, there: float, celsius: float) -> None:
        """Weigh what was filled and lost, and judge the sticks two days later."""
        pan, tools = (round(float(self.rng.normal(mean, 0.5)), 1) for mean in (5.4, 2.4))
        most = int((there - pan - tools - 0.6) / FILL_G)
        fills = (FILL_G + self.rng.normal(0.02, 0.07, min(most, TUBES + 1))).round(2)
        self.log(Filled, 25.0, fills_g=tuple(fills.tolist()), pan_g=pan, tools_g=tools, container="tube")
        firm = 2.6 if self.number in OTHER_RECIPE else 2.0 if self.trial.of(Drip) else 1.4
        rung = int(np.clip(round(firm + float(self.rng.normal(0, 0.35))), 0, 4))
        self.log(
            Judged, 2 * 24 * 60.0, word=self.trial.question.words[rung], looked_at=len(fills),
            streaks=int(np.clip(round(float(self.rng.normal(0.6, 0.6))), 0, 4)),
            sink_holes=int(self.rng.binomial(len(fills), sinks(celsius))),
        )  # fmt: skip

    def usual(self) -> None:
        """An earlier batch, with what is mostly written down."""
        self.weigh()
        start = self.melt()
        if self.number in REHEATED:
            self.cool(start, 66.0)
            self.log(Happened, 1.0, what="reheated")
            self.log(Reading, 4.0, celsius=81.0)
            start = 81.5
        self.pour(self.cool(start, POURED_C[self.number]))

    def whole(self) -> None:
        """The last day, with drips and a logging thermometer."""
        self.weigh()
        start = self.melt()
        self.log(Taken, 1.0, grams=0.3, why="drip")
        self.log(Drip, 2.0, felt="too soft", colour="right")
        self.log(Added, 3.0, ingredient="beeswax", grams=1.8, lot="BEE-22", remark="after the first drip")
        self.log(Taken, 5.0, grams=0.3, why="drip")
        self.log(Drip, 2.0, felt="right", colour="right")
        self.log(Happened, 2.0, what="heat off", celsius=start)
        off = self.when
        minutes = np.arange(0.0, 42.0, 0.5)
        celsius = plateau(minutes, start, self.tau) + self.rng.normal(0, 0.12, len(minutes))
        reach = self.tau * float(np.log((start - ROOM_C) / (POURED_C[self.number] - ROOM_C)))
        self.when = off
        self.log(Happened, round(reach, 2), what="poured", celsius=POURED_C[self.number])
        there, poured = self.trial.pot(), self.when
        assert there is not None
        begins = self.tau * float(np.log((start - ROOM_C) / (SETS_C + 3.0 - ROOM_C)))
        self.when = off
        self.log(
            Happened, round(begins, 2), what="it clouds", celsius=SETS_C + 3.0, remark="the rest in the pan"
        )
        self.when = off
        self.log(
            Readings, 0.0, minutes=minutes.tolist(), celsius=celsius.round(2).tolist(), file="invented.csv",
            remark="in the pot, then in what was left of it in the pan",
        )  # fmt: skip
        self.when = poured
        self.fill(there.total_g, POURED_C[self.number])


SETS_C, SETS_MIN = 52.0, 6.0


def plateau(minutes: np.ndarray, start: float, tau: float) -> np.ndarray:
    """Return °C of a pot that stands still while it sets."""
    begins = tau * np.log((start - ROOM_C) / (SETS_C - ROOM_C))
    since = np.where(minutes < begins, minutes, np.maximum(minutes - SETS_MIN, begins))
    return ROOM_C + (start - ROOM_C) * np.exp(-since / tau)


def make_book(path: Path = BOOK, seed: int = 10) -> None:
    """Write the demo batches to a file of lines."""
    rng = np.random.default_rng(seed)
    with TemporaryDirectory() as folder, TrialBook(Path(folder) / "demo.db", maker=MAKER) as book:
        for number in range(len(POURED_C)):
            day = Day(
                book, rng, number, FIRST_DAY + timedelta(days=5 * number, minutes=int(rng.integers(0, 90)))
            )
            if number == len(POURED_C) - 1:
                day.whole()
            else:
                day.usual()
        write_lines(book, path)


if __name__ == "__main__":
    make_book()
