"""What to know before a label is used, in a maker's words."""

from collections.abc import Mapping, Sequence

from labkit.materials import find
from labkit.rules.allergen_sheet import Found, Sheets
from labkit.rules.lines import Line, read_as
from labkit.rules.pack import EU_SMALLEST_G, LONG_LASTING_MONTHS, Pack
from labkit.rules.ruling import Ruling, permitted
from labkit.rules.whole import counted_percent, verdict

_BAD = ("not allowed", "over the limit", "unknown")


def notes_on(
    lines: Sequence[Line],
    market: str,
    pack: Pack,
    allergens: Found,
    sheets: Sheets,
    limits: Mapping[str, float],
    may_contain: Sequence[str],
) -> list[str]:
    """Return the notes on a label: what may not be sold first."""
    return [
        *_on_colourants(lines, market, may_contain),
        *_on_flavours(lines, market, allergens, sheets, limits),
        *read_as(list(lines)),
        *_on_pack(market, pack),
        _LANGUAGE[market],
    ]


def missing_from(lines: Sequence[Line], market: str, pack: Pack, sheets: Sheets) -> list[str]:
    """Return what a market asks of a label and nothing was given for, each with its rule."""
    found = [what for what, given in _asked(market, pack).items() if not given]
    without = [each.typed for each in lines if each.material.group == "flavour" and not _sheet(each, sheets)]
    if market != "US":
        found += [f"the allergen sheet of {name} (Article 19(1)(g), Annex III)" for name in without]
    return found


def _asked(market: str, pack: Pack) -> dict[str, object]:
    if market == "US":
        return {
            "net content (21 CFR 701.13)": pack.net_g,
            "name and place of business (21 CFR 701.12)": pack.responsible,
            "a contact for adverse events (FD&C Act, section 609(a))": pack.responsible,
        }
    return {
        "name and address of the responsible person (Article 19(1)(a))": pack.responsible,
        "net content (Article 19(1)(b))": pack.net_g,
        "durability, or the time after opening (Article 19(1)(c))": pack.durability(),
        "precautions, as the safety assessment gives them (Article 19(1)(d))": pack.cautions,
        "batch number (Article 19(1)(e))": pack.batch,
    }


def _on_colourants(lines: Sequence[Line], market: str, may_contain: Sequence[str]) -> list[str]:
    shares = [(each.material.colourant, each.percent) for each in lines if each.material.colourant]
    colours = {each.name: each for each in (*(colourant for colourant, _ in shares), *map(find, may_contain))}
    found = []
    for each in colours.values():
        share = counted_percent(each.name, each.form_of, shares)
        if said := _sentence(permitted(each, market, "lips"), share):
            found.append(said)
    return [words for _, words in sorted(found, key=lambda each: each[0])]


def _sentence(ruling: Ruling, share: float) -> tuple[int, str] | None:
    """Return how urgent a note is, and the note; None where there is nothing to say."""
    meant = verdict(ruling, share)
    name = ruling.colourant.name
    if meant.words in _BAD:
        first = "May not be sold so" if meant.words != "unknown" else "Not known"
        return 0, f"{first}: {name}. {meant.why} {ruling.why} ({ruling.citation})".replace("  ", " ")
    if meant.words == "only if certified":
        return 1, f"{name}: write it as the lot's certificate names it. {ruling.why} ({ruling.citation})"
    return (2, f"{name}: {ruling.why}") if "SCCS" in ruling.why else None


def _on_flavours(
    lines: Sequence[Line], market: str, allergens: Found, sheets: Sheets, limits: Mapping[str, float]
) -> list[str]:
    flavours = [each for each in lines if each.material.group == "flavour"]
    found = [_limit_words(each, limits) for each in flavours]
    if market == "US":
        return [*found, _TASTE_ONLY] if flavours else found
    found += [_no_sheet(each) for each in flavours if not _sheet(each, sheets)]
    found += [_look_up(name) for name in allergens.not_recorded]
    return [*found, _FEWER] if market == "UK" and allergens.named else found


def _look_up(name: str) -> str:
    return (
        f"“{name}” is on the sheet and not among the allergens recorded here: look it up in Annex III, as "
        "amended by Regulation (EU) 2023/1545."
    )


_TASTE_ONLY = (
    "“Flavor” stands for what gives taste; what also gives scent is called flavor and fragrance, or by its "
    "name (21 CFR 701.3(a))."
)
_FEWER = (
    "Great Britain may still ask for fewer allergens than the European Union; naming more is no fault "
    "(from memory)."
)


def _no_sheet(line: Line) -> str:
    return f"{line.typed}: without its allergen sheet this list is not complete."


def _limit_words(line: Line, limits: Mapping[str, float]) -> str:
    limit = limits.get(line.typed, limits.get(line.material.name))
    if limit is None:
        return f"{line.typed}: ask the supplier for its limit in products on the lips (IFRA category 1)."
    over = line.percent > limit + 1e-9
    says = "is over" if over else "is within"
    return f"{line.typed}: {line.percent:.3g} % {says} the supplier's limit for lips, {limit:g} %."


def _sheet(line: Line, sheets: Sheets) -> object:
    return sheets.get(line.typed) or sheets.get(line.material.name)


def _on_pack(market: str, pack: Pack) -> list[str]:
    if market == "US":
        return []
    found = []
    if pack.net_g is not None and pack.net_g < EU_SMALLEST_G:
        found.append("Below 5 g the net content need not be given (Article 19(1)(b)).")
    if pack.durable_months and pack.durable_months > LONG_LASTING_MONTHS and not pack.opened_months:
        found.append(
            "It lasts more than 30 months: say how long it may be used once open (Article 19(1)(c))."
        )
    return found


_LANGUAGE = {
    "US": "Letters of the ingredient list are at least 1/16 inch high (21 CFR 701.3(b)).",
    "EU": "The language of everything but the ingredient list is that of the country (Article 19(5)).",
    "UK": "Everything but the ingredient list is in English (Article 19(5), Great Britain).",
}
