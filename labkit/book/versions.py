"""Which versions belong together, and which of them are current.

Everything follows from the set of links alone (“this entry replaces that one”),
so it is the same in whatever order the entries arrived.
"""

from collections.abc import Iterable
from graphlib import CycleError, TopologicalSorter


class Versions:
    """The versions of every entry that was ever corrected or withdrawn.

    Parameters
    ----------
    links : pairs (id of the newer version, id of the older one)
    withdrawals : ids of the entries that are withdrawals

    >>> versions = Versions([("b", "a"), ("c", "a")])
    >>> versions.first("c"), versions.heads("a"), versions.forked("a")
    ('a', ['b', 'c'], True)
    """

    def __init__(self, links: Iterable[tuple[str, str]], withdrawals: Iterable[str] = ()) -> None:
        self._older: dict[str, set[str]] = {}
        self._newer: dict[str, set[str]] = {}
        self._withdrawals = frozenset(withdrawals)
        for new, old in links:
            self._older.setdefault(new, set()).add(old)
            self._newer.setdefault(old, set()).add(new)

    def linked(self) -> list[str]:
        """Return the ids of all versions that replace or are replaced, sorted."""
        return sorted(self._older.keys() | self._newer.keys())

    def members(self, id: str) -> set[str]:
        """Return the ids of all versions of the thing that `id` is a version of."""
        found, waiting = {id}, [id]
        while waiting:
            each = waiting.pop()
            near = (self._older.get(each, set()) | self._newer.get(each, set())) - found
            found |= near
            waiting.extend(near)
        return found

    def first(self, id: str) -> str:
        """Return the id of the first version: what references name."""
        members = self.members(id)
        return min((each for each in members if each not in self._older), default=min(members))

    def replaced(self, id: str) -> bool:
        """Return whether some version replaces this one."""
        return id in self._newer

    def heads(self, id: str) -> list[str]:
        """Return the ids of the versions that nothing replaces, sorted; withdrawals among them."""
        return sorted(each for each in self.members(id) if each not in self._newer)

    def withdrawn(self, id: str) -> bool:
        """Return whether nothing but withdrawals is left of it."""
        heads = self.heads(id)
        return bool(heads) and self._withdrawals.issuperset(heads)

    def forked(self, id: str) -> bool:
        """Return whether there are several current versions between which a person must choose."""
        heads = self.heads(id)
        return len(heads) > 1 and not self._withdrawals.issuperset(heads)

    def oldest_first(self, id: str) -> list[str]:
        """Return the ids of all versions, each after those that it replaces."""
        order: TopologicalSorter[str] = TopologicalSorter()
        for each in sorted(self.members(id)):
            order.add(each, *sorted(self._older.get(each, ())))
        try:
            return _steadily(order)
        except CycleError:
            return sorted(self.members(id))

    def circular(self, id: str) -> bool:
        """Return whether nothing is current because the versions replace one another in a circle."""
        return not self.heads(id)


def _steadily(order: "TopologicalSorter[str]") -> list[str]:
    order.prepare()
    listed: list[str] = []
    while order.is_active():
        ready = sorted(order.get_ready())
        listed.extend(ready)
        order.done(*ready)
    return listed
