"""What a field of a record declares: label, unit, hint, limits, choices."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import UnionType
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from pydantic import Field
from pydantic.fields import FieldInfo
from pydantic_core import PydanticUndefined

LIMITS = ("gt", "ge", "lt", "le", "multiple_of", "min_length", "max_length", "pattern")


@dataclass(frozen=True)
class Declared:
    """One field as it was declared.

    Attributes
    ----------
    name : of the field, unit suffix included
    label : the words beside the box on the screen
    unit : as it is shown; empty where it has none
    hint : one sentence that helps to fill it in
    type : of a value, without None; for a mapping, of the values in it
    many : “one”, “list” or “mapping” of such values
    required : whether it must be filled in
    default : where it need not be
    limits : gt, ge, lt, le, multiple_of, min_length, max_length, pattern, those that are set;
        for a list or a mapping those of the values in it as well
    choices : the only values allowed, where they were listed
    """

    name: str
    label: str
    unit: str
    hint: str
    type: Any
    many: str
    required: bool
    default: Any
    limits: dict[str, Any] = field(default_factory=dict)
    choices: tuple[Any, ...] = ()


def noted(label: str, unit: str = "", hint: str = "", *, default: Any = ..., **limits: Any) -> Any:
    """Return a pydantic field that declares its label, unit, hint and limits once.

    Parameters
    ----------
    label : the words beside the box on the screen
    unit : as it is shown, like “°C”; the field's name ends in its suffix, like ``_c``
    hint : one sentence that helps to fill it in
    default : the value where none is given; without it the field must be filled in
    limits : those of `pydantic.Field`: ge, gt, le, lt, min_length, max_length, …
    """
    if "default_factory" in limits:
        return Field(title=label, description=hint or None, json_schema_extra={"unit": unit}, **limits)
    return Field(default, title=label, description=hint or None, json_schema_extra={"unit": unit}, **limits)


def declared(name: str, info: FieldInfo) -> Declared:
    """Return what a pydantic field declares; an undeclared label is made from the name."""
    outer, outer_limits = _bare(info.annotation)
    many = _many(outer)
    inner, inner_limits = (
        (outer, {}) if many == "one" else _bare(get_args(outer)[-1] if get_args(outer) else Any)
    )
    extra = info.json_schema_extra if isinstance(info.json_schema_extra, dict) else {}
    default = info.get_default(call_default_factory=True, validated_data={})
    return Declared(
        name=name,
        label=info.title or name.replace("_", " ").capitalize(),
        unit=str(extra.get("unit", "")),
        hint=info.description or "",
        type=inner,
        many=many,
        required=info.is_required(),
        default=None if default is PydanticUndefined else default,
        limits=inner_limits | outer_limits | _limits(info.metadata),
        choices=get_args(inner) if get_origin(inner) is Literal else (),
    )


def _bare(annotation: Any) -> tuple[Any, dict[str, Any]]:
    """Take None and the limits of `Annotated` off a type."""
    limits: dict[str, Any] = {}
    if get_origin(annotation) in (Union, UnionType):
        rest = [each for each in get_args(annotation) if each is not type(None)]
        annotation = rest[0] if len(rest) == 1 else annotation
    if get_origin(annotation) is Annotated:
        annotation, *metadata = get_args(annotation)
        for each in metadata:
            limits |= _limits(each.metadata if isinstance(each, FieldInfo) else [each])
    return annotation, limits


def _many(annotation: Any) -> str:
    origin = get_origin(annotation) or annotation
    if not isinstance(origin, type):
        return "one"
    if issubclass(origin, Mapping):
        return "mapping"
    return "list" if issubclass(origin, list | tuple | set | frozenset) else "one"


def _limits(metadata: list[Any]) -> dict[str, Any]:
    found = {name: getattr(each, name, None) for name in LIMITS for each in metadata if hasattr(each, name)}
    return {name: value for name, value in found.items() if value is not None}
