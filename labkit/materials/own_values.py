"""What the maker knows of their own lots, which counts before any table."""

import math
from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Any, get_args

from labkit.errors import LabError, did_you_mean
from labkit.materials.fat_numbers import ACIDS
from labkit.materials.material import PROPERTIES, YOUR_OWN, Group, Material, Value
from labkit.quantities import read_number

if TYPE_CHECKING:
    from pandas import DataFrame

    Own = Mapping[str, Mapping[str, object]] | DataFrame | None

_TEXTS = ("inci", "us_name", "cas", "group", "role", "comes_from", "note")
_LISTS = ("families", "other_names")
_TABLES = ("fatty_acids", "made_of")
_FIELDS = (*_TEXTS, *_LISTS, *_TABLES, *PROPERTIES)
_MAY_BE_BELOW_0 = {"melting_c"}


def read_own(own: "Own") -> dict[str, dict[str, Any]]:
    """Return what the maker recorded of each material, checked: texts, lists, tables and `Value`s by field.

    Parameters
    ----------
    own : mapping of str to mapping, or DataFrame, or None
        By material; a table has a column "material". Fields are those of `Material` and of
        `PROPERTIES`; a range is typed "32-38", (32, 38) or 35. Empty cells are not given.

    Raises
    ------
    LabError
        For a field that is not known, or a figure that is no number or cannot be.

    >>> read_own({"shea butter": {"melting_c": "33,5-36"}})["shea butter"]["melting_c"].low
    33.5
    """
    return {
        name: {key: _read(name, key, value) for key, value in fields.items() if not _is_empty(value)}
        for name, fields in _rows(own).items()
    }


def with_own(material: Material, fields: Mapping[str, Any]) -> Material:
    """Return a material with the maker's own values in place of those recorded."""
    values = {key: each for key, each in fields.items() if key in PROPERTIES}
    others = {key: each for key, each in fields.items() if key not in PROPERTIES}
    if "fatty_acids" in others:
        others["acids_source"] = YOUR_OWN
    return replace(material, values={**material.values, **values}, **others)


def new_material(name: str, fields: Mapping[str, Any]) -> Material:
    """Return a material that is recorded nowhere but in the maker's own values.

    Raises
    ------
    LabError
        Where its group is not given.
    """
    if "group" not in fields and "made_of" not in fields:
        raise LabError(
            f"“{name}” is in no table: give its group in your own values, one of "
            f"{', '.join(get_args(Group))}, or what it is made of."
        )
    group = fields.get("group", "aid")
    if group == "colourant" and "made_of" not in fields:
        raise LabError(
            f"“{name}”: what colourant it is cannot be known from your name for it. Look for the CI number "
            f'on the supplier\'s sheet, and write it as {{"made_of": {{"CI 77491": 100}}}}.'
        )
    inci = fields.get("inci", "")
    bare = Material(name=name, inci=inci, us_name=fields.get("us_name", inci), cas="", group=group)
    return with_own(bare, fields)


def _rows(own: "Own") -> dict[str, dict[str, object]]:
    if own is None:
        return {}
    if isinstance(own, Mapping):
        return {str(name): dict(fields) for name, fields in own.items()}
    if "material" not in own.columns:
        raise LabError("Your own values: the table needs a column “material” with the names.")
    twice = own["material"][own["material"].duplicated()]
    if len(twice):
        raise LabError(f"Your own values: “{twice.iloc[0]}” stands there twice. Keep one row of it.")
    columns = [each for each in own.columns if each != "material"]
    return {str(row["material"]): {key: row[key] for key in columns} for _, row in own.iterrows()}


def _is_empty(value: object) -> bool:
    return value is None or (isinstance(value, float) and math.isnan(value)) or value in ("", ())


def _read(name: str, key: str, value: Any) -> Any:
    what = f"{name}, {key}"
    if key not in _FIELDS:
        raise LabError(f"{name}: “{key}” is nothing that is recorded. {did_you_mean(key, _FIELDS)}")
    if key in PROPERTIES:
        return _value(what, key, value)
    if key in _LISTS:
        parts = value.split(";") if isinstance(value, str) else value
        return tuple(str(each).strip() for each in parts if str(each).strip())
    if key in _TABLES:
        return _table(what, key, value)
    if key == "group" and value not in get_args(Group):
        raise LabError(f"{name}: “{value}” is no group. {did_you_mean(str(value), get_args(Group))}")
    return str(value).strip()


def _value(what: str, key: str, value: Any) -> Value:
    if isinstance(value, Value):
        return value
    ends = _ends(what, PROPERTIES[key].strip("1"), value)
    low, high = ends[0], ends[-1]
    if not (math.isfinite(low) and math.isfinite(high)):
        raise LabError(f"{what}: {value} cannot be. Give a number, or the lower and the higher one.")
    if low > high:
        raise LabError(f"{what}: {low:g} to {high:g} cannot be. Give the lower first.")
    if low < 0 and key not in _MAY_BE_BELOW_0:
        raise LabError(f"{what}: {low:g} cannot be. It is 0 or more.")
    return Value(low, high, YOUR_OWN)


def _ends(what: str, unit: str, value: Any) -> list[float]:
    if isinstance(value, str):
        text = value.replace("\u2013", "-").replace(" to ", "-")
        first, dash, second = text[1:].partition("-")  # a sign in front is no range
        parts = [text[:1] + first, second] if dash else [text]
        return [read_number(part, what, unit) for part in parts]
    if isinstance(value, (list, tuple)):
        if len(value) != 2:
            raise LabError(f"{what}: give one number, or two, the lower and the higher.")
        return [float(each) for each in value]
    try:
        return [float(value)]
    except (TypeError, ValueError):
        raise LabError(f"{what}: “{value}” is no number. Type a number such as 35, or 32-38.") from None


def _table(what: str, key: str, value: Any) -> dict[str, float]:
    if not isinstance(value, Mapping) or not value:
        raise LabError(f'{what}: give each part with its %, such as {{"castor oil": 60, "red oxide": 40}}.')
    parts = {str(name): _ends(f"{what}, {name}", "%", share)[0] for name, share in value.items()}
    if key == "fatty_acids" and (unknown := [each for each in parts if each not in ACIDS]):
        raise LabError(
            f"{what}: “{unknown[0]}” is no fatty acid known here. {did_you_mean(unknown[0], ACIDS)}"
        )
    total = sum(parts.values())
    if not all(0 <= share <= 100 for share in parts.values()):
        raise LabError(f"{what}: shares are 0 to 100 %.")
    if key == "made_of" and abs(total - 100) > 0.5:
        raise LabError(f"{what}: its parts come to {total:g} %, and should come to 100 %. Which part is off?")
    return parts
