"""Brine is used up by draw checks, and a refill needs its time before the next one."""

from __future__ import annotations

from math import inf

from brinebayes.knowledge.schema import Condition, Model
from brinebayes.setups.states import allowed
from brinebayes.visit.state import VisitState


def refill_time(model: Model, state: VisitState, check: str) -> tuple[float, float]:
    """Minutes of work and of waiting until the brine tank is fit for this check; (0, 0) if it is.

    What has failed to draw counts as drawn: nobody knows how much is left. A model that does not
    say how much brine stands in the tank never asks for a refill.
    """
    return refill(model, draws_left(model, state), check)


def refill(model: Model, left: float, check: str) -> tuple[float, float]:
    """The same when it is known how many draws are left."""
    brine = model.about.brine
    if brine is None or left > min(model.checks[check].spends_brine, brine.draws.value) - 1e-9:
        return 0.0, 0.0
    return brine.refill_minutes.value, brine.saturation_minutes.value


def draws_left(model: Model, state: VisitState) -> float:
    """Draws of brine in the tank; without end where the model does not say how much there is."""
    brine = model.about.brine
    if brine is None:
        return inf
    stood = 0.0 if _empty_at_first(brine.empty_on, state) else brine.draws.value
    return stood - sum(model.checks[made].spends_brine for made in _made(model, state))


def _empty_at_first(empty_on: Condition, state: VisitState) -> bool:
    """Whether nothing stands in the tank: this site refills before the draw, and nobody has yet."""
    if state.refilled or not empty_on:
        return False
    return all(state.site.get(name) in allowed(values) for name, values in empty_on.items())


def _made(model: Model, state: VisitState) -> tuple[str, ...]:
    """The checks made since the last refill; a check is made once however much it shows."""
    made: list[str] = []
    answered: set[str] = set()
    for _, observation, _ in state.seen[state.before_refill :]:
        check = model.check_of.get(observation)
        # The proof belongs to no check.
        if check and (made[-1:] != [check] or observation in answered):
            made.append(check)
            answered.clear()
        answered.add(observation)
    return tuple(made)
