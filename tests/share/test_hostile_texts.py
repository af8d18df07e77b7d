"""A bundle whose every text holds a script and a broken formula: panels and tables show them as texts."""

import json

import ipywidgets
import pytest

from labkit.assets import assets
from labkit.book import TrialBook, read_lines, take_in
from labkit.book.entry import Entry, new_entry
from labkit.kitchen import BatchPanel, StreakPanel
from labkit.shade import ShadePanel
from labkit.share import bundle, log_remake, remakes, verify
from labkit.texture import TexturePanel

HARM = "<img src=x onerror=alert(1)>$\\frac{"
NAMES = ("shea butter", "cocoa butter", "castor oil", "beeswax", "magnesium stearate", "just right", "draggy")
FREE = ("remark", "tester", "lots", "lot", "mould", "batch", "method", "stirred", "container", "file")


def hostile(entry: Entry) -> Entry:
    """Return an entry with harm in its trial's name, in whatever is named in it, and in every free text."""
    text = json.dumps(harmed(entry.payload), ensure_ascii=False)
    for name in NAMES:
        text = text.replace(json.dumps(name), json.dumps(f"{name} {HARM}"))
    fields = {name: getattr(entry, name) for name in ("schema", "id", "time", "supersedes")}
    return new_entry(entry.kind, f"{entry.trial} {HARM}", json.loads(text), entry.maker, **fields)


def harmed(value: object, key: str = "") -> object:
    if isinstance(value, dict):
        return {name: harmed(each, name) for name, each in value.items()}
    if isinstance(value, list):
        return [harmed(each, key) for each in value]
    return f"{value} {HARM}".strip() if isinstance(value, str) and key in FREE else value


@pytest.fixture(scope="module")
def book(tmp_path_factory):
    """A book into which such a bundle was taken."""
    home = tmp_path_factory.mktemp("hostile")
    with TrialBook(home / "theirs.db") as theirs, TrialBook(home / "mine.db") as mine:
        entries = [hostile(each) for lines in assets().demo for each in read_lines(lines)]
        assert not take_in(theirs, entries).refused
        bundle(theirs, theirs.trials(), to=home / "x.zip")
        assert verify(home / "x.zip").ok
        assert mine.take_in(home / "x.zip").new == len(entries)
        yield mine


def widgets(widget: ipywidgets.Widget, seen: set[int]):
    """Yield a widget and all that it holds."""
    if id(widget) in seen:
        return
    seen.add(id(widget))
    yield widget
    for name in widget.trait_names(sync=True):
        value = getattr(widget, name)
        for each in value if isinstance(value, list | tuple) else [value]:
            if isinstance(each, ipywidgets.Widget):
                yield from widgets(each, seen)


@pytest.mark.parametrize("panel", [TexturePanel, ShadePanel, StreakPanel, BatchPanel])
def test_panels_show_it_as_text(book, panel):
    shown = panel(book)
    assert shown.errors == []
    markup = [
        text
        for widget in widgets(shown, set())
        for name in widget.trait_names(sync=True)
        if isinstance(text := getattr(widget, name), str) and not name.startswith("_")
    ]
    assert not [each for each in markup if "<img src=x" in each]
    assert [each for each in markup if "&lt;img src=x onerror=alert(1)&gt;" in each], "it is shown at all"


def test_remakes_say_it_as_text(book):
    recipe = book.entries("texture.pour")[0]
    log_remake(book, recipe, [f"just right {HARM}"], changed=HARM)
    found = remakes(book, recipe)
    assert HARM not in str(found)
    assert HARM in found.table["changed"].tolist()
    assert HARM.replace("<", "&lt;").replace(">", "&gt;") in found.table.to_html()
