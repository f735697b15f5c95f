"""The states that may be met, the moves that are safe in each, and the cheapest way to a goal."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from brinebayes.knowledge.schema import Condition, Money, Setups
from brinebayes.record import record
from brinebayes.setups.invariants import keeps_all
from brinebayes.setups.moves import price
from brinebayes.setups.states import Mask, Space
from brinebayes.setups.unknown import Real, Step, real_states

#: In a table of next moves: the goal holds here; no safe route leads to it.
HERE, NONE = 255, 254

#: Beyond any price; small enough that adding a move to it does not overflow.
_FAR = np.int64(1) << 60
#: Prices are multiplied by this, so that the number of moves counts after the price.
_MOVES = 1 << 12


@record
class Graph:
    """`numbers`: (rows,) the states that may be met, the real ones first; `real_rows` of them are.

    `moves`: ids in alphabetical order; `prices`: (moves,); `to`: (moves, rows) the row that a move
    leads to, or -1 where it is not possible, or not safe, in every state that the row may be.
    """

    space: Space
    real: Real
    numbers: NDArray[np.int32]
    real_rows: int
    moves: tuple[str, ...]
    prices: NDArray[np.int64]
    to: NDArray[np.int32]

    def rows_where(self, needs: Condition) -> Mask:
        """(rows,): where the condition holds in every state that the row may be."""
        every: Mask = self.real.every(self.space.where(needs))[self.numbers]
        return every


def build(setups: Setups, money: Money, acts: Iterable[Step] = ()) -> Graph:
    """The graph of one model; `acts` are what checks, repairs and the proof need and leave."""
    space = Space(setups)
    real = real_states(setups, space, acts)
    safe = keeps_all(setups, space)
    may_be_met = real.some(real.can_be)
    known = np.flatnonzero(real.can_be)
    numbers = np.concatenate([known, np.flatnonzero(may_be_met & ~real.can_be)]).astype(np.int32)
    row_of = rows_of(space, numbers)
    moves = tuple(sorted(setups.moves))
    to = np.full((len(moves), len(numbers)), -1, dtype=np.int32)
    for place, name in enumerate(moves):
        move = setups.moves[name]
        after = space.after(move.leaves)
        open_ = real.every(space.where(move.needs) & safe[after])[numbers]
        to[place, open_] = row_of[after[numbers[open_]]]
    prices = np.array([price(setups.moves[name], money) for name in moves], dtype=np.int64)
    return Graph(space, real, numbers, len(known), moves, prices, to)


def rows_of(space: Space, numbers: NDArray[np.int32]) -> NDArray[np.int32]:
    """(states,): the row of each state, -1 for those that are never met."""
    row_of = np.full(space.size, -1, dtype=np.int32)
    row_of[numbers] = np.arange(len(numbers), dtype=np.int32)
    return row_of


def solve(graph: Graph, goal: Mask) -> tuple[NDArray[np.uint8], NDArray[np.int64]]:
    """(rows,) the place of the next move, or `HERE`, or `NONE`; (rows,) the price of the route.

    Least price, then fewest moves, then the first id. Relaxes every move in every row until
    nothing changes (Bellman 1958): exact on whole numbers, and some hundred array operations here.
    """
    weights = graph.prices * _MOVES + 1
    rows = len(graph.numbers)
    # One row more, out of reach: moves that are not possible lead there.
    to = np.where(graph.to >= 0, graph.to, rows).astype(np.intp)
    far = np.full(rows + 1, _FAR)
    far[:-1][goal] = 0
    while True:
        before = far.copy()
        for weight, after in zip(weights, to, strict=True):
            np.minimum(far[:-1], weight + far[after], out=far[:-1])
        if np.array_equal(before, far):
            break
    reached = far[:-1] < _FAR
    next_move = np.full(rows, NONE, dtype=np.uint8)
    if len(to):
        # The first of equal ways is the one whose id comes first.
        next_move[reached] = (weights[:, None] + far[to]).argmin(axis=0)[reached]
    next_move[goal] = HERE
    return next_move, np.where(reached, far[:-1] // _MOVES, -1)


def ends(graph: Graph, next_move: NDArray[np.uint8]) -> NDArray[np.int32]:
    """(rows,): the row in which the route of `solve` ends, -1 where there is none."""
    here = np.arange(len(graph.numbers), dtype=np.int32)
    after = np.where(next_move == NONE, -1, here)
    moving = np.flatnonzero(next_move < NONE)
    after[moving] = graph.to[next_move[moving], moving]
    while True:
        # Every turn doubles how far ahead each row looks.
        further = np.where(after >= 0, after[after], -1).astype(np.int32)
        if np.array_equal(further, after):
            return further
        after = further
