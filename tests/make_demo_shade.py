"""Make the demo's shade trial. Run by hand: ``python tests/make_demo_shade.py``.

The trial, its maker and the pigments behind it are invented: labkit's estimates, moved at random as far as
their own uncertainty says. The same seed gives the same book.
"""

from datetime import UTC, datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
from diary import id_at

from labkit.book import TrialBook, write_lines
from labkit.shade import predict
from labkit.shade.medium import USUAL
from labkit.shade.pigments import Pigments, default_pigments
from labkit.shade.record import Question
from labkit.shade.trial import KIND, ShadeTrial

BOOK = Path(__file__).resolve().parent.parent / "data" / "demo-shade.jsonl"
MAKER = "00000000-0000-4000-8000-0000000000de"
TRIAL = "Invented example: a rosewood red"
FIRST_DAY = datetime(2026, 4, 7, 10, 0, tzinfo=UTC)
PARTS = {"red iron oxide": 6.0, "titanium dioxide": 2.0, "ultramarine": 1.0}
READING_SD = 0.5
FILM_SD = 0.1


def hidden(rng: np.random.Generator) -> Pigments:
    """Return the invented truth: the estimates, moved by one draw of what is not known of them."""
    estimate = default_pigments()
    along = rng.standard_normal(len(estimate.modes))
    moved = estimate.log_ks + np.tensordot(along, estimate.modes, 1)
    return Pigments(estimate.names, estimate.density_g_ml, moved, estimate.modes, estimate.basis)


class Diary:
    """Writes the trial as it would have gone, with ids and times of its own days."""

    def __init__(self, book: TrialBook, seed: int) -> None:
        self.book, self.rng = book, np.random.default_rng(seed)
        self.truth = hidden(self.rng)

    def id(self, when: datetime) -> str:
        """Return a version 7 id of that time."""
        return id_at(when, self.rng)

    def swatch(
        self, trial: ShadeTrial, blend: dict[str, float], film_um: float | None, at: int, **more: str
    ) -> ShadeTrial:
        """Swatch a blend and read its colour, an hour after the one before."""
        when = FIRST_DAY + timedelta(days=1, hours=at)
        backing = more.pop("backing", "white card")
        film = np.inf if film_um is None else film_um * np.exp(self.rng.normal(0, FILM_SD))
        lab = predict(blend, film, backing, self.truth, USUAL).lab + self.rng.normal(0, READING_SD, 3)
        return trial.log_swatch(
            blend, self.id(when), swatched_at=when, film_um=film_um, film_sd=FILM_SD,
            backing=backing, lab=tuple(lab.round(2).tolist()), lab_sd=(READING_SD,) * 3, **more,
        )  # fmt: skip


def make_book(path: Path = BOOK, seed: int = 11) -> None:
    """Write the demo trial to a file of lines."""
    with TemporaryDirectory() as folder, TrialBook(Path(folder) / "demo.db", maker=MAKER) as book:
        diary = Diary(book, seed)
        question = Question(
            market="EU",
            parts=PARTS,
            low_load=1.0,
            high_load=18.0,
            backings=("black card", "white card", "lip", "skin dark"),
        )
        book.append(KIND, question, trial=TRIAL, id=diary.id(FIRST_DAY))
        trial = ShadeTrial(book, TRIAL)
        red, white, blue = PARTS
        trial = diary.swatch(trial, {red: 12.0}, None, 0, batch="masstones")
        trial = diary.swatch(trial, {red: 1.0, white: 12.0}, None, 1, batch="masstones")
        trial = diary.swatch(trial, {blue: 2.0, white: 10.0}, None, 2, batch="masstones")
        for at, (load, batch) in enumerate(
            (
                (9.0, "first"),
                (9.0, "first"),
                (9.0, "first"),
                (9.0, "second"),
                (9.0, "second"),
                (4.0, "second"),
            )
        ):
            trial = diary.swatch(trial, trial.blend(load), 10.0, 4 + at, batch=batch)
        diary.swatch(trial, trial.blend(9.0), 10.0, 12, batch="second", backing="black card")
        write_lines(book, path)


if __name__ == "__main__":
    make_book()
