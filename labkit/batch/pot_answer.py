"""What a drip says about the pot, and the grams to add now."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from labkit.batch.additions import Additions, smallest_additions
from labkit.batch.colour_additions import ColourAdditions, smallest_colour_additions
from labkit.batch.handed import HandedColour, HandedHardness
from labkit.batch.off_colour import way_words, ways
from labkit.batch.pot import Pot
from labkit.batch.side_effects import Watched
from labkit.quantities import show_grams

HALF_A_WORD = 0.5
"""“Too soft” is taken as half a word of the ladder (a judgement)."""
SHOWN = 4
"""So many additions are shown of each kind, the smallest."""

_SIDES = {"too soft": HALF_A_WORD, "too hard": -HALF_A_WORD}
_RIGHT = "Hard as it should be, and the colour too: nothing to add."
_OUTSIDE = (
    "This pot, as it stands, lies outside what that trial looked at, so it does not say how hard it sets."
)
_BOTH = (
    "Put one thing right at a time: first how hard it is, since that takes more grams and thins the colour; "
    "then another drip."
)


@dataclass(frozen=True)
class Offer:
    """An addition that can be logged with one press: what it is called, and its grams by ingredient."""

    name: str
    parts_g: Mapping[str, float]


@dataclass(frozen=True, eq=False)
class Answer:
    """What follows from a drip.

    Attributes
    ----------
    said : list of str
        Sentences, the first the most important.
    hardness, colour : Additions and ColourAdditions, or None
        Where that was off.
    watched : Watched
        What else was looked at.
    ladder : tuple of str
        Hardness words of the model.
    """

    said: list[str]
    watched: Watched = field(default_factory=Watched)
    hardness: Additions | None = None
    colour: ColourAdditions | None = None
    ladder: tuple[str, ...] = ()

    @property
    def offers(self) -> list[Offer]:
        """What can be added, as it is listed."""
        found = []
        if self.hardness is not None:
            rows = self.hardness.rows.head(SHOWN)
            found += [Offer(name, {name: g}) for name, g in zip(rows["add"], rows["grams"], strict=True)]
        if self.colour is not None:
            rows = self.colour.rows.head(SHOWN)
            found += [Offer(name, parts) for name, parts in zip(rows["add"], rows["parts_g"], strict=True)]
        return found


def answer(
    pot: Pot,
    felt: str,
    off: str,
    kinds: Mapping[str, str],
    step_g: float,
    hardness: HandedHardness,
    colour: HandedColour | None = None,
    at_hand: Sequence[str] = (),
) -> Answer:
    """Return what to add to a pot whose drip felt so, and whose colour is off like that.

    Parameters
    ----------
    pot : Pot
        What is in it.
    felt : str
        "too soft", "right", "too hard", or "" where it was not felt.
    off : str
        As `labkit.batch.off_colour.ways`, or "right", or "".
    kinds : mapping of ingredient to kind
        Of the recipe: "oil", "wax", "butter", "powder", "scent".
    step_g : float [g]
        Of the scale.
    hardness, colour
        What other rooms know.
    at_hand : sequence of str
        Pigments beside those of the recipe.
    """
    watched = _watched(pot, kinds, hardness, colour)
    if felt not in _SIDES and off not in ways():
        return Answer([_RIGHT if felt and off else _nothing(felt, off)], watched)
    harder = _harder(pot, felt, kinds, step_g, hardness) if felt in _SIDES else None
    recipe = [name for name in kinds if colour and colour.names([name])]
    bluer = (
        smallest_colour_additions(pot.grams, off, watched, [*recipe, *at_hand], step_g)
        if off in ways()
        else None
    )
    said = _lead(felt, off, step_g, harder, bluer)
    said += [_BOTH] if harder is not None and bluer is not None else []
    said += _hardness_words(pot, felt, hardness, harder)
    said += _colour_words(watched, colour, bluer)
    return Answer(said, watched, harder, bluer, hardness.ladder)


def _lead(
    felt: str, off: str, step_g: float, harder: Additions | None, bluer: ColourAdditions | None
) -> list[str]:
    """Return what to do now, where there is something that helps."""
    if harder is not None and len(harder.rows):
        first, to = harder.rows.iloc[0], "harder" if felt == "too soft" else "softer"
    elif bluer is not None and len(bluer.rows):
        first, to = bluer.rows.iloc[0], way_words(off)
    else:
        return []
    return [
        f"Add {show_grams(first['grams'], step_g)} g of {first['add']} to make it {to}; stir, and drip again."
    ]


def _nothing(felt: str, off: str) -> str:
    what = "how hard it is" if felt else "the colour"
    rest = "the colour was not looked at" if felt else "it was not felt"
    return f"Right in {what}; {rest}." if felt or off else "Nothing was said of this drip."


def _watched(
    pot: Pot, kinds: Mapping[str, str], hardness: HandedHardness, colour: HandedColour | None
) -> Watched:
    forecast = colour.names(list(pot.grams)) if colour else ()
    pigments = tuple(dict.fromkeys((*forecast, *pot.colourants)))
    waxes = tuple(name for name in pot.grams if kinds.get(name) == "wax")
    return Watched(pigments, waxes, hardness.model, colour.model if colour else None)


def _harder(
    pot: Pot, felt: str, kinds: Mapping[str, str], step_g: float, hardness: HandedHardness
) -> Additions:
    aside = {name for name, kind in kinds.items() if kind in ("powder", "scent")} | set(pot.colourants)
    may_add = [name for name in dict.fromkeys((*pot.grams, *kinds)) if name not in aside]
    return smallest_additions(pot.grams, hardness.model, _SIDES[felt], may_add, step_g)


def _hardness_words(pot: Pot, felt: str, hardness: HandedHardness, found: Additions | None) -> list[str]:
    if found is None:
        return []
    taken = f"“{felt.capitalize()}” is taken as half a word of your ladder."
    if hardness.model is None:
        return [hardness.words, found.why]
    if hardness.model(pot.shares) is None:
        return [hardness.words, _OUTSIDE, found.why]
    return [hardness.words, taken, found.why]


def _colour_words(watched: Watched, colour: HandedColour | None, found: ColourAdditions | None) -> list[str]:
    if found is None:
        return []
    if colour is None:
        return [found.why]
    strange = [name for name in watched.pigments if not colour.names([name])]
    if strange:
        return [f"There is no forecast of {', '.join(strange)}, so none of this pot's colour.", found.why]
    return [colour.words(watched.pigments), found.why]
