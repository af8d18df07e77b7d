"""From a usual recipe and a complaint to a question with bounds, and to the first three pours."""

from collections.abc import Mapping, Sequence

from labkit.errors import LabError
from labkit.texture.record import HELD, LADDER, Ingredient, Question

_WORDS = {
    "wax": ("wax", "cera", "ozokerite"),
    "butter": ("butter", "shea", "cacao", "cocoa", "mango", "kokum", "illipe"),
    "oil": ("oil", "squalane", "triglyceride", "jojoba", "castor", "ester"),
}
_HELD_WORDS = ("stearate", "pigment", "oxide", "mica", "silica", "kaolin", "flavour", "tocopherol", "vitamin")


def guess_part(name: str) -> str:
    """Guess what an ingredient counts as from its name; the maker can say otherwise.

    >>> [guess_part(name) for name in ("Beeswax", "shea butter", "castor oil", "red iron oxide")]
    ['wax', 'butter', 'oil', 'held constant']
    """
    folded = name.casefold()
    if any(word in folded for word in _HELD_WORDS):
        return HELD
    return next((part for part, words in _WORDS.items() if any(word in folded for word in words)), HELD)


def base_shares(usual: Sequence[Ingredient]) -> dict[str, float]:
    """Return the share of each varied part in the base, summing to 1."""
    grams: dict[str, float] = {}
    for each in usual:
        if each.part != HELD:
            grams[each.part] = grams.get(each.part, 0.0) + each.grams
    total = sum(grams.values())
    if not total:
        raise LabError("The usual recipe has nothing to vary: say which lines are butter, oil or wax.")
    return {part: each / total for part, each in grams.items()}


def default_bounds(shares: Mapping[str, float]) -> dict[str, tuple[float, float]]:
    """Return a low and a high for each part, about the usual recipe.

    A tenth of the base either way, and a quarter of the part where that is more:
    wide enough to change the hardness, near enough to stay a lip colour (common
    practice, no source).
    """

    def bounds(share: float) -> tuple[float, float]:
        reach = max(0.10, 0.25 * share)
        return round(max(0.02, share - reach), 3), round(min(0.95, share + reach), 3)

    return {part: bounds(share) for part, share in shares.items()}


def make_question(
    usual: Mapping[str, float] | Sequence[Ingredient],
    wrong: str = "too soft",
    step_g: float = 0.1,
    *,
    parts: Mapping[str, str] | None = None,
    bounds: Mapping[str, tuple[float, float]] | None = None,
    rules: Sequence[str] = (),
    ladder: Sequence[str] = LADDER,
    wanted: str | None = None,
    batch_g: float | None = None,
) -> Question:
    """Return the question of a trial; everything but the recipe has a default.

    Parameters
    ----------
    usual
        Grams of each ingredient, or `Ingredient` lines.
    wrong
        "too soft", "too hard", or the maker's own words.
    step_g
        Step of the scale, in g.
    parts
        What an ingredient counts as, where the guess from its name is wrong.
    bounds
        Low and high share of the base for parts whose default does not suit.
    batch_g
        Finished product in one pour, in g; by default that of the usual recipe.

    Raises
    ------
    LabError
        Where the recipe leaves nothing to vary or the bounds contradict each other.
    """
    lines = _lines(usual, parts or {})
    shares = base_shares(lines)
    limits = {**default_bounds(shares), **(bounds or {})}
    return Question.of(
        {
            "usual": [each.model_dump() for each in lines],
            "complaint": wrong,
            "step_g": step_g,
            "batch_g": batch_g or round(sum(each.grams for each in lines), 6),
            "low": {part: limits[part][0] for part in shares},
            "high": {part: limits[part][1] for part in shares},
            "rules": tuple(rules),
            "ladder": tuple(ladder),
            "wanted": wanted or ladder[len(ladder) // 2],
        }
    )


def _lines(
    usual: Mapping[str, float] | Sequence[Ingredient], parts: Mapping[str, str]
) -> tuple[Ingredient, ...]:
    if not isinstance(usual, Mapping):
        return tuple(usual)
    for name, grams in usual.items():
        if not (0 < grams < float("inf")):
            raise LabError(f"{name}: {grams:g} g cannot be weighed. Leave it out if there is none.")
    return tuple(
        Ingredient(name=name, grams=grams, part=parts.get(name, guess_part(name)))
        for name, grams in usual.items()
    )


def hardener(parts: Sequence[str]) -> str:
    """Return the part that hardens: the wax, else the last one (common practice, no source)."""
    return next((part for part in parts if guess_part(part) == "wax"), parts[-1])


def one_change(question: Question) -> dict[str, float]:
    """Return the usual shares of the base with the one change that answers the complaint.

    Wax up by a quarter where it is too soft, down by a quarter where it is too
    hard; the largest other part gives way, so that one thing changes at a time.
    """
    shares = base_shares(question.usual)
    wax = hardener(question.parts)
    softer = "hard" in question.complaint or "draggy" in question.complaint
    gives = max((part for part in shares if part != wax), key=lambda part: shares[part])
    change = 0.25 * shares[wax] * (-1 if softer else 1)
    return {**shares, wax: shares[wax] + change, gives: shares[gives] - change}
