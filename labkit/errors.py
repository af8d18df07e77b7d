"""The one error that a maker is meant to read."""

from collections.abc import Iterable
from difflib import get_close_matches


class LabError(ValueError):
    """Something typed or asked for cannot be done.

    The message says what was found, why it cannot be, and what to do, in the
    maker's words: panels show it as it stands.
    """


def did_you_mean(name: str, known: Iterable[str]) -> str:
    """Return "Did you mean “soft”? " style help for a name that is not known.

    Near names are offered where there are any, else the whole list.

    >>> did_you_mean("sofft", ["soft", "hard"])
    'Did you mean “soft”?'
    >>> did_you_mean("xyz", ["soft", "hard"])
    'Known: “soft”, “hard”.'
    """
    names = list(known)
    folded = {each.casefold(): each for each in names}
    near = [folded[key] for key in get_close_matches(name.casefold().strip(), folded, n=3)]
    if near:
        return "Did you mean " + " or ".join(f"“{each}”" for each in near) + "?"
    return "Known: " + ", ".join(f"“{each}”" for each in names) + "."
