"""The template notebooks and the demo data, in a checkout and in an installed wheel alike."""

from dataclasses import dataclass
from pathlib import Path

from labkit.errors import LabError

FIRST = "texture-trial"


@dataclass(frozen=True)
class Assets:
    """What labkit ships beside its code, each list sorted by name."""

    notebooks: tuple[Path, ...]
    data: tuple[Path, ...]

    @property
    def demo(self) -> tuple[Path, ...]:
        """The invented trial books among the data."""
        return tuple(each for each in self.data if each.name.startswith("demo"))

    @property
    def opened(self) -> Path:
        """The template that the lab opens with: a maker begins with the base."""
        return self.notebook(FIRST) or self.notebooks[0]

    def notebook(self, name: str) -> Path | None:
        """Return the template called `name` (with or without .ipynb), or None."""
        stem = name.removesuffix(".ipynb").casefold()
        return next((each for each in self.notebooks if each.stem.casefold() == stem), None)


def assets(package: Path | None = None) -> Assets:
    """Find what is shipped for the `labkit` folder at `package` (by default the one in use).

    An installed wheel carries it inside the package, in `_shipped`; a checkout has
    it beside the package. LabError if neither is there.
    """
    home = package or Path(__file__).resolve().parent
    for base in (home / "_shipped", home.parent):
        if notebooks := _files(base / "notebooks", "*.ipynb"):
            return Assets(notebooks, _files(base / "data", "*"))
    raise LabError(
        f"The template notebooks are missing beside {home}: this labkit was not installed whole. "
        "Install lipcolour-labkit again."
    )


def _files(folder: Path, pattern: str) -> tuple[Path, ...]:
    return tuple(sorted(each for each in folder.glob(pattern) if each.is_file()))
