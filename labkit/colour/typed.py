"""A colour as it is typed: L*a*b*, a screen's code, or red, green and blue."""

import re

import numpy as np

from labkit.colour.cie import lab_of_srgb
from labkit.errors import LabError

_HEX = re.compile(r"#?([0-9a-fA-F]{6})")
_NUMBERS = re.compile(r"[+\-\u2212]?\d+(?:\.\d+)?")
_BESIDE = re.compile(r"[\s,;:=/()*LabRGBrgb]*")
"""What may stand beside the numbers, as in "L* 41, a* 28" or "rgb(138, 59, 44)"."""
_RUN_ON = re.compile(r"\d[A-Za-z]")
_LEVELS = 255


def read_lab(text: str, what: str = "the colour") -> np.ndarray:
    """Read L*a*b* (D65, 2°), as "41.2 28 19" or "L 41,2; a 28; b 19", shape (3,).

    Raises
    ------
    LabError
        Where it is not three numbers, or no colour has them.

    >>> read_lab("L 41,2; a 28; b −19").tolist()
    [41.2, 28.0, -19.0]
    """
    numbers = _three(text, what, "L*, a*, b*, such as 41.2 28 19")
    if not (0 <= numbers[0] <= 100 and np.abs(numbers[1:]).max() <= 150):
        raise LabError(
            f"{what}: L* {numbers[0]:g}, a* {numbers[1]:g}, b* {numbers[2]:g} is no colour. L* goes "
            "from 0 to 100, a* and b* from about -100 to 100."
        )
    return numbers


def read_srgb(text: str, what: str = "the colour") -> np.ndarray:
    """Read a screen's colour, "#8a3b2c" or "138 59 44" (0 to 255 each), as L*a*b*, shape (3,).

    Raises
    ------
    LabError
        Where it is neither.

    >>> (read_srgb("#777777").round(1) + 0.0).tolist()
    [50.0, 0.0, 0.0]
    """
    code = _HEX.fullmatch(text.strip())
    if code and _is_code(text):
        levels = np.array([int(code[1][at : at + 2], 16) for at in (0, 2, 4)], float)
    else:
        levels = _three(text, what, "red, green, blue from 0 to 255, or a code such as #8a3b2c")
    if levels.min() < 0 or levels.max() > _LEVELS:
        raise LabError(f"{what}: red, green and blue go from 0 to {_LEVELS}; here is {text.strip()}.")
    return np.asarray(lab_of_srgb(levels / _LEVELS))


def read_colour(text: str, what: str = "the colour") -> np.ndarray:
    """Read a colour typed as a screen's code or as L*a*b*, shape (3,).

    >>> (read_colour("#ffffff").round(1) + 0.0).tolist()
    [100.0, 0.0, 0.0]
    """
    return read_srgb(text, what) if _is_code(text) else read_lab(text, what)


def _is_code(text: str) -> bool:
    """Whether it is a screen's code; six digits without a "#" are none."""
    typed = text.strip()
    return typed.startswith("#") or (_HEX.fullmatch(typed) is not None and not typed.isdigit())


def _three(text: str, what: str, wanted: str) -> np.ndarray:
    plain = re.sub(r"(?<=\d),(?=\d)", ".", text) if re.search(r"[;\s/]", text.strip()) else text
    if _RUN_ON.search(plain) or not _BESIDE.fullmatch(_NUMBERS.sub("", plain)):
        raise LabError(f"{what}: “{text.strip()}” cannot be read. Type {wanted}.")
    found = [float(each.replace("\u2212", "-")) for each in _NUMBERS.findall(plain)]
    if len(found) != 3:
        raise LabError(f"{what}: “{text.strip()}” holds {len(found)} numbers. Type {wanted}.")
    return np.array(found)
