"""What a state that nobody has looked at may really be, and which states can come about at all.

A worst value that no move and no act leads to is not a state of the unit but of our knowledge: it
stands for every real value of its variable. What is then said of such a state must hold for all
the states that it may be.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from brinebayes.knowledge.schema import Condition, Setups
from brinebayes.setups.invariants import keeps_all
from brinebayes.setups.states import Mask, Space, service


@dataclass(frozen=True)
class Step:
    """Something that changes the state where its need holds: a move, or what an act leaves."""

    needs: Condition
    leaves: Mapping[str, str]


@dataclass(frozen=True)
class Real:
    """The states that can come about, and how unknown states stand for them.

    `can_be`: (states,), true where the state can be reached from service without ever breaking an
    invariant. `stands_for`: per variable, the place of the value that stands for all others, or
    None where every value is a real one. `ordered`: per variable, the places of its values from
    best to worst: in the order of setups.yaml, the worst one last.
    """

    space: Space
    can_be: Mask
    stands_for: tuple[int | None, ...]
    ordered: tuple[list[int], ...]

    def some(self, mask: Mask) -> Mask:
        """(states,): whether the mask holds in at least one real state that each may be."""
        return self._spread(mask & self.can_be)

    def every(self, mask: Mask) -> Mask:
        """(states,): whether the mask holds in every real state that each may be (at least one)."""
        return self._spread(self.can_be) & ~self._spread(self.can_be & ~mask)

    def every_better(self, mask: Mask) -> Mask:
        """As `every`, for all real states that are no worse than each, in its ordered variables.

        What holds here holds when the state is a worst-case assumption and not what was seen.
        """
        return self._spread(self.can_be, True) & ~self._spread(self.can_be & ~mask, True)

    def _spread(self, real: Mask, to_worse: bool = False) -> Mask:
        # One axis at a time is enough: what a state may be is a product over its variables.
        spread = real.reshape(self.space.shape).copy()
        for axis, place in enumerate(self.stands_for):
            along = np.moveaxis(spread, axis, 0)
            if place is not None:
                along[place] = along.any(axis=0)
            elif to_worse:
                order = self.ordered[axis]
                along[order] = np.logical_or.accumulate(along[order])
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
    return Real(space, can_be, _stand_ins(setups, space, can_be), _orders(setups, space))


def _stand_ins(setups: Setups, space: Space, can_be: Mask) -> tuple[int | None, ...]:
    grid = can_be.reshape(space.shape)
    places: list[int | None] = []
    for axis, variable in enumerate(setups.variables.values()):
        place = space.values[axis].index(variable.worst)
        comes_about = bool(np.take(grid, place, axis=axis).any())
        places.append(None if comes_about else place)
    return tuple(places)


def _orders(setups: Setups, space: Space) -> tuple[list[int], ...]:
    return tuple(
        sorted(range(len(values)), key=lambda place: values[place] == variable.worst)
        for values, variable in zip(space.values, setups.variables.values(), strict=True)
    )
