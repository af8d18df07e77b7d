"""What could stand in for an ingredient that is out of stock, or that somebody cannot bear."""

from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from labkit.errors import LabError
from labkit.materials.families import belongs, families_of
from labkit.materials.likely_change import likely_changes
from labkit.materials.material import Material, known_ingredients
from labkit.materials.material_names import find_material
from labkit.materials.nearness import Difference, difference, rests_on, stands_beside
from labkit.materials.own_values import read_own

if TYPE_CHECKING:
    from pandas import DataFrame

    from labkit.materials.own_values import Own

    Trials = Iterable[Mapping[str, object]] | DataFrame | None

BESIDE = (
    "melting_c", "iodine_value", "saponification_value", "viscosity_mpa_s", "density_g_ml",
    "refractive_index", "heat_limit_c", "gels_oil_percent",
)  # fmt: skip
"""Properties that stand side by side."""
COLUMNS = (
    "material", "inci", "group", "your_trials", "you_saw", "likely_change", "how_sure", "difference", *BESIDE,
    "fatty_acids", "comes_from", "note",
)  # fmt: skip


def substitutes(
    material: str, avoid: str | Iterable[str] = (), own: "Own" = None, trials: "Trials" = None
) -> "DataFrame":
    """Return what could stand in for a material, best first, side by side with what is likely to change.

    What is avoided is left out first, by botanical or animal source, and so is what *may* come from there.
    Then come those that the maker has tried, then the others by how far they lie from it in what matters
    for its role (`labkit.materials.nearness.difference`). None of this says that nobody reacts to a material.

    Parameters
    ----------
    material : str
        What is to be replaced.
    avoid : str or iterable of str
        Families ("nuts", "bee", "castor"), or an ingredient whose family is avoided.
    own : mapping or DataFrame, optional
        The maker's own values and materials.
    trials : DataFrame or iterable of mappings, optional
        The maker's own trials: "instead_of", "used", and "saw" in words, where there are any.

    Returns
    -------
    DataFrame
        One row a candidate: material, inci, group, your_trials, you_saw, likely_change, how_sure, difference
        (in noticeable differences), the properties as ranges, fatty_acids, comes_from, note.
        `attrs["replaced"]` holds the same of what is replaced, `attrs["left_out"]` a mapping of what is
        avoided to why.

    Raises
    ------
    LabError
        Where a name or a family is not known, or a trial lacks its names.

    Examples
    --------
    >>> found = substitutes("beeswax", avoid="bee")
    >>> found["material"].iloc[0], "beeswax" in set(found["material"])
    ('candelilla wax', False)
    >>> substitutes("sweet almond oil", avoid="nuts").attrs["left_out"]["hazelnut oil"]
    'It belongs to what is avoided: tree nut.'
    """
    import pandas as pd

    replaced = find_material(material, own)
    if replaced.group == "colourant":
        raise LabError(
            f"{replaced.name} is a colourant: its colour decides. Look for a blend in the shade room."
        )
    avoided = families_of(avoid, own)
    seen = _trials(replaced, trials, own)
    mine = [find_material(name, own) for name in read_own(own)]
    names = dict.fromkeys([*seen, *(each.name for each in (*mine, *known_ingredients()))])
    others = [find_material(name, own) for name in names if name != replaced.name]
    left_out = {each.name: why for each in others if (why := belongs(each, avoided))}
    kept = [
        each
        for each in others
        if each.name not in left_out and (each.name in seen or stands_beside(replaced, each))
    ]
    rows = [_row(replaced, each, seen.get(each.name, [])) for each in kept if not each.made_of]
    rows.sort(key=lambda row: (-row["your_trials"], row["difference"]))
    table = pd.DataFrame(rows, columns=list(COLUMNS))
    table.attrs = {"replaced": _beside(replaced), "left_out": left_out}
    return table


def _trials(replaced: Material, trials: "Trials", own: "Own") -> dict[str, list[str]]:
    """Return what was seen, by the name of what was used instead, where this material was replaced."""
    found: dict[str, list[str]] = {}
    for at, trial in enumerate(_records(trials), start=1):
        for wanted in ("instead_of", "used"):
            if not isinstance(trial.get(wanted), str) or not str(trial[wanted]).strip():
                raise LabError(f"trial {at}: “{wanted}” is missing. Say what was used instead of what.")
        if find_material(str(trial["instead_of"]), own).name == replaced.name:
            saw = trial.get("saw")
            used = find_material(str(trial["used"]), own).name
            found.setdefault(used, []).append(saw.strip() if isinstance(saw, str) else "")
    return found


def _records(trials: "Trials") -> Sequence[Mapping[str, object]]:
    if trials is None:
        return []
    records: Iterable[Any] = trials.to_dict("records") if hasattr(trials, "to_dict") else trials
    return [dict(each) for each in records]


def _row(replaced: Material, other: Material, seen: list[str]) -> dict[str, Any]:
    changes = likely_changes(replaced, other)
    apart = difference(replaced, other)
    return {
        **_beside(other),
        "your_trials": len(seen),
        "you_saw": "; ".join(each for each in seen if each),
        "likely_change": "; ".join(changes) or _NOTHING[apart.known >= 0.5],
        "how_sure": _sure(seen, apart, rests_on(replaced, other)),
        "difference": round(apart.noticeable, 2),
    }


_NOTHING = {
    True: "nothing that the figures show; feel and taste may differ",
    False: "not known: too little is recorded",
}


def _beside(material: Material) -> dict[str, Any]:
    acids = sorted(material.fatty_acids.items(), key=lambda each: -each[1])
    return {
        "material": material.name,
        "inci": material.inci,
        "group": material.group,
        **{prop: str(material.values[prop]) if prop in material.values else "" for prop in BESIDE},
        "fatty_acids": ", ".join(f"{name} {share:g} %" for name, share in acids),
        "comes_from": material.comes_from,
        "note": material.note,
    }


def _sure(seen: list[str], apart: Difference, how: frozenset[str]) -> str:
    """Return in words how far it can be trusted, and what it rests on."""
    if seen:
        return "you tried it: that counts before any table"
    if apart.known < 0.5:
        return "a guess: less than half of what matters is recorded"
    if how <= {"published", "own"}:
        return "fairly: the figures are published or your own; how much it matters only a pour shows"
    return "roughly: some figures are from memory or trade practice; pour a small trial"
