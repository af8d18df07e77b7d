"""Which versions a correction, a settlement or a withdrawal replaces."""

from collections.abc import Sequence

from labkit.book.entry import Entry
from labkit.book.versions import Versions
from labkit.errors import LabError


def one_version(entry: Entry | str, versions: Versions) -> Sequence[str]:
    """Return the version that a correction replaces."""
    if isinstance(entry, Entry) or versions.first(entry) != entry:
        return [entry.id if isinstance(entry, Entry) else entry]
    heads = versions.heads(entry)
    if len(heads) > 1:
        raise LabError(
            f"There are {len(heads)} current versions of this entry. Choose what is right and settle it."
        )
    return heads or [entry]


def all_of_fork(entry: Entry | str, versions: Versions) -> Sequence[str]:
    """Return the versions that a settlement replaces."""
    heads = versions.heads(entry.id if isinstance(entry, Entry) else entry)
    if len(heads) < 2:
        raise LabError("There is one current version of this entry: nothing to settle. Correct it instead.")
    return heads


def all_or_that(entry: Entry | str, versions: Versions) -> Sequence[str]:
    """Return the versions that a withdrawal replaces."""
    if isinstance(entry, Entry) or versions.first(entry) != entry:
        return [entry.id if isinstance(entry, Entry) else entry]
    return versions.heads(entry) or [entry]
