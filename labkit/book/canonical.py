"""The one text of a JSON value (RFC 8785) and its fingerprint (SHA-256).

What is hashed is forever: two programs that hold the same value must write the
same bytes. RFC 8785 (JSON Canonicalization Scheme) fixes the order of keys, the
digits of numbers and the escapes of strings.
"""

import hashlib
import json
import math
import re
from collections.abc import Mapping
from numbers import Integral, Real
from typing import Any, NoReturn

import rfc8785

from labkit.errors import LabError

LARGEST = 2**53 - 1
"""Whole numbers beyond this cannot be told apart by every program that reads JSON (RFC 7493)."""
DEEPEST = 32
"""How many levels of lists and tables may lie inside one another."""

_SURROGATE = re.compile("[\ud800-\udfff]")


def canonical(value: object, path: str = "value") -> str:
    """Return the RFC 8785 text of `value`; see `plain` for what is refused.

    >>> canonical({"b": 1.0, "a": [1e21, True, None]})
    '{"a":[1e+21,true,null],"b":1}'
    """
    return rfc8785.dumps(plain(value, path)).decode("utf-8")


def parse(text: str) -> Any:
    """Return the value of a JSON text, so that `canonical` gives the text back.

    RFC 8785 writes the number 1e16 as a row of digits: what is too long for a
    whole number that is exact everywhere is read as the float it was.
    Raises `LabError` where the text is no JSON.

    >>> parse("10000000000000000"), parse("3")
    (1e+16, 3)
    """
    try:
        return json.loads(text, parse_int=_whole_or_float, parse_constant=_refuse_constant)
    except (ValueError, RecursionError) as error:
        raise LabError("This is nothing that labkit wrote, or it is cut short.") from error


def digest(text: str) -> str:
    """Return the SHA-256 of the text in UTF-8, as 64 hexadecimal digits.

    >>> digest("abc")[:16]  # FIPS 180-2, appendix B.1
    'ba7816bf8f01cfea'
    """
    return hashlib.sha256(text.encode("utf-8")).hexdigest()


def plain(value: object, path: str = "value") -> Any:
    """Return `value` as plain dict, list, str, int, float, bool and None.

    Refused with a `LabError` that names the place: NaN and infinity, whole
    numbers beyond ±(2⁵³ − 1), NUL characters and lone surrogates in texts and
    keys, keys that are no text, other types, and more than `DEEPEST` levels.

    >>> plain({"grams": (1, 2.5)})
    {'grams': [1, 2.5]}
    >>> plain({"grams": [1, float("nan")]}, "payload")
    Traceback (most recent call last):
    labkit.errors.LabError: payload.grams[1]: “nan” is not a number that can be kept. Leave it empty instead.
    """
    return _plain(value, path, 0)


def _plain(value: object, path: str, depth: int) -> Any:
    if depth > DEEPEST:
        raise LabError(f"{path[:80]}…: lists and tables lie more than {DEEPEST} levels deep.")
    if value is None or isinstance(value, bool):
        return value
    if isinstance(value, str):
        return _text(value, path)
    if isinstance(value, Real):
        return _number(value, path)
    if isinstance(value, Mapping):
        return {
            _key(key, path): _plain(each, f"{path}.{str(key)[:80]}", depth + 1) for key, each in value.items()
        }
    if isinstance(value, list | tuple):
        return [_plain(each, f"{path}[{number}]", depth + 1) for number, each in enumerate(value)]
    raise LabError(f"{path}: a {type(value).__name__} cannot be kept; give a text or a number.")


def _number(value: Real, path: str) -> int | float:
    if isinstance(value, Integral):
        whole = int(value)
        if abs(whole) > LARGEST:
            raise LabError(f"{path}: {whole} is too long to be kept exactly. Give it as a text.")
        return whole
    real = float(value)
    if not math.isfinite(real):
        raise LabError(f"{path}: “{real}” is not a number that can be kept. Leave it empty instead.")
    return real


def _text(value: str, path: str) -> str:
    if "\0" in value:
        raise LabError(f"{path}: the text holds a NUL character (an invisible one). Type it again.")
    if _SURROGATE.search(value):
        raise LabError(f"{path}: the text holds half a character (a lone surrogate). Type it again.")
    return str.__str__(value)


def _key(key: object, path: str) -> str:
    if not isinstance(key, str):
        raise LabError(f"{path}: names must be texts; found {key!r}.")
    return _text(key, f"{path}, a name")


def _whole_or_float(digits: str) -> int | float:
    short = len(digits) <= len(str(-LARGEST))
    return int(digits) if short and abs(int(digits)) <= LARGEST else float(digits)


def _refuse_constant(name: str) -> NoReturn:
    raise ValueError(f"{name} is no JSON number")
