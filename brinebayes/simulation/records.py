"""A simulated visit as a case, so that a ranking can be scored on units whose faults are known."""

from __future__ import annotations

from datetime import date, timedelta

from brinebayes.advice.situation import situation
from brinebayes.advice.underway import underway
from brinebayes.cases.closing import proofs
from brinebayes.cases.record import Case, Confirmed, Step
from brinebayes.knowledge.schema import CheckedModel
from brinebayes.simulation.trials import Trial, known_of_the_site, makers
from brinebayes.simulation.visits import Served, answered, told_at_first
from brinebayes.visit.ends import ESCALATED, OPEN, PENDING, PROVEN
from brinebayes.visit.events import Ended, Event, ModelIs
from brinebayes.visit.state import ESCALATE, PROOF, VisitState, fold

#: The day of visit 0; it means nothing.
DAY = date(2001, 1, 1)


def case(checked: CheckedModel, trial: Trial, served: Served) -> Case:
    """The visit once more, act by act, with every answer. What was put into the unit is confirmed.

    It is labelled invented: no technician has seen such a unit.
    """
    model, about = checked.model, checked.model.about
    unit = makers()[trial.units](checked, trial.seed, served.visit)
    there = sorted(unit.faults, key=list(model.faults).index)
    events: list[Event] = list(told_at_first(unit, known_of_the_site(model, trial)))
    state = fold(model, events)
    steps = [Step(event) for event in events]
    for name in served.acts[:-1]:
        act = next(one for one in situation(checked, state).acts if one.id == name)
        happened = (*underway(model, state, act), *answered(unit, act))
        state = fold(model, happened, state)
        minutes = [None] * (len(happened) - 1) + [act.minutes + act.waiting_minutes]
        pairs = zip(happened, minutes, strict=True)
        steps += [Step(event, spent, name) for event, spent in pairs]
    end = Step(Ended(_end(state, served), "", "", "", ()), None, served.acts[-1])
    stood = [step.event for step in (*steps, end)]
    proven, pending = proofs(model, stood)
    day = (DAY + timedelta(served.visit % 3650)).isoformat()
    return Case(
        id=f"simulated-{trial.units}-{trial.seed}-{served.visit}",
        opened=day,
        closed=day,
        model=ModelIs(about.id, about.version, model.hash),
        steps=(*steps, end),
        confirmed=tuple(Confirmed(fault, "seen", 1.0) for fault in there),
        proven=proven,
        pending=pending,
        call_back="yes" if served.called_back else "no",
        invented=True,
    )


def _end(state: VisitState, served: Served) -> str:
    if served.acts[-1] == ESCALATE:
        return ESCALATED
    if not state.done:
        return OPEN
    return PROVEN if state.seen_now().get(PROOF) == "passed" else PENDING
