"""Which labkit is newer than which, and what to install to read what a newer one wrote."""

from labkit import __version__


def numbers(version: str) -> tuple[int, ...]:
    """Return a version's numbers, to be compared.

    >>> numbers("0.10.0") > numbers("0.9.9")
    True
    """
    return tuple(int("".join(filter(str.isdigit, part)) or 0) for part in version.split("."))


def newer_than_this(written_by: str) -> str:
    """Return which labkit to install: the one that wrote, where its version tells it apart from this one.

    >>> newer_than_this("9999.1"), newer_than_this(__version__), newer_than_this("")
    ('labkit 9999.1 or newer', 'a newer labkit', 'a newer labkit')
    """
    newer = numbers(written_by) > numbers(__version__)
    return f"labkit {written_by} or newer" if newer else "a newer labkit"
