"""Checking a bundle: whether all in it is as it was written, and whether its numbers come out again."""

import hashlib
import os
from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import partial
from typing import Any

from labkit.book.bundle_file import BundleFile
from labkit.book.files import plainly
from labkit.book.given import given_path
from labkit.errors import LabError
from labkit.share.looks import (
    cards_apart,
    chain_problems,
    counts_apart,
    crate_apart,
    list_of,
    photo_problems,
    sums_apart,
    tables_apart,
    whole_entries,
)
from labkit.share.rerun import code_of, notebooks_in, refuse_without_nbclient, run_again
from labkit.share.software import apart as versions_apart
from labkit.share.software import versions_here
from labkit.share.verified import Verified


def verify(
    path: str | os.PathLike[str], rerun: bool = False, *, say: Callable[[str], None] = print
) -> Verified:
    """Check a bundle, and return a report with `ok` and `problems`.

    Looked at: every checksum, every entry's hash and form, that corrections and photos are there, that the
    tables say what the entries say and are what their schema says, and that the documents tell of what is
    in it. None of this runs code of the bundle.

    Parameters
    ----------
    path : path
    rerun : bool
        Run the notebooks again in a fresh kernel, on a book of the bundle's entries alone, and compare the
        numbers cell by cell. What runs is said before. A bundle in which something is wrong is not run.
    say : callable
        Told what is about to run.

    Raises
    ------
    LabError
        Where there is no such file, or a rerun is wanted and nbclient is missing.
    """
    place = given_path(path, "the bundle to check").expanduser().absolute()
    if rerun:
        refuse_without_nbclient()
    with plainly(place, "read"), place.open("rb") as file:
        found = Verified(place, hashlib.file_digest(file, "sha256").hexdigest())
    try:
        with BundleFile(place) as bundle:
            found, maker = _looked_at(bundle, found)
            if not rerun:
                return found
            if not found.ok:
                remark = "Nothing was run again, because something is wrong in it."
                return replace(found, remarks=(*found.remarks, remark))
            say(found.plan)
            return _with_rerun(found, bundle, maker)
    except LabError as error:
        return replace(found, problems=(*found.problems, str(error)))


def _looked_at(bundle: BundleFile, found: Verified) -> tuple[Verified, str]:
    problems: list[str] = []
    listed = _tried(problems, lambda: list_of(bundle), {})
    _tried(problems, lambda: problems.extend(sums_apart(bundle)), None)
    entries = _tried(problems, lambda: whole_entries(bundle, problems), [])
    doubtful, remarks = bool(problems), list[str]()
    for look in (
        lambda: chain_problems(entries),
        lambda: photo_problems(bundle, entries, remarks),
        lambda: tables_apart(bundle, entries, listed, doubtful, remarks),
        lambda: cards_apart(bundle, entries, listed, doubtful, remarks),
        lambda: crate_apart(bundle),
        lambda: counts_apart(entries, listed, doubtful),
    ):
        _tried(problems, partial(_extend, problems, look), None)
    notebooks = _tried(problems, lambda: notebooks_in(bundle), {})
    apart = tuple(versions_apart(listed.get("versions", {}), versions_here())) if listed else ()
    if apart:
        remarks.append(f"Other versions here than where it was made: {', '.join(apart)}.")
    if notebooks:
        remarks.append(replace(found, would_run=code_of(notebooks)).plan)
    return replace(
        found,
        trials=tuple(listed.get("trials", ())),
        entries=len(entries),
        problems=tuple(dict.fromkeys(problems)),
        remarks=tuple(remarks),
        versions_apart=apart,
        would_run=code_of(notebooks),
    ), str(listed.get("maker", ""))


def _extend(problems: list[str], look: Callable[[], Iterator[str]]) -> None:
    problems.extend(look())


def _tried(problems: list[str], look: Callable[[], Any], otherwise: Any) -> Any:
    """Return what a look finds; where it cannot look, that is a problem too."""
    try:
        return look()
    except LabError as error:
        problems.append(str(error))
        return otherwise


def _with_rerun(found: Verified, bundle: BundleFile, maker: str) -> Verified:
    ran = run_again(bundle, maker)
    wrong = [str(each) for each in ran.apart if not each.rounding]
    remarks = [f"{each} That is rounding." for each in ran.apart if each.rounding]
    if ran.apart:
        remarks.append(explained(found.versions_apart))
    return replace(
        found,
        problems=(*found.problems, *wrong),
        remarks=(*found.remarks, *remarks),
        apart=ran.apart,
        same=ran.same,
    )


def explained(apart: tuple[str, ...]) -> str:
    """Say whether other versions may explain that results differ."""
    computing = [each for each in apart if not each.startswith(("machine", "Python"))]
    if computing:
        return f"Other versions may explain what differs: {', '.join(computing)}. Install those to find out."
    return "All that computes has the same version here and there, so versions do not explain what differs."
