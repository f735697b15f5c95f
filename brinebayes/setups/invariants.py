"""What must never be: which states keep every invariant, and which invariants a state breaks."""

from __future__ import annotations

import numpy as np

from brinebayes.knowledge.schema import Setups
from brinebayes.setups.states import Mask, Space, State, holds


def keeps_all(setups: Setups, space: Space) -> Mask:
    """(states,): where no forbidden combination occurs."""
    safe = np.ones(space.size, dtype=np.bool_)
    for invariant in setups.invariants.values():
        safe &= ~space.where(invariant.never)
    return safe


def broken(setups: Setups, state: State) -> tuple[str, ...]:
    """The invariants that a state breaks, in the order of setups.yaml."""
    return tuple(
        name
        for name, invariant in setups.invariants.items()
        if holds(setups, state, invariant.never)
    )
