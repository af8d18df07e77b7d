"""The form of a wanted colour: which, out of which pigments, how much at most, and what is in the pot now."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from labkit.colour.cie import on_screen
from labkit.colour.typed import read_colour
from labkit.errors import LabError
from labkit.quantities import read_number
from labkit.shade.backing import names as backing_names
from labkit.shade.pigments import default_pigments
from labkit.shade.pot import BASE as POT_BASE
from labkit.shade.question_form import FILMS, USUAL_FILM
from labkit.ui.form import Field, Group, Values
from labkit.ui.reading import Faults, only

if TYPE_CHECKING:
    from labkit.shade.trial import ShadeTrial

BASE = "everything else (the base)"
COLOUR_HINT = "A screen's code such as #8a3b2c, or L*a*b*: 41.2 28 19."
AMONG_INTRO = "Tick the pigments that you have. Those that your market does not allow on lips are not here."
UNRECORDED = (
    "What may go on lips in {market} is not recorded here, so nothing is left out: look up every pigment in "
    "the rules there before you use it. Tick the pigments that you have."
)
MORE_BASE = "more base, into a pot"
POT_INTRO = (
    "If something is in the pot already: its grams. Nothing can be taken out, so the lab says what to add."
)


@dataclass(frozen=True)
class Wanted:
    """A wanted colour and within what: the arguments of `find_shade`."""

    lab: np.ndarray
    among: tuple[str, ...]
    max_load: float
    film_um: float
    backing: str
    pot: dict[str, float] | None


def wish_groups(trial: "ShadeTrial", allowed: Sequence[str], told: str, colour: str = "") -> list[Group]:
    """Return what is asked; ``allowed`` are the pigments that may be taken, ``told`` what is said of that."""
    own = trial.pigment_names
    film = next((said for said, um in FILMS.items() if um == trial.question.film_um), USUAL_FILM)
    wanted = (
        Field("colour", "Wanted colour", "colour", hint=COLOUR_HINT, start=colour),
        Field("max_load", "At most", "number", "% pigment", start=f"{trial.question.high_load:g}"),
        Field("film", "In a film of", "choice", choices=tuple(FILMS), start=film),
        Field("backing", "Over", "choice", choices=backing_names(), start="lip"),
    )  # fmt: skip
    ticks = tuple(Field(name, name, "tick", start="yes" if name in own else "") for name in allowed)
    ticks += (Field(POT_BASE, MORE_BASE, "tick"),)
    pot = tuple({"_row": name} for name in (*own, BASE))
    return [
        Group("wish", wanted),
        Group("among", ticks, "Among", told),
        Group(
            "pot", (Field("g", "In the pot", "number", "g"),), "In the pot now", POT_INTRO, (*own, BASE), pot,
            "What", more=True,
        ),
    ]  # fmt: skip


def allowed_pigments(market: str) -> tuple[list[str], str]:
    """Return the pigments that may be forecast and that the market allows on lips, and what to say of it.

    Where nothing is recorded for the market, all are returned, and that is said.
    """
    from labkit.rules import permitted

    names = list(default_pigments())
    status = {name: permitted(name, market).status for name in names}
    if set(status.values()) == {"unknown"}:
        return names, UNRECORDED.format(market=market)
    return [name for name in names if status[name] not in ("not allowed", "unknown")], AMONG_INTRO


def read_wish(values: Values) -> Wanted:
    """Return what is wanted.

    Raises
    ------
    FormError
        With a message at each place that is missing or wrong.
    """
    faults = Faults()
    asked = only(values, "wish")
    wish = _read(values, faults)
    if wish is None and not asked.get("colour", "").strip():
        faults.found["wish//colour"] = "Which colour do you want? " + COLOUR_HINT
    faults.stop()
    assert wish is not None
    return wish


def check_wish(values: Values) -> dict[str, str]:
    """Return what is wrong with what was typed so far."""
    faults = Faults()
    _read(values, faults)
    return faults.found


def _read(values: Values, faults: Faults) -> Wanted | None:
    asked, text = only(values, "wish"), only(values, "wish").get("colour", "").strip()
    lab = faults.read("wish//colour", _wanted, text) if text else None
    max_load = faults.read("wish//max_load", _load, asked.get("max_load", ""))
    pot = _pot(values, faults)
    ticked = (name for name, tick in only(values, "among").items() if tick)
    among = tuple(name for name in ticked if pot or name != POT_BASE)
    if not among and "among" in values:
        faults.found[f"among//{next(iter(only(values, 'among')), '')}"] = "Tick at least one pigment."
    if lab is None or max_load is None or not among:
        return None
    film = FILMS.get(asked.get("film", ""), FILMS[USUAL_FILM])
    return Wanted(lab, among, max_load, film, asked.get("backing") or "lip", pot)


def _wanted(text: str) -> np.ndarray:
    lab = read_colour(text, "the wanted colour")
    if not on_screen(lab):
        raise LabError(
            "The wanted colour: no screen can show this one. Take one that you can see, "
            "or a swatch's reading."
        )
    return lab


def _load(text: str) -> float:
    load = read_number(text, "at most", "%")
    if not 0 < load <= 100:
        raise LabError(f"At most {load:g} % cannot be: a load is more than 0 and at most 100 %.")
    return load


def _pot(values: Values, faults: Faults) -> dict[str, float] | None:
    pot: dict[str, float] = {}
    for row in values.get("pot", []):
        if text := row.get("g", "").strip():
            grams = faults.read(f"pot/{row['_row']}/g", read_number, text, row["_row"], "g")
            if grams is not None and grams < 0:
                faults.found[f"pot/{row['_row']}/g"] = f"{row['_row']}: {grams:g} g cannot be in a pot."
            elif grams:
                pot[POT_BASE if row["_row"] == BASE else row["_row"]] = grams
    return pot or None
