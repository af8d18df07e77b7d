"""Make the demo book, the README's picture of it, and the marked outputs of the template notebooks.

Run by hand: ``python tests/make_demo_book.py``. The trial, its maker and the truth
behind it are invented. The same seed gives the same book.
"""

import os
from datetime import UTC, datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
from diary import id_at

from labkit.assets import assets
from labkit.book import TrialBook, take_in_lines, write_lines
from labkit.texture.record import LADDER
from labkit.texture.trial import TextureTrial
from labkit.texture.usual import make_question

ROOT = Path(__file__).resolve().parent.parent
BOOK = ROOT / "data" / "demo-book.jsonl"
PICTURE = ROOT / "data" / "readme-map.png"
MAKER = "00000000-0000-4000-8000-0000000000de"
TRIAL = "Invented example: my usual is too soft"
FIRST_DAY = datetime(2026, 3, 2, 9, 30, tzinfo=UTC)
USUAL = {
    "shea butter": 9.0,
    "cocoa butter": 4.5,
    "castor oil": 18.0,
    "beeswax": 4.5,
    "magnesium stearate": 1.5,
    "red iron oxide": 3.0,
}


def hardness(shares: dict[str, float]) -> float:
    """Return the invented truth, in rungs (0 the softest word)."""
    wax, butter = shares["wax"], shares["butter"]
    return (
        4.4 * np.tanh((wax - 0.02) / 0.16) - 1.2 + 3.0 * (butter - 0.3) - 6.0 * (wax - 0.2) * (butter - 0.3)
    )


class Diary:
    """Writes the trial as it would have gone, with ids and times of its own days."""

    def __init__(self, book: TrialBook, seed: int) -> None:
        self.book, self.rng = book, np.random.default_rng(seed)

    def id(self, when: datetime) -> str:
        """Return a version 7 id of that time."""
        return id_at(when, self.rng)

    def start(self) -> TextureTrial:
        """Ask the question; the first card follows from it."""
        question = make_question(USUAL, "too soft", 0.1, bounds={"wax": (0.06, 0.30)})
        self.book.append("texture.question", question, trial=TRIAL, id=self.id(FIRST_DAY))
        return TextureTrial(self.book, TRIAL)

    def pour(self, trial: TextureTrial, number: int, when: datetime) -> TextureTrial:
        """Pour what is on the card and feel it after two hours, a day and two days."""
        planned = next(trial.grams(pour) for pour in trial.waiting if pour.number == number)
        weighed = {
            name: round(max(0.0, grams + 0.1 * self.rng.integers(-1, 2)), 1)
            for name, grams in planned.items()
        }
        trial = trial.log_pour(
            number, weighed, self.id(when), poured_at=when, sticks=5, hottest_c=82.0, pour_c=68.0,
            set_where="on the bench",
        )  # fmt: skip
        cast = hardness(trial.weighing.shares(weighed)) + self.rng.normal(0, 0.12)
        glide = int(np.clip(round(8 - 1.6 * cast + self.rng.normal(0, 0.5)), 0, 10))
        for hours in (2.0, 24.0, 49.0):
            felt = cast - 2.0 * np.exp(-0.12 * hours) + self.rng.normal(0, 0.25)
            word = LADDER[int(np.clip(round(felt), 0, len(LADDER) - 1))]
            at = when + timedelta(hours=hours)
            marks = {"glide": glide} if hours > 48 else {}
            trial = trial.log_note(number, word, self.id(at), felt_at=at, room_c=21.0, **marks)
        return trial

    def look(self, trial: TextureTrial, number: int, when: datetime, *defects: str) -> TextureTrial:
        """Look a pour over again."""
        return trial.log_look(number, defects, self.id(when), looked_at=when)


def make_book(path: Path = BOOK, seed: int = 4) -> None:
    """Write the demo book to a file of lines."""
    with TemporaryDirectory() as folder, TrialBook(Path(folder) / "demo.db", maker=MAKER) as book:
        diary = Diary(book, seed)
        trial = diary.start()
        for number in (1, 2, 3):
            trial = diary.pour(trial, number, FIRST_DAY + timedelta(minutes=40 * number))
        planned = trial.for_card(trial.plan(4, repeats=0, days=1, seed=seed))
        second_day = FIRST_DAY + timedelta(days=3)
        trial = trial.put_on_card(planned, diary.id(second_day))
        for index, pour in enumerate(planned, 1):
            trial = diary.pour(trial, pour.number, second_day + timedelta(minutes=40 * index))
        for day in (6, 9):
            when = FIRST_DAY + timedelta(days=day)
            suggested = trial.for_card(trial.next_pour())
            trial = trial.put_on_card(suggested, diary.id(when))
            trial = diary.pour(trial, suggested[0].number, when + timedelta(minutes=30))
        for number, defects in ((1, ()), (2, ()), (7, ("bloom",))):
            trial = diary.look(trial, number, FIRST_DAY + timedelta(days=10, minutes=number), *defects)
        write_lines(book, path)


def draw_map(path: Path = PICTURE) -> None:
    """Draw the map that the README shows."""
    from labkit.texture.demo import example_trial
    from labkit.texture.story import map_figure

    trial = example_trial()
    map_figure(trial, trial.next_pour(), "invented example").savefig(path, dpi=100)


def run_notebooks() -> None:
    """Run the template notebooks on the demo book, and keep the outputs of marked cells alone."""
    import nbformat
    from nbclient import NotebookClient

    for path in sorted((ROOT / "notebooks").glob("*.ipynb")):
        notebook = nbformat.read(path, as_version=4)
        with TemporaryDirectory() as folder:
            os.environ["LABKIT_BOOK"] = str(Path(folder) / "lab-book.db")
            with TrialBook(os.environ["LABKIT_BOOK"]) as book:
                for lines in assets().demo:
                    take_in_lines(book, lines)
            NotebookClient(notebook, kernel_name="python3").execute()
        for cell in notebook.cells:
            cell.metadata.pop("execution", None)
            if cell.cell_type == "code":
                marked = "nbval-check-output" in cell.metadata.get("tags", [])
                cell.outputs = cell.outputs if marked else []
                cell.execution_count = 1 if marked else None
                for output in cell.outputs:
                    output.execution_count = 1
        notebook.metadata.pop("widgets", None)
        nbformat.write(notebook, path)


if __name__ == "__main__":
    make_book()
    draw_map()
    run_notebooks()
