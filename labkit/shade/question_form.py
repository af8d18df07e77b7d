"""The form of a shade trial's question: market, pigments, load, film, what it is shown over."""

from collections.abc import Mapping
from typing import Any

from labkit.errors import LabError
from labkit.quantities import read_number
from labkit.rules.asked import MARKETS
from labkit.shade.backing import names as backing_names
from labkit.shade.pigments import default_pigments
from labkit.shade.record import USUAL_BACKINGS, Question
from labkit.ui.form import Field, Group, Values
from labkit.ui.reading import Faults, declared_fields, only, read_fields

FILMS = {"one swipe (5 µm)": 5.0, "a normal use (10 µm)": 10.0, "built up (20 µm)": 20.0}
"""5 and 10 mg over 9.6 cm² of lips are 5 and 11 µm (mass a use: Loretz et al. 2005); built up: judgement."""
OTHER_FILM = "another film, see More"
USUAL_FILM = "a normal use (10 µm)"
PIGMENTS_INTRO = (
    "In parts, as you think of the blend: 3 of red to 1 of white. Each is checked for lips as you pick it."
)
DETAILS = ("density_g_ml", "index", "batch_g", "step_g")


def question_groups(saved: Question | None = None, told: str = "") -> list[Group]:
    """Return what is asked; ``told`` is what the market says of the pigments typed so far."""
    market = Field(
        "market", "1. Where will it be worn or sold?", "choice", choices=tuple(MARKETS), big=True,
        start=saved.market if saved else "",
    )  # fmt: skip
    fields = (Field("name", "Pigment", choices=default_pigments().names), Field("parts", "Parts", "number"))
    pigments = Group(
        "pigments", fields, "2. Which pigments, in which ratio?", told or PIGMENTS_INTRO, "grow",
        _pigment_starts(saved), grow_label="Another pigment",
    )  # fmt: skip
    return [Group("market", (market,)), pigments, _range_group(saved), *_more_groups(saved)]


def _pigment_starts(saved: Question | None) -> tuple[Mapping[str, str], ...]:
    if saved is None:
        return ({}, {}, {})
    return tuple({"name": name, "parts": f"{parts:g}"} for name, parts in saved.parts.items())


def _range_group(saved: Question | None) -> Group:
    low, high = (f"{saved.low_load:g}", f"{saved.high_load:g}") if saved else ("1", "20")
    film = next((said for said, um in FILMS.items() if saved and um == saved.film_um), OTHER_FILM)
    fields = (
        Field("low_load", "3. Load from", "number", "%", "A sheer tint has 1 to 5 % of pigment.", start=low),
        Field("high_load", "to", "number", "%", "A full lip colour has 5 to 15 %.", start=high),
        Field("film", "4. How thick a film?", "choice", choices=(*FILMS, OTHER_FILM), big=True,
              start=film if saved else USUAL_FILM),
    )  # fmt: skip
    return Group("range", fields)


def _more_groups(saved: Question | None) -> list[Group]:
    shown = saved.backings if saved else USUAL_BACKINGS
    ticks = tuple(Field(name, name, "tick", start="yes" if name in shown else "") for name in backing_names())
    name = () if saved else (Field("name", "Name of this trial", placeholder="made from your answers"),)
    film_um = Field("film_um", "Film", "number", "µm", start=f"{saved.film_um:g}" if saved else "")
    return [
        Group("backings", ticks, "Shown over", "A card, a lip, skin from very light to dark.", more=True),
        Group("details", (*name, film_um, *declared_fields(Question, DETAILS, saved)), "And", more=True),
    ]


def read_question(values: Values) -> tuple[Question, str]:
    """Return the question that was asked and the name given to the trial.

    Raises
    ------
    FormError
        With a message at each place that is missing or wrong.
    """
    faults = Faults()
    fields = _read(values, faults)
    if not fields["market"]:
        faults.found["market//market"] = "Choose one: a pigment may be allowed in one and not in another."
    if not fields["parts"] and not faults.found:
        faults.found["pigments/1/name"] = "Name at least one pigment and its parts."
    _missing_parts(values, faults)
    faults.stop()
    return Question.of(fields), only(values, "details").get("name", "").strip()


def check_question(values: Values) -> dict[str, str]:
    """Return what is wrong with what was typed so far; what is missing is not wrong yet."""
    faults = Faults()
    _read(values, faults)
    return faults.found


def _missing_parts(values: Values, faults: Faults) -> None:
    for at, row in enumerate(values.get("pigments", []), 1):
        if row.get("name", "").strip() and not row.get("parts", "").strip():
            faults.found[f"pigments/{at}/parts"] = f"How many parts of {row['name'].strip()}?"


def _read(values: Values, faults: Faults) -> dict[str, Any]:
    market = only(values, "market").get("market", "")
    asked = only(values, "range")
    fields = read_fields(Question, values, ("details",), "", faults)
    fields |= {
        "market": market,
        "parts": read_pigments(values, market, faults),
        "low_load": _load(asked.get("low_load", ""), "low_load", faults),
        "high_load": _load(asked.get("high_load", ""), "high_load", faults),
        "film_um": _film(asked.get("film", ""), only(values, "details").get("film_um", ""), fields, faults),
        "backings": tuple(name for name, tick in only(values, "backings").items() if tick) or USUAL_BACKINGS,
    }
    low, high = fields["low_load"], fields["high_load"]
    if low is not None and high is not None and not low < high:
        faults.found["range//high_load"] = "This must be more than where the load starts from."
    return fields


def read_pigments(values: Values, market: str, faults: Faults) -> dict[str, float]:
    """Read the lines that have something in them; a pigment that the market forbids on lips is a fault."""
    blend: dict[str, float] = {}
    for at, row in enumerate(values.get("pigments", []), 1):
        typed, parts_text = row.get("name", "").strip(), row.get("parts", "").strip()
        if not typed:
            if parts_text:
                faults.found[f"pigments/{at}/name"] = "Which pigment is this?"
            continue
        name = faults.read(f"pigments/{at}/name", pick, typed, market)
        parts = faults.read(f"pigments/{at}/parts", read_number, parts_text, typed) if parts_text else None
        if parts is not None and not parts > 0:
            faults.found[f"pigments/{at}/parts"] = (
                f"{typed}: {parts:g} parts cannot be. Leave the line empty."
            )
        elif name in blend:
            faults.found[f"pigments/{at}/name"] = (
                f"“{name}” stands there already: put its parts into one line."
            )
        elif name and parts:
            blend[name] = parts
    return blend


def pick(typed: str, market: str = "") -> str:
    """Return the name of a pigment that was typed.

    Raises
    ------
    LabError
        Where it cannot be forecast, is of a grade that does not belong on lips, or is not allowed on
        lips in the market.

    >>> pick("CI 77491")
    'red iron oxide'
    """
    from labkit.materials import refused_grade

    if refused := refused_grade(typed):
        raise LabError(refused)
    if market and (said := _forbidden(typed, market)):
        raise LabError(said)
    return default_pigments().resolve(typed)


def _forbidden(typed: str, market: str) -> str:
    """Return why a market forbids a colourant on lips; nothing where it does not, or it is not known."""
    from labkit.rules import permitted

    try:
        ruling = permitted(typed, market)
    except LabError:
        return ""
    if ruling.status != "not allowed":
        return ""
    return (
        f"{ruling.colourant.name}: not allowed on lips in {ruling.market} ({ruling.citation}). {ruling.why}"
    )


def market_words(names: Mapping[str, Any] | tuple[str, ...], market: str) -> str:
    """Return what the market says of these pigments on lips, in one line each."""
    from labkit.rules import permitted

    said = []
    for name in names:
        ruling = permitted(name, market)
        if ruling.status == "unknown":
            said.append(f"{name}: not recorded here, look in {ruling.citation}.")
            continue
        limit = f", at most {ruling.limit_percent:g} %" if ruling.limit_percent is not None else ""
        how = ", from memory: check it" if ruling.how == "memory" else ""
        said.append(f"{name}: {ruling.status}{limit} ({ruling.citation}{how}).")
    return f"On lips, {market}: {' '.join(said)}" if said else ""


def _load(text: str, place: str, faults: Faults) -> float | None:
    load: float | None = faults.read(f"range//{place}", read_number, text, "the load", "%")
    if load is not None and not 0 < load <= 100:
        faults.found[f"range//{place}"] = f"{load:g} % cannot be: a load is more than 0 and at most 100 %."
        return None
    return load


def _film(said: str, typed: str, fields: Mapping[str, Any], faults: Faults) -> float:
    if said in FILMS:
        return FILMS[said]
    if not typed.strip():
        faults.found["details//film_um"] = "How thick, in µm? A swipe on lips is 3 to 25."
    return fields.get("film_um") or FILMS[USUAL_FILM]
