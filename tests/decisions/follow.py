"""What a policy costs on a small model, exactly: every visit that can happen when it is followed.

The policy sees a visit as the product does (`VisitState`, built from events); what can happen, how
likely it is and what it costs come from the enumerated problem alone.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

from brinebayes.advice.acts import Act
from brinebayes.knowledge.schema import CheckedModel
from brinebayes.visit.events import Done, Event, Saw, arrived
from brinebayes.visit.state import VisitState, fold
from tests.decisions.optimum import Place
from tests.decisions.problem import Floats, Problem

Policy = Callable[[CheckedModel, VisitState], Act]

#: Visits less likely than this are ended by passing the case on; their weight is reported.
UNLIKELY = 2e-4


@dataclass(frozen=True, slots=True)
class Turn:
    """One act that a policy chose: when, how likely it comes to that, and what was believed."""

    act: str
    chance: float
    seen: tuple[tuple[int, str, str], ...]
    done: tuple[str, ...]
    belief: Floats
    place: Place


@dataclass
class Followed:
    """`cost`: expected cost of the visit. `cut`: weight of the visits that were ended early."""

    cost: float = 0.0
    cut: float = 0.0
    turns: list[Turn] = field(default_factory=list)


def follow(checked: CheckedModel, problem: Problem, policy: Policy) -> Followed:
    """Follow a policy through every visit."""
    found = Followed()
    begin = Place(problem.start, (1 << len(problem.checks)) - 1, (0,) * len(problem.mends), False)
    _Follower(checked, problem, policy, found, {}).go(problem.prior, begin, VisitState(), {})
    return found


@dataclass
class _Follower:
    checked: CheckedModel
    problem: Problem
    policy: Policy
    found: Followed
    #: Visits that differ only in the order of what was seen are one: id -> the act chosen.
    chosen: dict[object, Act]

    def go(self, belief: Floats, place: Place, state: VisitState, known: dict[str, int]) -> None:
        """`belief`: unnormalised. `known`: check -> place of its answer, while that stands."""
        p, mass = self.problem, float(belief.sum())
        if mass < UNLIKELY:
            self.found.cut += mass
            self.found.cost += mass * p.escalation
            return
        act = self._act(state)
        self.found.turns.append(Turn(act.id, mass, state.seen, state.done, belief, place))
        close, _ = p.way(place.setup, frozenset([p.service]))
        if act.kind == "finish":
            failing = float(belief[~p.works].sum())
            self.found.cost += close * mass + failing * p.second_visit
            return
        if act.kind == "escalate":
            self.found.cost += p.escalation * mass
            return
        looks = {look.id: look for look in (*p.checks, p.proof)}
        mend = next((mend for mend in p.mends if mend.id == act.id), None)
        item = mend or looks[act.id]
        cost, end = p.way(place.setup, item.needs)
        end = item.leaves or end
        assert abs(cost + item.cost - act.cost) < 1e-6, f"{act.id}: {act.cost} {cost + item.cost}"
        self.found.cost += (cost + item.cost) * mass
        there = arrived(act.id, {"at": end})
        if mend is not None:
            opened = place.open
            left = dict(known)
            left.pop("proof", None)
            for number in p.reopened(mend):
                opened |= 1 << number
                left.pop(p.checks[number].id, None)
            number = p.mends.index(mend)
            tries = (*place.tries[:number], place.tries[number] + 1, *place.tries[number + 1 :])
            then = Place(end, opened, tries, True)
            self.go(mend.onward @ belief, then, self._told(state, there, Done(act.id)), left)
            return
        look = looks[act.id]
        opened = place.open
        if look is not p.proof:
            opened &= ~(1 << p.checks.index(look))
        proof = place.proof and look is not p.proof
        then = Place(end, opened, place.tries, proof)
        names = (
            ("proof",) if look is p.proof else tuple(self.checked.model.checks[act.id].observations)
        )
        # Asked again about the same state of the unit, the answer is the same.
        again = known.get(act.id)
        for number, outcome in enumerate(look.outcomes):
            if again is not None and number != again:
                continue
            after = belief if again is not None else belief * look.chances[number]
            said = [Saw(name, answer) for name, answer in zip(names, outcome, strict=True)]
            self.go(after, then, self._told(state, there, *said), {**known, act.id: number})

    def _told(self, state: VisitState, *events: Event) -> VisitState:
        return fold(self.checked.model, events, state)

    def _act(self, state: VisitState) -> Act:
        key = (
            tuple(sorted(state.seen)),
            state.done,
            tuple(sorted((state.walked or {}).items())),
        )
        if key not in self.chosen:
            self.chosen[key] = self.policy(self.checked, state)
        return self.chosen[key]
