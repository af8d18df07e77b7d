"""What was found in a bundle."""

from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path

from labkit.share.outputs_apart import Apart
from labkit.share.rerun import Code

SHOWN = 20


@dataclass(frozen=True)
class Verified:
    """What was found in a bundle.

    Attributes
    ----------
    path : Path
    sha256 : str
        Of the whole file: compare it with what the maker told you. Whoever rewrites all of a bundle can
        rewrite the checksums in it too.
    trials : tuple of str
    entries : int
        Whole ones.
    problems : tuple of str
        What is not as it should be, a sentence each.
    remarks : tuple of str
        What else to know.
    versions_apart : tuple of str
        What has another version here than where the bundle was made.
    would_run : tuple of Code
        The code that a rerun runs, cell by cell.
    apart : tuple of Apart
        What a rerun found to differ, what is rounding too.
    same : int or None
        How many numbers came out again; None without a rerun.
    """

    path: Path
    sha256: str
    trials: tuple[str, ...] = ()
    entries: int = 0
    problems: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()
    versions_apart: tuple[str, ...] = ()
    would_run: tuple[Code, ...] = field(default=(), repr=False)
    apart: tuple[Apart, ...] = ()
    same: int | None = None

    @property
    def ok(self) -> bool:
        """Whether nothing is wrong."""
        return not self.problems

    @property
    def plan(self) -> str:
        """What a rerun would run, in words."""
        if not self.would_run:
            return "No code is in it."
        cells = Counter(each.notebook for each in self.would_run)
        listed = ", ".join(f"“{name}” ({count} cell{'s' * (count != 1)})" for name, count in cells.items())
        return (
            f"A rerun runs the code of {listed} on this computer, with your rights, in a temporary folder "
            "and on a book of the bundle's entries alone. Run what you have read, or whose maker you trust."
        )

    def __str__(self) -> str:
        shown = [f"Wrong: {each}" for each in self.problems[:SHOWN]]
        more = len(self.problems) - SHOWN
        return "\n".join(
            [
                f"{self.path.name}: {'; '.join(self.trials) or 'no trials'}; {self.entries} entries",
                f"SHA-256 {self.sha256}",
                *shown,
                *([f"Wrong: {more} things more."] if more > 0 else []),
                *self.remarks,
                *([] if self.problems else ["Everything is as it was written."]),
                *(
                    []
                    if self.same is None
                    else [f"Run again: {self.same} numbers came out as they are stored."]
                ),
            ]
        )
