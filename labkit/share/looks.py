"""What is looked at in a bundle, one thing after another; each look yields what is wrong, a sentence each."""

import hashlib
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any
from urllib.parse import unquote

from labkit import __version__
from labkit.book.bundle_file import BundleFile
from labkit.book.bundle_names import CRATE, ENTRIES, PACKAGE, SUMS, VERSIONS, in_photos, in_table
from labkit.book.canonical import parse
from labkit.book.entry import Entry
from labkit.book.exchange import Refused
from labkit.book.record import read_record
from labkit.errors import LabError
from labkit.share.cards import cards_of
from labkit.share.chosen import versions_of
from labkit.share.crate import FORMAT
from labkit.share.table_check import table_problems
from labkit.share.tables import Table, tables_of


def list_of(bundle: BundleFile) -> dict[str, Any]:
    """Return what the bundle says of itself; raise `LabError` where it is not that, or of a newer form."""
    listed = _document(bundle, VERSIONS)
    texts = [listed.get("made"), listed.get("maker"), *_strings(listed, "trials"), *_strings(listed, "also")]
    numbers = listed.get("versions")
    if not isinstance(numbers, dict) or not all(
        isinstance(each, str) for each in [*texts, *numbers.values()]
    ):
        raise LabError(f"“{VERSIONS}” does not say which trials and versions.")
    if type(listed.get("format")) is not int or listed["format"] > FORMAT:
        raise LabError(
            f"It was made by a newer labkit ({str(numbers.get('labkit'))[:20]}) than this one "
            f"({__version__}). Install that to read all of it."
        )
    return listed


def _strings(document: Mapping[str, Any], name: str) -> list[Any]:
    value = document.get(name)
    return value if isinstance(value, list) else [None]


def _document(bundle: BundleFile, name: str) -> dict[str, Any]:
    try:
        found = parse(bundle.read(name).decode("utf-8"))
    except UnicodeDecodeError as error:
        raise LabError(f"“{name}” holds letters that labkit did not write.") from error
    except LabError as error:
        raise LabError(f"“{name}” cannot be read: {error}") from error
    if not isinstance(found, dict):
        raise LabError(f"“{name}” is not what labkit writes.")
    return found


def sums_apart(bundle: BundleFile) -> Iterator[str]:
    """Compare the checksums with the files."""
    sums, names = bundle.sums(), set(bundle.names()) - {SUMS}
    yield from (f"“{name}” is in it, but not among its checksums." for name in sorted(names - sums.keys()))
    for name in sorted(sums.keys() - names):
        yield f"“{name[:80]}” is among its checksums, but not in it."
    for name in sorted(names & sums.keys()):
        try:
            if bundle.digest(name) != sums[name]:
                yield f"“{name}” was altered after the bundle was written: its checksum is another."
        except LabError as error:
            yield str(error)


def whole_entries(bundle: BundleFile, problems: list[str]) -> list[Entry]:
    """Return the whole entries; what is wrong with others is added to the problems."""
    found: list[Entry] = []
    ids: set[str] = set()
    for name, each in bundle.entries():
        if isinstance(each, Refused):
            problems.append(f"{ENTRIES}, {name}: {each.why}")
        elif each.id in ids:
            problems.append(f"{ENTRIES}, {name}: the {each.called} stands there twice.")
        else:
            ids.add(each.id)
            try:
                read_record(each)
                found.append(each)
            except LabError as error:
                problems.append(f"{ENTRIES}, {name}: {error}")
    return found


def chain_problems(entries: list[Entry]) -> Iterator[str]:
    """Look whether everything that was corrected or withdrawn is there."""
    ids, versions = {each.id for each in entries}, versions_of(entries)
    for each in entries:
        if not ids.issuperset(each.supersedes):
            yield f"The {each.called} replaces an entry that is not in it."
        if versions.circular(each.id):
            yield f"The {each.called} and others replace one another in a circle."


def photo_problems(bundle: BundleFile, entries: list[Entry], remarks: list[str]) -> Iterator[str]:
    """Look whether the photos are those that entries name; that one is missing is a remark."""
    from labkit.book.photos import LARGEST_PIXELS, names_in
    from labkit.photo_file import open_photo

    wanted = set().union(*(names_in(each.payload) for each in entries))
    here = {name.partition("/")[2] for name in bundle.names("photos")}
    for name in sorted(here):
        content = bundle.photo(name)
        if hashlib.sha256(content).hexdigest() != Path(name).stem:
            yield f"The photo {name[:12]}… was altered."
        try:
            open_photo(content, LARGEST_PIXELS)
        except LabError as error:
            yield f"The photo {name[:12]}…: {error}"
    yield from (f"“{in_photos(name)}” belongs to no entry." for name in sorted(here - wanted))
    if missing := len(wanted - here):
        remarks.append(f"{missing} photos that entries name are not in it.")


def tables_apart(
    bundle: BundleFile, entries: list[Entry], listed: Mapping[str, Any], doubtful: bool, remarks: list[str]
) -> Iterator[str]:
    """Compare the tables with their schema, and with what the entries say."""
    schemas = dict(_schemas(_document(bundle, PACKAGE)))
    for name in sorted({*bundle.names("tables")} ^ schemas.keys()):
        yield f"“{name[:80]}” is either in it or in its Data Package, but not in both."
    contents = {name: bundle.read(name) for name in bundle.names("tables") if name in schemas}
    for name, content in contents.items():
        yield from (f"“{name}”: {problem}." for problem in table_problems(content, schemas[name]))
    if doubtful:
        return
    right = {in_table(each.kind): each for each in tables_of(entries)}
    if wrong := sorted(name for name in {*right, *contents} if _differs(name, right, contents, schemas)):
        said = f"{', '.join(wrong)}: not what this labkit makes of the entries"
        if listed.get("versions", {}).get("labkit") == __version__:
            yield f"{said}, so altered."
        else:
            remarks.append(f"{said}; another labkit made the bundle. The entries are what counts.")


def _differs(
    name: str, right: Mapping[str, Table], contents: Mapping[str, bytes], schemas: Mapping[str, Any]
) -> bool:
    if name not in right or name not in contents:
        return True
    return contents[name] != right[name].content or schemas[name] != right[name].fields


def _schemas(document: dict[str, Any]) -> Iterator[tuple[str, list[dict[str, Any]]]]:
    resources = document.get("resources")
    for each in resources if isinstance(resources, list) else []:
        path = each.get("path") if isinstance(each, dict) else None
        if path == ENTRIES:
            continue
        schema = each.get("schema") if isinstance(each, dict) else None
        fields = schema.get("fields") if isinstance(schema, dict) else None
        if (
            not isinstance(path, str)
            or not isinstance(fields, list)
            or not all(isinstance(one, dict) for one in fields)
        ):
            raise LabError(f"“{PACKAGE}” describes something that is no table of a lab.")
        yield path, fields


def cards_apart(
    bundle: BundleFile, entries: list[Entry], listed: Mapping[str, Any], doubtful: bool, remarks: list[str]
) -> Iterator[str]:
    """Compare the recipe cards with what the entries say."""
    if doubtful:
        return
    right = cards_of(entries)
    names = {*right, *bundle.names("cards")}
    wrong = [each for each in sorted(names) if each not in right or not _same(bundle, each, right[each])]
    if wrong:
        said = f"{', '.join(wrong)}: not the card that this labkit makes of the entries"
        if listed.get("versions", {}).get("labkit") == __version__:
            yield f"{said}, so altered."
        else:
            remarks.append(f"{said}; another labkit made the bundle. The entries are what counts.")


def _same(bundle: BundleFile, name: str, content: bytes) -> bool:
    return name in bundle.names("cards") and bundle.read(name) == content


def crate_apart(bundle: BundleFile) -> Iterator[str]:
    """Compare the files that the RO-Crate document tells of with those that are there."""
    graph = _document(bundle, CRATE).get("@graph")
    things = [each for each in graph if isinstance(each, dict)] if isinstance(graph, list) else []
    root: dict[str, Any] = next((each for each in things if each.get("@id") == "./"), {})
    parts = root.get("hasPart")
    listed = [each for each in parts if isinstance(each, dict)] if isinstance(parts, list) else []
    named = {unquote(str(each.get("@id"))) for each in listed}
    for name in sorted(named ^ (set(bundle.names()) - {CRATE, SUMS})):
        yield f"“{name[:80]}” is either in it or in “{CRATE}”, but not in both."


def counts_apart(entries: list[Entry], listed: Mapping[str, Any], doubtful: bool) -> Iterator[str]:
    """Compare how many entries and which trials the bundle says it has with what is in it."""
    if listed and not doubtful and listed.get("entries") != len(entries):
        told = str(listed.get("entries"))[:20]
        yield f"“{VERSIONS}” tells of {told} entries, and {len(entries)} are in it."
    trials = {each.trial for each in entries}
    for name in listed.get("trials", ()) if entries else ():
        if name not in trials:
            yield f"No entry of the trial “{name[:80]}” is in it."
