"""What has happened once somebody has gone to an act and stands before its answer."""

from __future__ import annotations

from brinebayes.advice.acts import Act
from brinebayes.knowledge.schema import Model
from brinebayes.visit.brine import refill_time
from brinebayes.visit.events import Event, Refilled, arrived
from brinebayes.visit.state import VisitState


def underway(model: Model, state: VisitState, act: Act) -> tuple[Event, ...]:
    """The brine refilled where the act needs it, the way gone, and how the unit then stands."""
    setup = dict(zip(model.setups.variables, act.end, strict=True))
    came = arrived(act.id, setup)
    if act.kind == "check" and any(refill_time(model, state, act.id)):
        return Refilled(), came
    return (came,)
