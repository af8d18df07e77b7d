"""Names of a package that are loaded when they are asked for (PEP 562)."""

from collections.abc import Callable, Mapping
from importlib import import_module
from typing import Any


def load_when_asked(package: str, homes: Mapping[str, str]) -> Callable[[str], Any]:
    """Return a package's ``__getattr__``: ``homes`` says in which of its modules each name lives.

    A home that is a whole path, such as "labkit.variation", lies outside the package.

    So a computation can be imported without the widgets, pictures and database of its room.
    """

    def get(name: str) -> Any:
        if name not in homes:
            raise AttributeError(f"module {package!r} has no attribute {name!r}")
        home = homes[name]
        return getattr(import_module(home if "." in home else f"{package}.{home}"), name)

    return get
