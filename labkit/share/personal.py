"""What is personal in a text: people's names, folders of a computer, addresses; found, or left out."""

import re
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path

from labkit.book.entry import Entry

LEFT_OUT = "(name left out)"
FOLDER = "~"

_FOLDERS = re.compile(
    r"(?:/home/|/Users/|[A-Za-z]:(?:\\+|/)Users(?:\\+|/))[^\s/\\\"'<>:|]+|/root(?=[/\s\"'<>:]|$)"
)
_ADDRESS = re.compile(r"(?<![\w.+-])[\w.+-]{1,64}@[\w-]{1,63}\.[\w.-]{1,250}|(?<![\w.])\+\d[\d ()/-]{7,20}\d")
"""Bounded, and begun only where a word begins: else a long text would be looked through again and again."""
SHORTEST_NAME = 2
"""A letter that stands for somebody says nothing."""


class Personal:
    """Finds what is personal in texts.

    Parameters
    ----------
    people : mapping
        Names of people by maker id, as the book keeps them.
    folders : iterable of Path
        Further folders that say whose computer it was.
    """

    def __init__(self, people: Mapping[str, str], folders: Iterable[Path] = ()) -> None:
        names = sorted(
            {name for name in people.values() if len(name) >= SHORTEST_NAME}, key=len, reverse=True
        )
        self._names = re.compile(rf"(?<!\w)(?:{'|'.join(map(re.escape, names))})(?!\w)") if names else None
        places = sorted({str(each) for each in (Path.home(), *folders) if len(each.parts) > 1}, reverse=True)
        self._places = re.compile("|".join(map(re.escape, places))) if places else None

    def found_in(self, text: str) -> list[str]:
        """Return what sorts of personal things are in a text: “a name”, “a folder”, “an address”."""
        sorts = {"a name": self._names, "a folder": self._places, "an address": _ADDRESS}
        found = [sort for sort, pattern in sorts.items() if pattern and pattern.search(text)]
        return found if "a folder" in found or not _FOLDERS.search(text) else [*found, "a folder"]

    def without(self, text: str) -> str:
        """Return a text with names and folders left out."""
        if self._places:
            text = self._places.sub(FOLDER, text)
        text = _FOLDERS.sub(FOLDER, text)
        return self._names.sub(LEFT_OUT, text) if self._names else text

    def in_entries(self, entries: Iterable[Entry]) -> Iterator[str]:
        """Yield a sentence for each entry that has something personal in it, which its hash holds fast."""
        for entry in entries:
            texts = [entry.trial, *_texts(entry.payload)]
            if found := sorted({sort for text in texts for sort in self.found_in(text)}):
                yield f"The {entry.called} holds {' and '.join(found)}."


def _texts(value: object) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for name, each in value.items():
            yield name
            yield from _texts(each)
    elif isinstance(value, list):
        for each in value:
            yield from _texts(each)
