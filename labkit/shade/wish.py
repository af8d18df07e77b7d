"""The wanted colour, and how far colours are from it."""

from dataclasses import dataclass
from typing import Any

import numpy as np

from labkit.colour.cie import delta_e00, lab_of_srgb
from labkit.errors import LabError

_STEP = 1e-3
"""CIELAB units over which slopes are taken."""
_OWN, _ONE, _OTHER = [0, 1, 2], [0, 0, 1], [1, 2, 2]
_AROUND = _STEP * np.vstack([np.zeros(3), np.eye(3), -np.eye(3), np.eye(3)[_ONE] + np.eye(3)[_OTHER]])
_LEAST_BEND = 0.02
_WIDEST = 200.0


@dataclass(frozen=True)
class Wish:
    """A wanted colour in CIELAB (D65, 2°), shape (3,)."""

    lab: np.ndarray

    def distance(self, lab: np.ndarray) -> np.ndarray:
        """Return ΔE00 of colours, shapes (..., 3) to (...)."""
        return np.asarray(delta_e00(lab, np.broadcast_to(self.lab, lab.shape)))

    def half_square(self, lab: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Return ½ ΔE00² of colours, its slope and its bend in CIELAB: shapes (n,), (n, 3) and (n, 3, 3).

        The bend is the second derivative, made positive definite.
        """
        half = self.distance(lab[:, None] + _AROUND) ** 2 / 2
        here, up, down = half[:, 0], half[:, 1:4], half[:, 4:7]
        bend = np.empty((len(lab), 3, 3))
        bend[:, _OWN, _OWN] = up + down - 2 * here[:, None]
        bend[:, _ONE, _OTHER] = half[:, 7:] - up[:, _ONE] - up[:, _OTHER] + here[:, None]
        bend[:, _OTHER, _ONE] = bend[:, _ONE, _OTHER]
        size, along = np.linalg.eigh(bend / _STEP**2)
        size = np.maximum(size, np.maximum(_LEAST_BEND * size[:, -1:], _LEAST_BEND))
        return here, (up - down) / (2 * _STEP), (along * size[:, None]) @ along.transpose(0, 2, 1)

    @property
    def across(self) -> np.ndarray:
        """Unit vector in CIELAB, at right angles to the wanted hue, shape (3,); 0 for a grey.

        On the far side of grey ΔE00 jumps where a colour crosses the line opposite the wanted hue (the mean
        of two hues half a turn apart; Sharma, Wu and Dalal, Color Res. Appl. 30 (2005) 21).
        """
        _, a, b = self.lab
        chroma = np.hypot(a, b)
        return np.array([0.0, -b, a]) / chroma if chroma > _STEP else np.zeros(3)

    def is_opposite(self, lab: np.ndarray) -> np.ndarray:
        """Return whether colours lie on the far side of grey, shapes (..., 3) to (...)."""
        return np.asarray(lab[..., 1:] @ self.lab[1:] < 0)


def read_wish(lab: Any) -> Wish:
    """Return the wanted colour: a CIELAB triple, or a screen's code such as "#8b2332".

    Raises
    ------
    LabError
        Where it is neither, or no colour.

    >>> read_wish("#8b2332").lab.round(1)
    array([31.6, 44.3, 17.2])
    """
    if isinstance(lab, str):
        return Wish(lab_of_srgb(_levels(lab)))
    try:
        triple = np.asarray(lab, float)
    except (TypeError, ValueError):
        triple = np.empty(0)
    if triple.shape != (3,):
        raise LabError(f'the wanted colour: {lab!r} is none. Give L*, a*, b*, or a code such as "#8b2332".')
    if not (np.isfinite(triple).all() and 0 <= triple[0] <= 100 and np.abs(triple[1:]).max() <= _WIDEST):
        raise LabError(
            f"the wanted colour: L* {triple[0]:g}, a* {triple[1]:g}, b* {triple[2]:g} is no colour. L* goes "
            f"from 0 to 100; a* and b* lie between −{_WIDEST:g} and {_WIDEST:g}."
        )
    return Wish(triple)


def _levels(code: str) -> np.ndarray:
    digits = code.strip().removeprefix("#")
    try:
        levels = np.array(list(bytes.fromhex(digits))) / 255
    except ValueError:
        levels = np.empty(0)
    if levels.shape != (3,) or len(digits) != 6:
        raise LabError(
            f"the wanted colour: “{code}” is no colour's code. Type # and six digits, such as #8b2332."
        )
    return levels
