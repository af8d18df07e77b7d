"""From a usual recipe and a complaint to a question with bounds, and to the first three pours."""

from collections.abc import Mapping, Sequence
from numbers import Real
from typing import Any

from labkit.errors import LabError, did_you_mean
from labkit.materials import name_words as names
from labkit.texture.record import HELD, LADDER, LONGEST_NAME, TOO_HARD, Ingredient, Question


def guess_part(name: str) -> str:
    """Guess what an ingredient counts as from its name; the maker can say otherwise.

    >>> [guess_part(name) for name in ("Beeswax", "shea butter", "castor oil", "red iron oxide")]
    ['wax', 'butter', 'oil', 'held constant']
    """
    return names.guess_part(name) or HELD


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
    limits = {**default_bounds(shares), **_known(bounds or {}, tuple(shares), "bounds", "part")}
    low, high = _ends(limits)
    words = (ladder,) if isinstance(ladder, str) else tuple(ladder)
    question = Question.of(
        {
            "usual": [each.model_dump() for each in lines],
            "complaint": wrong,
            "step_g": step_g,
            "batch_g": round(sum(each.grams for each in lines), 6) if batch_g is None else batch_g,
            "low": low,
            "high": high,
            "rules": (rules,) if isinstance(rules, str) else tuple(rules),
            "ladder": words,
            "wanted": wanted or words[len(words) // 2],
        }
    )
    refuse_coarse(question)
    return question


def _lines(
    usual: Mapping[str, float] | Sequence[Ingredient], parts: Mapping[str, str]
) -> tuple[Ingredient, ...]:
    if not isinstance(usual, Mapping):
        lines = tuple(usual) if isinstance(usual, Sequence) and not isinstance(usual, str) else ()
        if not lines or not all(isinstance(each, Ingredient) for each in lines):
            raise LabError(
                "Give the usual recipe as grams by ingredient, such as {'beeswax': 6, 'castor oil': 20}."
            )
        return lines
    _known(parts, tuple(usual), "parts", "ingredient")
    return tuple(ingredient(name, grams, parts.get(name)) for name, grams in usual.items())


def ingredient(name: str, grams: float, part: str | None = None) -> Ingredient:
    """Return a line of a recipe; the part is guessed from the name where none is given.

    Raises
    ------
    LabError
        For a name or a number of grams that cannot be.
    """
    if not isinstance(name, str) or not 1 <= len(name.strip()) <= LONGEST_NAME:
        raise LabError(f"Every line needs the name of an ingredient, of at most {LONGEST_NAME} letters.")
    if isinstance(grams, bool) or not isinstance(grams, Real) or not 0 < grams < float("inf"):
        raise LabError(f"{name}: {grams} g cannot be weighed. Give grams above 0, or leave it out.")
    return Ingredient(name=name, grams=float(grams), part=str(part or guess_part(name)))


def _known(given: Mapping[str, Any], known: Sequence[str], what: str, thing: str) -> Mapping[str, Any]:
    """Return what was given by name, or raise `LabError` for a name that is not known."""
    if not isinstance(given, Mapping):
        raise LabError(f"Give {what} by {thing}, such as {{{known[-1]!r}: …}}; {given!r} is none of that.")
    if unknown := [name for name in given if name not in known]:
        raise LabError(
            f"In {what}: there is no {thing} “{unknown[0]}”. {did_you_mean(str(unknown[0]), known)}"
        )
    return given


def _ends(limits: Mapping[str, Any]) -> tuple[dict[str, float], dict[str, float]]:
    for part, ends in limits.items():
        pair = isinstance(ends, Sequence) and not isinstance(ends, str) and len(ends) == 2
        if not pair or not all(isinstance(end, Real) for end in ends):
            raise LabError(
                f"{part}: give a low and a high share of the base, such as (0.1, 0.3); {ends!r} is none."
            )
    return (
        {part: float(ends[0]) for part, ends in limits.items()},
        {part: float(ends[1]) for part, ends in limits.items()},
    )


def refuse_coarse(question: Question) -> None:
    """Raise `LabError` where the scale cannot weigh a varied ingredient of one pour at all."""
    scale = question.batch_g / question.usual_g
    varied = [each for each in question.usual if each.part != HELD]
    least = min(varied, key=lambda each: each.grams)
    if question.step_g > least.grams * scale:
        enough = question.batch_g * question.step_g / (least.grams * scale)
        raise LabError(
            f"A pour of {question.batch_g:g} g holds {least.grams * scale:.2g} g of {least.name}, less than "
            f"one step of your scale ({question.step_g:g} g). Pour {enough:.2g} g or more, or weigh on a "
            "finer scale."
        )


def hardener(parts: Sequence[str]) -> str:
    """Return the part that hardens: the wax, else the last one (common practice, no source)."""
    return next((part for part in parts if guess_part(part) == "wax"), parts[-1])


def one_change(question: Question) -> dict[str, float]:
    """Return the usual shares of the base with the one change that answers the complaint.

    Wax down by a quarter where it is too hard, else up by a quarter; the largest
    other part gives way, so that one thing changes at a time.
    """
    shares = base_shares(question.usual)
    wax = hardener(question.parts)
    gives = max((part for part in shares if part != wax), key=lambda part: shares[part])
    change = 0.25 * shares[wax] * (-1 if question.complaint == TOO_HARD else 1)
    return {**shares, wax: shares[wax] + change, gives: shares[gives] - change}
