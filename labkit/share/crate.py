"""What describes a bundle to others: RO-Crate 1.1, Data Package, and plain words."""

from collections.abc import Mapping, Sequence
from typing import Any
from urllib.parse import quote

from labkit import __version__
from labkit.book.bundle_names import (
    CRATE,
    ENTRIES,
    PACKAGE,
    READ_ME,
    SUMS,
    VERSIONS,
    in_table,
    sort_of,
)
from labkit.share.cells import safe_text
from labkit.share.tables import Table

FORMAT = 1
"""Of the bundle's own list, `versions.json`."""
_SORTS = {
    ".csv": "text/csv",
    ".jpg": "image/jpeg",
    ".png": "image/png",
    ".ipynb": "application/x-ipynb+json",
    ".jsonl": "application/jsonl",
    ".json": "application/json",
    ".txt": "text/plain",
    ".md": "text/markdown",
    ".sha256": "text/plain",
}
_CALLED = {
    ENTRIES: "Every entry, one a line: RFC 8785 text with its SHA-256 in it",
    PACKAGE: "Data Package: what the columns of the tables mean",
    VERSIONS: "Which trials, and the versions of what computed them",
    SUMS: "SHA-256 of every other file",
    READ_ME: "What is in here, in plain words",
}


def crate(
    sizes: Mapping[str, int],
    made: str,
    trials: Sequence[str],
    makers: Mapping[str, str],
    versions: Mapping[str, str],
) -> dict[str, Any]:
    """Return the RO-Crate 1.1 metadata document (w3id.org/ro/crate/1.1) of a bundle.

    Parameters
    ----------
    sizes : mapping
        Bytes by name of every file that is told of.
    made : str
        Date and time, ISO 8601.
    trials : sequence of str
    makers : mapping
        Maker ids, each with a name or nothing.
    versions : mapping
        Of what computed the results.
    """
    people = [_person(id, name) for id, name in makers.items()]
    tools = [_tool(name, number) for name, number in versions.items() if name != "machine"]
    results = [name for name in sizes if sort_of(name) in ("notebooks", "tables")]
    root = {
        "@id": "./",
        "@type": "Dataset",
        "name": "Lip colour trials: " + "; ".join(trials),
        "description": "Trial book entries, tables, photos and notebooks of a maker of lip colour. "
        "Figures are one maker's own, and no advice.",
        "datePublished": made,
        "license": "No licence was chosen: ask the maker before you publish any of it.",
        "author": [{"@id": each["@id"]} for each in people],
        "hasPart": [{"@id": quote(name)} for name in sizes],
        "mentions": [{"@id": "#computing"}],
    }
    computing = {
        "@id": "#computing",
        "@type": "CreateAction",
        "name": "Tables and notebooks were computed from the entries",
        "endTime": made,
        "object": [{"@id": ENTRIES}],
        "result": [{"@id": quote(name)} for name in results],
        "instrument": [{"@id": each["@id"]} for each in tools],
    }
    files = [_file(name, size) for name, size in sizes.items()]
    graph = [_descriptor(), root, *files, computing, *people, *tools]
    return {"@context": "https://w3id.org/ro/crate/1.1/context", "@graph": graph}


def package(
    tables: Sequence[Table], sums: Mapping[str, str], sizes: Mapping[str, int], made: str
) -> dict[str, Any]:
    """Return the Data Package document (specs.frictionlessdata.io) of a bundle's entries and tables."""
    entries = {
        "name": "entries",
        "path": ENTRIES,
        "title": _CALLED[ENTRIES],
        "format": "jsonl",
        "mediatype": "application/jsonl",
        "encoding": "utf-8",
        "bytes": sizes[ENTRIES],
        "hash": f"sha256:{sums[ENTRIES]}",
    }
    return {
        "profile": "data-package",
        "name": "lip-colour-trials",
        "title": "Lip colour trials",
        "description": "In the tables an apostrophe stands before a text that a spreadsheet would take for "
        "a formula: at its start, and after a semicolon, a tab or the end of a line.",
        "created": made,
        "resources": [entries, *(_resource(each, sums, sizes) for each in tables)],
    }


def read_me(trials: Sequence[str], made: str, personal: bool) -> str:
    """Return what is in a bundle in plain words, to be read in twenty years."""
    listed = "\n".join(f"  - {each}" for each in trials)
    people = (
        "Names of people are in it." if personal else "Names of people were left out; makers are random ids."
    )
    return f"""Trials of a maker of lip colour, handed on {made[:10]} (labkit {__version__}).

{listed}

What is in here, and how to read it with no more than a text editor:

  {ENTRIES}
      What the maker wrote down, one entry a line, in JSON. Nothing was ever overwritten:
      "supersedes" names the version that an entry replaces. "hash" is the SHA-256 of the
      line without its "hash" field, keys sorted, written as RFC 8785 says.
  tables/
      The same as tables, one for each kind of entry: comma-separated, UTF-8, units in the
      names of columns. {PACKAGE} says what they mean (Data Package). An apostrophe
      stands before what a spreadsheet would take for a formula.
  cards/
      A page for each recipe, with its cautions (Markdown: plain text).
  photos/
      Named by the SHA-256 of their content; location and camera were taken out.
  notebooks/
      Jupyter notebooks with their results. Looking at them runs nothing.
  {VERSIONS}
      Versions of what computed the results.
  {CRATE}
      What belongs together, for programs (RO-Crate 1.1).
  {SUMS}
      SHA-256 of every other file. To check: sha256sum -c {SUMS}
      It shows damage and clumsy changes. Whoever rewrites all of it can rewrite this too:
      ask the maker for the SHA-256 of the whole bundle.

With labkit: labkit verify FILE, and labkit take-in FILE. {people}

Before you pour any of it: hot fat burns, so heat slowly, over water, and never leave it alone;
do not breathe in dry pigment or powder; nuts, wool wax, beeswax and flavours can cause allergy;
which colourants may go on lips differs from market to market. The rules of where you make and
sell it decide. These are common cautions, and no legal or medical advice.
"""


def _descriptor() -> dict[str, Any]:
    return {
        "@id": CRATE,
        "@type": "CreativeWork",
        "conformsTo": {"@id": "https://w3id.org/ro/crate/1.1"},
        "about": {"@id": "./"},
    }


def _file(name: str, size: int) -> dict[str, Any]:
    ending = name[name.rindex(".") :]
    notebook = sort_of(name) == "notebooks"
    found = {
        "@id": quote(name),
        "@type": ["File", "SoftwareSourceCode"] if notebook else "File",
        "name": _CALLED.get(name, name.rpartition("/")[2]),
        "encodingFormat": _SORTS[ending],
        "contentSize": str(size),
    }
    return found | ({"programmingLanguage": {"@id": "#python"}} if notebook else {})


def _person(id: str, name: str) -> dict[str, Any]:
    return {"@id": f"#maker-{id}", "@type": "Person", "identifier": id, "name": name or "A maker"}


def _tool(name: str, number: str) -> dict[str, Any]:
    kind = "ComputerLanguage" if name == "Python" else "SoftwareApplication"
    return {"@id": f"#{name.lower()}", "@type": kind, "name": name, "version": number}


def _resource(table: Table, sums: Mapping[str, str], sizes: Mapping[str, int]) -> dict[str, Any]:
    name = in_table(table.kind)
    return {
        "profile": "tabular-data-resource",
        "name": table.kind,
        "path": name,
        "title": safe_text(table.kind),
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "bytes": sizes[name],
        "hash": f"sha256:{sums[name]}",
        "schema": {"fields": table.fields, "missingValues": [""]},
    }
