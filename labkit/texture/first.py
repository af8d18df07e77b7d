"""The first three pours of a trial: the usual, the usual again, and one change."""

from collections.abc import Mapping

import numpy as np

from labkit.texture.record import PlannedPour, Question
from labkit.texture.region import Region
from labkit.texture.usual import base_shares, one_change

_MOVED = 0.001  # share; less is no change


def first_pours(question: Question, region: Region) -> list[PlannedPour]:
    """Return the first card of a question, which follows from the question alone.

    The change answers the complaint; where the bounds or rules do not allow it, the
    nearest composition that they allow is poured, and said to be that.
    """
    usual, wanted = base_shares(question.usual), one_change(question)
    inside = bool(region.contains(np.array([list(wanted.values())]))[0])
    changed = wanted if inside else dict(region.nearest(wanted))
    whys = ("the usual", "the usual again", _change_words(usual, changed, inside))
    return [
        PlannedPour(number=number, shares=shares, why=why)
        for number, (shares, why) in enumerate(zip((usual, usual, changed), whys, strict=True), 1)
    ]


def _change_words(usual: Mapping[str, float], changed: Mapping[str, float], inside: bool) -> str:
    moved = {part: changed[part] - usual[part] for part in usual if abs(changed[part] - usual[part]) > _MOVED}
    if not moved:
        return "the usual once more, since your bounds and rules allow no change"
    said = ", ".join(f"{'more' if by > 0 else 'less'} {part}" for part, by in moved.items())
    if inside or len(moved) == 2:
        return f"one change: {said}"
    return f"the nearest to one change that your bounds and rules allow: {said}"
