"""Make the demo's recipes. Run by hand: ``python tests/make_demo_recipe.py``.

The recipes and their maker are invented. The same seed gives the same book.
"""

from datetime import UTC, datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
from diary import id_at

from labkit.book import TrialBook, write_lines
from labkit.recipe.groups import group_of
from labkit.recipe.record import Written
from labkit.recipe.written import KIND, WrittenRecipe

BOOK = Path(__file__).resolve().parent.parent / "data" / "demo-recipe.jsonl"
MAKER = "00000000-0000-4000-8000-0000000000de"
FIRST_DAY = datetime(2026, 6, 20, 10, 0, tzinfo=UTC)
FIRST = {
    "castor oil": 22.0, "shea butter": 10.0, "cocoa butter": 5.0, "beeswax": 4.6, "magnesium stearate": 1.6,
    "red iron oxide": 2.4, "titanium dioxide": 0.8, "ultramarine": 0.3,
}  # fmt: skip
PRICES = {
    "castor oil": 9.0, "shea butter": 14.0, "cocoa butter": 16.0, "beeswax": 19.0,
    "magnesium stearate": 22.0, "red iron oxide": 38.0, "titanium dioxide": 30.0, "ultramarine": 45.0,
}  # fmt: skip
WORK = """Melt oil, wax and butters over the water bath until it is clear.
Take it off, and stir in the stearate and the pigments, wetted in some of the oil.
Stir until a spatula drawn through shows no streak, then rub some out on a tile.
Cool, stirring, and pour before it thickens."""
RIGHT = "Even in colour from head to foot, glides without drag, and stands a warm day without bending."


def written(grams: dict[str, float], came_from: str = "") -> Written:
    """Return an invented recipe."""
    lines = [
        {"name": name, "grams": each, "group": group_of(name), "price_kg": PRICES[name]}
        for name, each in grams.items()
    ]
    return Written.of(
        {
            "lines": lines, "containers": 20, "fill_g": 4.25, "loss_percent": 10.0, "step_g": 0.1,
            "markets": ("EU", "UK"), "container_price": 0.7, "hottest_c": 85.0, "pour_c": 64.0,
            "waiting_h": 48.0, "work": WORK, "right": RIGHT, "came_from": came_from,
            "send_back": "a line to whoever gave you this card: what you changed, and how it came out.",
        }
    )  # fmt: skip


def make_book(path: Path = BOOK, seed: int = 3) -> None:
    """Write the demo recipes to a file of lines."""
    rng = np.random.default_rng(seed)
    with TemporaryDirectory() as folder, TrialBook(Path(folder) / "demo.db", maker=MAKER) as book:
        first = "Invented example: rosewood, first"
        book.append(KIND, written(FIRST), trial=first, id=id_at(FIRST_DAY, rng))
        version = WrittenRecipe(book, first).recipe.version
        firmer = FIRST | {"castor oil": 21.0, "beeswax": 5.6}
        second = "Invented example: rosewood"
        when = FIRST_DAY + timedelta(days=4)
        book.append(KIND, written(firmer, version), trial=second, id=id_at(when, rng))
        write_lines(book, path)


if __name__ == "__main__":
    make_book()
