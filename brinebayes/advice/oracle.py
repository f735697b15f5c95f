"""What somebody would do who knew what is wrong: a bound on what any advice could save.

The oracle sees the true unit at every moment. It takes the cheapest way to a repair that is proven,
and obeys the same rules and routes as everybody: what must be looked at first is looked at first.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import product
from typing import Protocol

from brinebayes.advice.acts import TRIES, Act, repair_act
from brinebayes.advice.policies import wanted_first
from brinebayes.advice.situation import Situation, situation
from brinebayes.errors import UnsafeRoute
from brinebayes.knowledge.schema import CheckedModel
from brinebayes.setups.states import State, allowed
from brinebayes.visit.state import ESCALATE, FINISH, PROOF, VisitState, observations_of

#: Repairs in a row that are planned for.
STEPS = 4


class Truth(Protocol):
    """The unit as it is now: `works_with` tells whether it would if only these faults were left."""

    @property
    def works(self) -> bool: ...

    @property
    def faults(self) -> frozenset[str]: ...

    def works_with(self, faults: frozenset[str]) -> bool: ...


def knowing(checked: CheckedModel, state: VisitState, truth: Truth) -> Act:
    """The first act of the cheapest plan."""
    now = situation(checked, state)
    acts = {act.id: act for act in now.acts}
    if truth.works:
        due = bool(state.done) and PROOF in acts
        return acts[PROOF if due else FINISH]
    plan = _Plan(now, truth)
    first = plan.best(plan.present, now.start, (), STEPS)[1]
    if first in acts:
        return acts[first]
    checks = observations_of(now.model)
    wanted = [checks[name][0] for name in wanted_first(now, first)]
    return next((acts[check] for check in wanted if check in acts), acts[ESCALATE])


@dataclass
class _Plan:
    """Costs of going on from a set of present faults, reckoned once for each."""

    now: Situation
    truth: Truth
    present: frozenset[str] = field(init=False)
    repairs: dict[str, Act] = field(init=False)
    _kept: dict[object, tuple[float, str]] = field(default_factory=dict)
    _works: dict[frozenset[str], bool] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.present = self.truth.faults
        self.repairs = self._possible()

    def _possible(self) -> dict[str, Act]:
        """Repairs that clear something present, those included that a rule holds back for now."""
        now, found = self.now, {}
        opened = {act.id: act for act in now.acts}
        for name, repair in now.model.repairs.items():
            if self.present.isdisjoint(repair.clears) or repair.who == "licensed":
                continue
            if name in opened:
                found[name] = opened[name]
            elif wanted_first(now, name) and self._applies(name):
                try:
                    route = now.routes.way(now.start, repair.needs)
                except UnsafeRoute:
                    continue
                found[name] = repair_act(now.model, name, route, now.routes, now.state)
        return found

    def _applies(self, name: str) -> bool:
        site, state = self.now.state.site, self.now.state
        applies = self.now.model.repairs[name].applies.items()
        return (
            state.done.count(name) < TRIES
            and name not in state.could_not
            and all(c not in site or site[c] in allowed(values) for c, values in applies)
        )

    def works(self, faults: frozenset[str]) -> bool:
        """Whether the unit would work with only these of its faults left."""
        if faults not in self._works:
            self._works[faults] = self.truth.works_with(faults)
        return self._works[faults]

    def best(
        self, faults: frozenset[str], setup: State, tried: tuple[str, ...], left: int
    ) -> tuple[float, str]:
        """Expected cost to end the visit from here, and the first act on the way."""
        key = faults, setup, tuple(sorted(tried)), left
        if key not in self._kept:
            self._kept[key] = self._best(faults, setup, tried, left)
        return self._kept[key]

    def _best(
        self, faults: frozenset[str], setup: State, tried: tuple[str, ...], left: int
    ) -> tuple[float, str]:
        model, routes = self.now.model, self.now.routes
        money, proof = model.about.money, model.about.proof
        if self.works(faults):
            cost = proof.minutes.value * money.attention_per_minute.value
            cost += proof.waiting_minutes.value * money.waiting_per_minute.value
            return cost + routes.cost(setup, proof.needs), PROOF
        options = [
            (routes.service(setup).money + money.second_visit.value, FINISH),
            (routes.parked(setup).money + money.escalation.value, ESCALATE),
        ]
        for name, act in self.repairs.items():
            repair = model.repairs[name]
            mine = sorted(faults.intersection(repair.clears))
            if not mine or not left or tried.count(name) + self.now.state.done.count(name) >= TRIES:
                continue
            if repair.same_luck and (name in tried or name in self.now.state.done):
                continue
            cost = act.cost - act.route.money + routes.cost(setup, repair.needs)
            after = routes.after(routes.way(setup, repair.needs).end, repair.leaves)
            for gone in product((True, False), repeat=len(mine)):
                chance = 1.0
                for fault, is_gone in zip(mine, gone, strict=True):
                    success = repair.clears[fault].value
                    chance *= success if is_gone else 1.0 - success
                if chance > 0.0:
                    rest = faults - {f for f, is_gone in zip(mine, gone, strict=True) if is_gone}
                    cost += chance * self.best(rest, after, (*tried, name), left - 1)[0]
            options.append((cost, name))
        return min(options, key=lambda item: (round(item[0], 2), item[1]))
