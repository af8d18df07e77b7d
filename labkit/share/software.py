"""Which versions computed what is in a bundle, and whether they explain a difference."""

import platform
import sys
from collections.abc import Mapping
from importlib.metadata import PackageNotFoundError, version

from labkit import __version__

COMPUTING = (
    "anywidget", "colour-science", "ipywidgets", "matplotlib", "numpy", "pandas", "pillow", "pydantic",
    "rfc8785", "scipy", "sqlalchemy",
)  # fmt: skip
"""Packages whose results are in a bundle."""


def versions_here() -> dict[str, str]:
    """Return the versions of labkit, Python, the kind of machine, and every package that computes."""
    found = {
        "labkit": __version__,
        "Python": sys.version.split()[0],
        "machine": f"{platform.system()} {platform.machine()}",
    }
    return found | {name: number for name in COMPUTING if (number := _version(name))}


def apart(then: Mapping[str, str], now: Mapping[str, str]) -> list[str]:
    """Return what has another version now than then.

    >>> apart({"numpy": "2.0", "scipy": "1.14"}, {"numpy": "2.4", "scipy": "1.14"})
    ['numpy 2.0 → 2.4']
    """
    names = dict.fromkeys([*then, *now])
    return [
        f"{name} {then.get(name, 'missing')} → {now.get(name, 'missing')}"
        for name in names
        if then.get(name) != now.get(name)
    ]


def _version(name: str) -> str:
    try:
        return version(name)
    except PackageNotFoundError:
        return ""
