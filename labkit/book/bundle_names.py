"""What may lie in a bundle, by name."""

import re
from unicodedata import normalize

CRATE = "ro-crate-metadata.json"
PACKAGE = "datapackage.json"
VERSIONS = "versions.json"
SUMS = "checksums.sha256"
READ_ME = "READ-ME.txt"
ENTRIES = "entries.jsonl"

_KIND = r"[a-z][a-z0-9_]{0,39}\.[a-z][a-z0-9_]{0,39}"
_PATTERNS = {
    "documents": re.compile("|".join(map(re.escape, (CRATE, PACKAGE, VERSIONS, SUMS, READ_ME, ENTRIES)))),
    "tables": re.compile(rf"tables/{_KIND}\.csv", re.ASCII),
    "photos": re.compile(r"photos/[0-9a-f]{64}\.(jpg|png)", re.ASCII),
    "cards": re.compile(r"cards/\w[\w .()-]{0,99}\.md"),
    "notebooks": re.compile(r"notebooks/\w[\w .()-]{0,99}\.ipynb"),
}
NEEDED = (CRATE, PACKAGE, VERSIONS, SUMS, READ_ME, ENTRIES)


def sort_of(name: str) -> str:
    """Return what a file of a bundle is, by its name; nothing for one that has no place in a bundle.

    >>> sort_of("tables/texture.pour.csv"), sort_of("../../etc/passwd"), sort_of("photos/x.svg")
    ('tables', '', '')
    """
    return next((sort for sort, pattern in _PATTERNS.items() if pattern.fullmatch(name)), "")


def in_table(kind: str) -> str:
    """Return the name of the table of a kind of entry."""
    return f"tables/{kind}.csv"


def in_photos(name: str) -> str:
    """Return where the photo of this name lies in a bundle."""
    return f"photos/{name}"


def in_cards(name: str) -> str:
    """Return where the card of a recipe lies in a bundle."""
    return f"cards/{_plain(name, 'recipe')}.md"


def in_notebooks(stem: str) -> str:
    """Return where a notebook lies in a bundle; letters that not every system takes are left out.

    >>> in_notebooks("winter: 2 <b>")
    'notebooks/winter_ 2 _b_.ipynb'
    """
    return f"notebooks/{_plain(stem, 'notebook')}.ipynb"


def _plain(stem: str, otherwise: str) -> str:
    plain = re.sub(r"[^\w .()-]", "_", normalize("NFC", stem)).strip(" .")[:100]
    plain = plain if re.match(r"\w", plain) else f"{otherwise} {plain}".strip()
    return plain[:100].strip(" .")
