"""What a state that nobody has looked at may really be, and which states can come about at all.

A worst value that no move and no act leads to is not a state of the unit but of our knowledge: it
stands for every real value of its variable. What is then said of such a state must hold for all
the states that it may be.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping

import numpy as np

from brinebayes.knowledge.schema import Condition, Setups
from brinebayes.record import record
from brinebayes.setups.invariants import keeps_all
from brinebayes.setups.states import Mask, Space, service


@record
class Step:
    """Something that changes the state where its need holds: a move, or what an act leaves."""

    needs: Condition
    leaves: Mapping[str, str]


@record
class Real:
    """The states that can come about, and how unknown states stand for them.

    `can_be`: (states,), true where the state can be reached from service without ever breaking an
    invariant. `worst`: per variable, the place of its worst value. `stands_for_all`: per variable,
    whether that value stands for all others, because no state that can come about has it.
    """

    space: Space
    can_be: Mask
    worst: tuple[int, ...]
    stands_for_all: tuple[bool, ...]

    def some(self, mask: Mask) -> Mask:
        """(states,): whether the mask holds in at least one real state that each may be."""
        return self._spread(mask & self.can_be)

    def every(self, mask: Mask) -> Mask:
        """(states,): whether the mask holds in every real state that each may be (at least one)."""
        return self._spread(self.can_be) & ~self._spread(self.can_be & ~mask)

    def every_assumed(self, mask: Mask, only: int | None = None) -> Mask:
        """As `every`, when a worst value that is a real one was only assumed too.

        Such a value then stands for all others as well. `only`: the axis of the one variable of
        which that is asked; None: of all.
        """
        axes = range(len(self.worst)) if only is None else (only,)
        return self._spread(self.can_be, axes) & ~self._spread(self.can_be & ~mask, axes)

    def _spread(self, real: Mask, assumed: Collection[int] = ()) -> Mask:
        # One axis at a time is enough: what a state may be is a product over its variables.
        spread = real.reshape(self.space.shape).copy()
        for axis, place in enumerate(self.worst):
            if self.stands_for_all[axis] or axis in assumed:
                at = (slice(None),) * axis + (place,)
                spread[at] = spread.any(axis=axis)
        return spread.ravel()


def real_states(setups: Setups, space: Space, acts: Iterable[Step] = ()) -> Real:
    """Follow moves and acts from service as far as they go without breaking an invariant."""
    safe = keeps_all(setups, space)
    steps = [*acts, *(Step(move.needs, move.leaves) for move in setups.moves.values())]
    ways = []
    for step in steps:
        after = space.after(step.leaves)
        ways.append((space.where(step.needs) & safe & safe[after], after))
    can_be = np.zeros(space.size, dtype=np.bool_)
    can_be[space.number(service(setups))] = True
    can_be &= safe
    found = -1
    while found != (found := int(can_be.sum())):
        for open_, after in ways:
            can_be[after[can_be & open_]] = True
    variables = zip(space.values, setups.variables.values(), strict=True)
    worst = tuple(values.index(variable.worst) for values, variable in variables)
    grid = can_be.reshape(space.shape)
    stands = tuple(
        not bool(np.take(grid, place, axis=axis).any()) for axis, place in enumerate(worst)
    )
    return Real(space, can_be, worst, stands)
