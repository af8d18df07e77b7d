"""Which entries go into a bundle: those of the chosen trials, and all that these rest on."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from labkit.book.entry import WITHDRAWAL, Entry, is_id
from labkit.book.given import tidy
from labkit.book.trials import named_trials
from labkit.book.versions import Versions
from labkit.errors import LabError, did_you_mean
from labkit.share.learned_from import learned_from

if TYPE_CHECKING:
    from labkit.book import TrialBook


@dataclass(frozen=True)
class Chosen:
    """The entries of a bundle.

    Attributes
    ----------
    entries : tuple of Entry
        By id.
    trials : tuple of str
        The chosen trials, by name.
    also : tuple of str
        Trials of which something is in it because a chosen one learns from it or refers to it.
    """

    entries: tuple[Entry, ...]
    trials: tuple[str, ...]
    also: tuple[str, ...]


def choose(book: "TrialBook", trials: Any, alone: bool = False) -> Chosen:
    """Return the entries of trials with every correction, withdrawal and thing that they refer to.

    Parameters
    ----------
    book : TrialBook
    trials : str or sequence of str
        Names as `TrialBook.trials` tells them, or ids of questions; a trial that was opened is taken too.
    alone : bool
        Leave out the earlier trials that the chosen ones learn from.

    Raises
    ------
    LabError
        Where none was named, or one that the book does not have.
    """
    everything = {each.id: each for each in book.all_entries()}
    graph = _Graph(everything)
    named: set[str] = set()
    for asked in _asked(trials):
        named |= _of_trial(book, everything, graph, asked)
    learned = set() if alone else learned_from(book, [everything[id] for id in sorted(named)])
    inside = graph.rests_on(named | graph.about(learned))
    entries = tuple(everything[id] for id in sorted(inside))
    called = {everything[id].trial for id in named}
    also = {each.trial for each in entries} - called
    return Chosen(entries, tuple(sorted(called)), tuple(sorted(also)))


def versions_of(entries: Iterable[Entry]) -> Versions:
    """Return which of some entries are versions of one thing."""
    listed = list(entries)
    links = [(each.id, old) for each in listed for old in each.supersedes]
    return Versions(links, [each.id for each in listed if each.kind == WITHDRAWAL])


def ids_in(value: object) -> Iterator[str]:
    """Yield every id of an entry anywhere in a payload, names of fields included."""
    if isinstance(value, str):
        if is_id(value):
            yield value
    elif isinstance(value, dict):
        for name, each in value.items():
            yield from ids_in(name)
            yield from ids_in(each)
    elif isinstance(value, list):
        for each in value:
            yield from ids_in(each)


class _Graph:
    """Who refers to whom, over the whole book."""

    def __init__(self, everything: dict[str, Entry]) -> None:
        self._versions = versions_of(everything.values())
        self._refers: dict[str, list[str]] = {}
        self._referred: dict[str, list[str]] = defaultdict(list)
        for id, entry in everything.items():
            self._refers[id] = [each for each in ids_in(entry.payload) if each in everything]
            for each in self._refers[id]:
                self._referred[each].append(id)

    def about(self, ids: Iterable[str]) -> set[str]:
        """Return all versions of these, and of whatever refers to them, to those, and so on."""
        return self._spread(ids, lambda id: self._referred.get(id, []))

    def rests_on(self, ids: Iterable[str]) -> set[str]:
        """Return all versions of these, and of whatever they refer to, and so on."""
        return self._spread(ids, lambda id: self._refers[id])

    def _spread(self, ids: Iterable[str], near: Any) -> set[str]:
        found: set[str] = set()
        waiting = list(ids)
        while waiting:
            id = waiting.pop()
            if id in found or id not in self._refers:
                continue
            found.add(id)
            waiting += self._versions.members(id) - found
            waiting += near(id)
        return found


def _asked(trials: Any) -> Sequence[str]:
    listed = [trials] if isinstance(trials, str) or not isinstance(trials, Iterable) else list(trials)
    names = [getattr(each, "entry", each) for each in listed]
    if not names or not all(isinstance(each, str) for each in names):
        raise LabError("Say which trials: a list of their names, such as [“Rosewood red”].")
    return names


def _of_trial(book: "TrialBook", everything: dict[str, Entry], graph: _Graph, asked: str) -> set[str]:
    if asked in everything:
        return graph.about([asked])
    name = tidy(asked)
    if found := {id for id, each in everything.items() if each.trial == name}:
        return found
    questions = {each.kind for each in everything.values() if each.kind.endswith(".question")}
    told_apart = {
        name: entry for kind in sorted(questions) for name, entry in named_trials(book, kind).items()
    }
    if name in told_apart:
        return graph.about([told_apart[name]])
    known = sorted({each.trial for each in everything.values()})
    if not known:
        raise LabError("Nothing stands in this book yet, so there is nothing to hand on.")
    raise LabError(f"There is no trial “{asked[:80]}” in this book. {did_you_mean(name, known)}")
