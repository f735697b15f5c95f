"""Ways of choosing the next act: the advice, and what it is measured against.

Each is a function of what is known on a visit. All of them see the same open acts, with the same
rules, routes and prices; none can skip a rule or a safe route.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping

import numpy as np
from numpy.typing import NDArray

from brinebayes.advice.acts import Act
from brinebayes.advice.advise import advise
from brinebayes.advice.effort import USUAL, Effort
from brinebayes.advice.estimate import LEAST_BITS
from brinebayes.advice.one_step import bits, mends, outcome_rows
from brinebayes.advice.situation import Situation, situation
from brinebayes.errors import UsageError
from brinebayes.knowledge.schema import ChartStep, CheckedModel, Condition, FlowChart, Model
from brinebayes.network.worlds import Worlds
from brinebayes.setups.states import allowed
from brinebayes.visit.state import ESCALATE, FINISH, PROOF, VisitState, observations_of

Floats = NDArray[np.float64]
Policy = Callable[[CheckedModel, VisitState], Act]

#: Chance that the best repair mends the unit from which bits per cost stops looking. Judged.
SURE_ENOUGH = 0.75


def search(checked: CheckedModel, state: VisitState, effort: Effort = USUAL) -> Act:
    """What the advice says."""
    return advise(checked, state, effort).next.act


def repairs_alone(checked: CheckedModel, state: VisitState) -> Act:
    """Repairs by the chance that they mend the unit per cost, a proof after each, no checks.

    A repair is made while it is expected to cost less than ending the visit now.
    """
    now = situation(checked, state)
    return _after_repair(now) or _repair_or_end(now, now.worlds(USUAL.rows))


def bits_then_repair(
    checked: CheckedModel, state: VisitState, sure_enough: float = SURE_ENOUGH
) -> Act:
    """The check with the most bits about what to repair per cost, then as `repairs_alone`.

    Checks are made until a repair is sure enough to mend the unit, or none tells anything, or each
    costs as much as ending the visit.
    """
    now = situation(checked, state)
    due = _after_repair(now)
    if due is not None:
        return due
    worlds = now.worlds(USUAL.rows)
    repairs = _repairs(now)
    chances = mends(now.model, state, [act.id for act in repairs], worlds)
    if (chances @ worlds.weights).max(initial=0.0) < sure_enough:
        dearest = min(_ends(now, worlds).values())
        classes = _classes(repairs, chances, worlds)
        rated = [
            (-gain / act.cost, act.id, act)
            for act in now.acts
            if act.kind == "check"
            and act.cost < dearest
            and not now.answered.issuperset(now.model.checks[act.id].observations)
            and (gain := bits(_joint(now, act.id, worlds), classes)) > LEAST_BITS
        ]
        if rated:
            return min(rated, key=lambda item: item[:2])[2]
    return _repair_or_end(now, worlds)


def flow_chart(checked: CheckedModel, state: VisitState) -> Act:
    """The fixed order of flow_chart.yaml. Raises UsageError for a model without one."""
    now = situation(checked, state)
    chart = now.model.flow_chart
    if chart is None:
        raise UsageError("this model has no flow_chart.yaml")
    due = _after_repair(now)
    if due is not None:
        return due
    acts = {act.id: act for act in now.acts}
    checks = {name: check for name, (check, _) in observations_of(now.model).items()}
    for doubted in now.left_out:
        if checks[doubted] in acts:
            return acts[checks[doubted]]
    if state.failed_proofs < chart.give_up_after.value:
        known = {**state.site, **state.seen_ever()}
        for step in _steps(chart, state.complaints):
            if not _holds(step.when, known) or _was_done(now.model, state, step.do):
                continue
            first = [checks[name] for name in wanted_first(now, step.do)]
            for act in (step.do, *first):
                if act in acts:
                    return acts[act]
    return acts[ESCALATE]


def wanted_first(now: Situation, act: str) -> tuple[str, ...]:
    """Observations that rules want to be made before an act, and that have not been made."""
    seen = now.state.still_known()
    return tuple(
        name
        for item in now.notes
        if item.rule.kind == "first" and act in item.rule.acts
        for name in item.rule.until
        if name not in seen
    )


def _after_repair(now: Situation) -> Act | None:
    """The proof if one is due, the way out if it passed."""
    ends = now.state.seen_now().get(PROOF) == "passed"
    wanted = FINISH if ends else PROOF
    return next((act for act in now.acts if act.id == wanted), None)


def _repairs(now: Situation) -> list[Act]:
    """Repairs that this technician may do; fetching a missing part is the way to one."""
    return [act for act in now.acts if act.kind in ("repair", "fetch")]


def _ends(now: Situation, worlds: Worlds) -> dict[str, float]:
    """What it is expected to cost to finish, or to pass the case on, now."""
    costs = {act.id: act.cost for act in now.acts}
    failing = 1.0 - float(worlds.weights @ worlds.works)
    second_visit = now.model.about.money.second_visit.value
    return {FINISH: costs[FINISH] + failing * second_visit, ESCALATE: costs[ESCALATE]}


def _repair_or_end(now: Situation, worlds: Worlds) -> Act:
    """The repair with the best chance per cost if it beats ending now, else the cheaper end."""
    money, proof = now.model.about.money, now.model.about.proof
    works = float(worlds.weights @ worlds.works)
    priced = _ends(now, worlds)
    end = min(priced, key=lambda name: (round(priced[name], 2), name))
    stop = min(money.second_visit.value, money.escalation.value)
    proving = proof.minutes.value * money.attention_per_minute.value
    proving += proof.waiting_minutes.value * money.waiting_per_minute.value
    repairs = _repairs(now)
    chances = mends(now.model, now.state, [act.id for act in repairs], worlds) @ worlds.weights
    rated = []
    for act, chance in zip(repairs, chances.tolist(), strict=True):
        cost = act.cost + proving + now.routes.cost(act.end, proof.needs)
        if cost + (1.0 - chance) * stop < priced[end]:
            rated.append((-(chance - works) / cost, act.id, act))
    if rated:
        return min(rated, key=lambda item: item[:2])[2]
    return next(act for act in now.acts if act.id == end)


def _joint(now: Situation, check: str, worlds: Worlds) -> Floats:
    """(outcomes, rows): P(outcome of the check, row)."""
    return outcome_rows(now.model, check, worlds, now.answered) * worlds.weights


def _classes(repairs: list[Act], chances: Floats, worlds: Worlds) -> NDArray[np.intp]:
    """(rows,): the cheapest repair that mends a row more likely than not; one more class for rows
    that no single repair mends, and one for those that work."""
    prices = [
        np.where(row > 0.5, act.cost, np.inf) for act, row in zip(repairs, chances, strict=True)
    ]
    beyond = np.full(len(worlds.weights), np.finfo(np.float64).max)
    classes: NDArray[np.intp] = np.argmin([*prices, beyond], axis=0)
    classes[worlds.works] = len(repairs) + 1
    return classes


def _steps(chart: FlowChart, complaints: tuple[str, ...]) -> Iterator[ChartStep]:
    """The steps of every complaint's sections in turn, each section once."""
    orders = [chart.complaints[name] for name in complaints if name in chart.complaints]
    for section in dict.fromkeys(name for order in orders or [chart.otherwise] for name in order):
        yield from chart.sections[section]


def _holds(when: Condition, known: Mapping[str, str]) -> bool:
    return all(known.get(name) in allowed(states) for name, states in when.items())


def _was_done(model: Model, state: VisitState, act: str) -> bool:
    if act in model.checks:
        return all(name in state.seen_ever() for name in model.checks[act].observations)
    return act in state.done
