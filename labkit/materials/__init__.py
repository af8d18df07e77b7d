"""What goes into the pan: the colourants that a lip maker meets, and where each figure comes from."""

from typing import TYPE_CHECKING

from labkit.lazy import load_when_asked

if TYPE_CHECKING:
    from labkit.materials.colourant import Colourant, Span, colourants
    from labkit.materials.grade import refused_grade
    from labkit.materials.look_up import find

_HOMES = {
    "Colourant": "colourant",
    "Span": "colourant",
    "colourants": "colourant",
    "find": "look_up",
    "refused_grade": "grade",
}

__all__ = ["Colourant", "Span", "colourants", "find", "refused_grade"]

__getattr__ = load_when_asked(__name__, _HOMES)


def __dir__() -> list[str]:
    return __all__
