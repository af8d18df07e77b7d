"""From many starts at once to the nearest colours around them: an interior-point descent.

Each start is a row. ½ ΔE00² is brought down under linear bounds by primal–dual interior-point steps (Nocedal
and Wright, Numerical Optimization, 2nd ed., chapter 19), all rows together. Colours count as linear in a step
(Gauss–Newton); a row that a step does not better is damped (Levenberg–Marquardt) and tries again.
"""

from collections.abc import Callable
from dataclasses import dataclass, fields

import numpy as np

from labkit.shade.reach import Reach
from labkit.shade.wish import Wish

_ROUNDS = 40
_FORWARD = 1e-5
"""Mass % over which slopes are taken."""
_SHORT_OF = 0.95
"""Share of the way to the nearest bound that one step may go."""
_TIGHTEN = 0.15
_PUSH, _LEAST_PUSH, _LEAST_PULL = 0.02, 1e-9, 1e-16
_SETTLED = 1e-6
_DAMPING, _LEAST_DAMPING, _MOST_DAMPING = 1e-3, 1e-9, 1e9
_TINY, _LEAST_ROOM = 1e-300, 1e-12

Colour = Callable[[np.ndarray], np.ndarray]
"""CIELAB, shape (n, 3), of additions of shape (n, q)."""


@dataclass
class _Rows:
    """Where n rows stand.

    x (n, q), used (n, q); half, slope and bend: ½ ΔE00² and its derivatives in x; live (n, m): which bounds
    count; room (n, m) and normals (n, m, q): how far off they are, and which way; side (n,): of the line
    opposite the wanted hue; pull (n, m): multipliers of the bounds; push (n,): the barrier's weight; damping
    (n,).
    """

    x: np.ndarray
    half: np.ndarray
    slope: np.ndarray
    bend: np.ndarray
    live: np.ndarray
    room: np.ndarray
    normals: np.ndarray
    side: np.ndarray
    used: np.ndarray
    pull: np.ndarray
    push: np.ndarray
    damping: np.ndarray

    def only(self, which: np.ndarray) -> "_Rows":
        """Return some of the rows."""
        return _Rows(**{each.name: getattr(self, each.name)[which] for each in fields(self)})

    def take(self, other: "_Rows", which: np.ndarray) -> None:
        """Replace some rows by those of another."""
        for each in fields(self):
            getattr(self, each.name)[which] = getattr(other, each.name)[which]


def descend(x: np.ndarray, used: np.ndarray, reach: Reach, colour: Colour, wish: Wish) -> np.ndarray:
    """Return the additions, shape (n, q), that come nearest to the wanted colour from each start.

    Parameters
    ----------
    x
        Starts within the bounds of ``reach``, not on them, shape (n, q); 0 where not used.
    used
        Which additions a row may use, shape (n, q); the rest stays 0.
    """
    found = x.copy()
    open_ = np.arange(len(x))
    now = _look(x, used, reach, colour, wish)
    for _ in range(_ROUNDS):
        dx, dpull = _step(now)
        far = _longest(-_along(now, dx) / now.room)
        then = _look(now.x + far * dx, now.used, reach, colour, wish)
        settled = _move(now, then, dpull)
        found[open_] = now.x
        open_, now = open_[~settled], now.only(~settled)
        if not open_.size:
            break
    return found


def _move(now: _Rows, then: _Rows, dpull: np.ndarray) -> np.ndarray:
    """Take the rows that are better, tighten the bounds' push for them; return which rows are settled."""
    better = _is_better(now, then)
    gain = now.half - then.half
    pull = np.maximum(now.pull + _longest(-dpull / np.maximum(now.pull, _TINY)) * dpull, _LEAST_PULL)
    then.pull = np.where(then.live, pull, 0)
    gap = (then.pull * then.room).sum(1) / then.live.sum(1)
    then.push = np.maximum(_TIGHTEN * gap, _LEAST_PUSH)
    then.damping = np.maximum(now.damping / 5, _LEAST_DAMPING)
    now.damping = now.damping * 6
    settled = better & (then.push <= 10 * _LEAST_PUSH) & (gain < _SETTLED * (1e-4 + now.half))
    now.take(then, better)
    return settled | (now.damping > _MOST_DAMPING)


def _look(x: np.ndarray, used: np.ndarray, reach: Reach, colour: Colour, wish: Wish) -> _Rows:
    n, q = x.shape
    lab, turn = _colour_and_slope(x, used, colour)
    half, slope, bend = wish.half_square(lab)
    across = lab @ wish.across
    side = np.where(across < 0, -1.0, 1.0)
    normals = np.concatenate(
        [
            np.broadcast_to(np.eye(q), (n, q, q)),
            np.broadcast_to(-reach.rows, (n, *reach.rows.shape)),
            (side[:, None] * (turn @ wish.across))[:, None],
        ],
        axis=1,
    )
    room = np.concatenate([x, reach.most - x @ reach.rows.T, np.abs(across)[:, None]], axis=1)
    opposite = wish.is_opposite(lab) & wish.across.any()
    live = np.concatenate([used, np.ones((n, len(reach.most)), bool), opposite[:, None]], axis=1)
    room = np.where(live, np.maximum(room, _LEAST_ROOM), 1)
    push = _PUSH * (half + 0.1)
    return _Rows(
        x=x,
        half=half,
        slope=np.einsum("nqc,nc->nq", turn, slope),
        bend=turn @ bend @ turn.transpose(0, 2, 1),
        live=live,
        room=room,
        normals=normals * (live[..., None] & used[:, None]),
        side=side,
        used=used,
        pull=np.where(live, push[:, None] / room, 0),
        push=push,
        damping=np.full(n, _DAMPING),
    )


def _colour_and_slope(x: np.ndarray, used: np.ndarray, colour: Colour) -> tuple[np.ndarray, np.ndarray]:
    """Return CIELAB and its slope along the additions that are used: (n, 3) and (n, q, 3), 0 elsewhere."""
    row, column = np.nonzero(used)
    beside = x[row]
    beside[np.arange(len(row)), column] += _FORWARD
    lab = colour(np.concatenate([x, beside]))
    turn = np.zeros((*x.shape, 3))
    turn[row, column] = (lab[len(x) :] - lab[row]) / _FORWARD
    return lab[: len(x)], turn


def _along(now: _Rows, dx: np.ndarray) -> np.ndarray:
    """Return how the room to each bound changes."""
    return np.einsum("nmq,nq->nm", now.normals, dx)


def _step(now: _Rows) -> tuple[np.ndarray, np.ndarray]:
    """Return the Newton step of the additions and of the bounds' multipliers."""
    stiff, away = now.pull / now.room, np.where(now.live, now.push[:, None] / now.room, 0)
    matrix = now.bend + now.normals.transpose(0, 2, 1) @ (stiff[..., None] * now.normals)
    own = np.arange(now.x.shape[1])
    matrix[:, own, own] += np.where(now.used, now.damping[:, None] * (now.bend[:, own, own] + 1e-6), 1)
    downhill = np.einsum("nmq,nm->nq", now.normals, away) - now.slope
    dx = np.where(now.used, np.linalg.solve(matrix, downhill[..., None])[..., 0], 0)
    return dx, np.where(now.live, away - now.pull - stiff * _along(now, dx), 0)


def _longest(shrinks: np.ndarray) -> np.ndarray:
    """Return the longest step, 1 or less, shape (n, 1), where ``shrinks`` is the share a full step takes."""
    return np.minimum(1, _SHORT_OF / np.maximum(shrinks.max(1, keepdims=True), _TINY))


def _is_better(now: _Rows, then: _Rows) -> np.ndarray:
    both = now.live & then.live
    crossed = both[:, -1] & (now.side != then.side)
    barrier = np.where(both, np.log(then.room / now.room), 0).sum(1)
    return (then.half - now.half - now.push * barrier < 1e-12 + 1e-9 * now.half) & ~crossed
