"""How the unit stands now, as far as the visit tells; what it does not tell is the worst case.

A unit that nobody has worked on yet shows some things at a glance (`found` in setups.yaml). Every
act that was done may have changed what its route and its own work touch: that is unknown again,
until the technician states it.
"""

from __future__ import annotations

from collections.abc import Mapping

from brinebayes.knowledge.schema import Condition, Model
from brinebayes.setups.routes import Routes
from brinebayes.setups.states import State
from brinebayes.visit.state import PROOF, VisitState, observations_of


def standing(model: Model, routes: Routes, state: VisitState) -> State:
    """The setup to plan from. Raises UnsafeRoute if what was stated breaks an invariant."""
    known = {
        name: variable.found for name, variable in model.setups.variables.items() if variable.found
    }
    for needs, leaves in _acts_done(model, state):
        known = _untouched(model, routes, known, needs, leaves)
    return routes.start({**known, **state.setup})


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


def _acts_done(model: Model, state: VisitState) -> list[tuple[Condition, Mapping[str, str]]]:
    """(needs, leaves) of every act that yielded an observation or was a repair, once each."""
    checks = dict.fromkeys(observations_of(model)[name][0] for _, name, _ in state.seen)
    acts = [model.about.proof if check == PROOF else model.checks[check] for check in checks]
    repairs = [model.repairs[name] for name in dict.fromkeys(state.done)]
    return [(act.needs, act.leaves) for act in (*acts, *repairs)]
