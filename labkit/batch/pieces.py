"""The pieces of a cooling log that share one pace, and the law fitted to them."""

from dataclasses import dataclass, replace

import numpy as np
from scipy.special import fdtrc

from labkit.batch.asked import Floats
from labkit.batch.newton import Law, Pace, Stretch
from labkit.batch.stretches import Span, cooling_spans, find_plateau, thinned
from labkit.errors import LabError

_OUTLYING = 4.0  # robust standard deviations
_PASSES = 5
_OWN_PACE = 0.01  # chance below which what cools after a plateau has a pace of its own
_MANY = 4  # readings in a piece beyond which those beside a plateau or a reheat are left out


@dataclass(frozen=True)
class Piece:
    """Readings of one span, before or after its plateau."""

    span: int
    after: bool
    rows: tuple[int, ...]


@dataclass(frozen=True, eq=False)
class Fitted:
    """The law, the pieces it rests on, and what cools after the latest plateau at a pace of its own."""

    spans: list[Span]
    pace: Pace
    pieces: list[Piece]
    own: tuple[Piece, Pace] | None

    def rows(self) -> set[int]:
        """Return the readings that some law rests on."""
        found = {row for piece in self.pieces for row in piece.rows}
        return found | (set(self.own[0].rows) if self.own else set())


def fit_pieces(minutes: Floats, celsius: Floats, room: float | None) -> Fitted:
    """Find the pieces that cool by one law, and fit it."""
    spans = [_with_plateau(span, minutes, celsius, room) for span in cooling_spans(celsius)]
    last = len(spans) - 1
    before = [Piece(each, False, _before(span, each < last)) for each, span in enumerate(spans)]
    after = [Piece(each, True, _after(span, each < last)) for each, span in enumerate(spans) if span.plateau]
    after = [piece for piece in after if len(piece.rows) > 2]
    _check_enough(before, minutes, room)
    shared = bool(after) and _one_pace(before, after, minutes, celsius, room)
    pieces, pace = _robust([*before, *after] if shared else before, minutes, celsius, room)
    _check_cools(pace, pieces, celsius)
    own = None
    if after and not shared and after[-1].span == last:
        own = (after[-1], Law(_stretches(after[-1:], minutes, celsius), room).fit())
    return Fitted(spans, pace, pieces, own)


def _with_plateau(span: Span, minutes: Floats, celsius: Floats, room: float | None) -> Span:
    clock = minutes[span.first : span.stop]
    times, temperatures = thinned(clock, celsius[span.first : span.stop])
    found = find_plateau(times, temperatures, room)
    if found is None:
        return span
    first = span.first + int(np.searchsorted(clock, times[found[0]]))
    stop = span.first + int(np.searchsorted(clock, times[found[1]], side="right"))
    return replace(span, plateau=(first, max(stop - 1, first)))


def _before(span: Span, reheated: bool) -> tuple[int, ...]:
    """Return what cools before the plateau or, where there is none, before the reheat."""
    if span.plateau is None:
        return _without_end(tuple(range(span.first, span.stop)), reheated)
    return _without_end(tuple(range(span.first, span.plateau[0])), True)


def _after(span: Span, reheated: bool) -> tuple[int, ...]:
    """Return what cools after the plateau."""
    rows = tuple(range(span.plateau[1] + 1, span.stop)) if span.plateau else ()
    return _without_end(_without_end(rows, reheated)[::-1], True)[::-1]


def _without_end(rows: tuple[int, ...], disturbed: bool) -> tuple[int, ...]:
    """Leave out the last tenth, at least one, where what comes next may reach into it."""
    return rows[: -max(len(rows) // 10, 1)] if disturbed and len(rows) > _MANY else rows


def _stretches(pieces: list[Piece], minutes: Floats, celsius: Floats) -> list[Stretch]:
    return [thinned(minutes[list(piece.rows)], celsius[list(piece.rows)]) for piece in pieces]


def _check_enough(pieces: list[Piece], minutes: Floats, room: float | None) -> None:
    least = 3 if room is None else 2
    longest = max(pieces, key=lambda piece: len(piece.rows)).rows
    if len(longest) < least or minutes[longest[-1]] <= minutes[longest[0]]:
        raise LabError(
            f"{len(longest)} reading{'s' * (len(longest) != 1)} of one cooling: it takes {least} or more, "
            "minutes apart" + ("; two where the room's temperature is given." if room is None else ".")
        )


def _one_pace(
    before: list[Piece], after: list[Piece], minutes: Floats, celsius: Floats, room: float | None
) -> bool:
    """Tell whether what cools after a plateau may have the τ of what cools before it (F test)."""
    law = Law(_stretches([*before, *after], minutes, celsius), room)
    if law.dof < 2:
        return False
    one = law.least()
    two = min(one, law.least_apart(len(before)))
    ratio = (one - two) / max(two / (law.dof - 1), 1e-4)
    return bool(fdtrc(1, law.dof - 1, ratio) > _OWN_PACE)


def _robust(
    pieces: list[Piece], minutes: Floats, celsius: Floats, room: float | None
) -> tuple[list[Piece], Pace]:
    """Fit the law, and again without readings that lie far off it, until none does."""
    pace = Law(_stretches(pieces, minutes, celsius), room).fit()
    for _ in range(_PASSES):
        kept = _kept(pieces, pace, minutes, celsius)
        if kept == pieces:
            break
        pieces, pace = kept, Law(_stretches(kept, minutes, celsius), room).fit()
    return pieces, pace


def _kept(pieces: list[Piece], pace: Pace, minutes: Floats, celsius: Floats) -> list[Piece]:
    off = [
        celsius[list(piece.rows)] - pace.celsius(number, minutes[list(piece.rows)])
        for number, piece in enumerate(pieces)
    ]
    limit = max(1.0, _OUTLYING * 1.4826 * float(np.median(np.abs(np.concatenate(off)))))
    return [_within(piece, each, limit) for piece, each in zip(pieces, off, strict=True)]


def _within(piece: Piece, off: Floats, limit: float) -> Piece:
    rows = tuple(row for row, each in zip(piece.rows, off, strict=True) if abs(each) <= limit)
    return replace(piece, rows=rows) if len(rows) >= min(3, len(piece.rows)) else piece


def _check_cools(pace: Pace, pieces: list[Piece], celsius: Floats) -> None:
    fall = max(celsius[piece.rows[0]] - celsius[piece.rows[-1]] for piece in pieces)
    if fall < max(0.5, 2.0 * pace.sd):
        raise LabError(
            f"The pot does not cool in these readings: {fall:.1f} °C from first to last. "
            "Go on reading, or look whether the heat is still on."
        )
