"""How the unit stands now, as far as the visit tells; what it does not tell is the worst case.

Where the route of the last act was walked step by step, its end is known. A unit that nobody has
worked on yet shows some things at a glance (`found` in setups.yaml). An act that was done in
another way may have changed what its route and its own work touch: that is unknown again, until
the technician states it.
"""

from __future__ import annotations

from collections.abc import Mapping

from brinebayes.errors import UnsafeRoute
from brinebayes.knowledge.schema import Condition, Model
from brinebayes.setups.invariants import broken
from brinebayes.setups.routes import Routes
from brinebayes.setups.states import State, worst_case
from brinebayes.visit.state import VisitState, needs_and_leaves


def standing(model: Model, routes: Routes, state: VisitState) -> State:
    """The setup to plan from. Raises UnsafeRoute if what was stated breaks an invariant."""
    known: Mapping[str, str] = {
        name: variable.found for name, variable in model.setups.variables.items() if variable.found
    }
    if state.walked is not None:
        known = state.walked
    for act in state.since:
        known = _untouched(model, routes, known, *needs_and_leaves(model, act))
    now = {**known, **state.setup}
    try:
        return routes.start(now)
    except UnsafeRoute:
        # A danger that is described stays one until it is said to be gone. Where the two merely
        # cannot go together, what the technician sees outweighs where the last route led.
        setups = model.setups
        if state.walked is None or not state.setup or broken(setups, worst_case(setups, now)):
            raise
        return routes.start(state.setup)


def _untouched(
    model: Model,
    routes: Routes,
    known: Mapping[str, str],
    needs: Condition,
    leaves: Mapping[str, str],
) -> dict[str, str]:
    """What is still known after an act: everything that neither it nor its route touches."""
    moves = routes.way(routes.start(known), needs).moves
    touched = set(leaves).union(*(model.setups.moves[move].leaves for move in moves))
    return {name: value for name, value in known.items() if name not in touched}
