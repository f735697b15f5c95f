"""How sure a choice is, and what hangs on it: on request, since it costs a dozen more searches.

The lead over the next best act in its parts, what the repair would be if it had to be chosen now
and how likely more checking is to change that, how far other draws of the rows would have moved the
costs, and the act that would follow each answer.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from math import isfinite

import numpy as np
from numpy.typing import NDArray

from brinebayes.advice.acts import Act
from brinebayes.advice.advise import Advice, advise, exact
from brinebayes.advice.choose import Choice, Valued, choose
from brinebayes.advice.effort import Effort
from brinebayes.advice.problem import Problem, problem
from brinebayes.advice.situation import Situation, situation
from brinebayes.advice.underway import underway
from brinebayes.knowledge.schema import CheckedModel
from brinebayes.record import record
from brinebayes.visit.events import Saw
from brinebayes.visit.state import PROOF, PROOF_OUTCOMES, VisitState, fold

Floats = NDArray[np.float64]

#: Other draws of the rows that the choice is made on once more.
DRAWS = 8
#: Answers less likely than this are not followed.
FOLLOWED_FROM = 0.01


@record
class Contrast:
    """By how much the next best act costs more until the visit ends; the three parts add up.

    `direct`: the work itself with its parts; `setup`: the way there and from there back to service;
    `information`: what is then still to be found out, repaired and proven.
    """

    other: Valued
    direct: float
    setup: float
    information: float

    @property
    def whole(self) -> float:
        return self.direct + self.setup + self.information


@record
class Decision:
    """What the unit calls for most likely: the `repair`, or "" where it is no single one of ours.

    `chance` that it is this; `by_this`: chance that the check that comes next makes another the
    likeliest (None where no check comes next). Nobody who knows everything would choose otherwise
    but with 1 - `chance`.
    """

    repair: str
    works: bool
    chance: float
    by_this: float | None


@record
class Sampling:
    """Standard deviations over `draws` of other rows: of the cost, and of the lead over the next
    best act; `same`: how many of them chose the same act."""

    draws: int
    cost: float
    lead: float
    same: int


@record
class Following:
    """One answer, how likely it is, and the act that would come next.

    What else the same check shows is taken as it is likeliest.
    """

    observation: str
    outcome: str
    probability: float
    next: Valued


@record
class Sureness:
    """`contrast` is None where nothing else is open, `sampling` where nothing was drawn."""

    contrast: Contrast | None
    decision: Decision
    sampling: Sampling | None
    following: tuple[Following, ...]


def sureness(checked: CheckedModel, state: VisitState, advice: Advice, effort: Effort) -> Sureness:
    """How sure an advice is that was given on this state with this effort."""
    now = situation(checked, state)
    others = advice.choice.ranked[1:]
    return Sureness(
        contrast=_contrast(now, advice.next, others[0]) if others else None,
        decision=_decision(problem(now, effort.rows), advice.next.act),
        sampling=_sampling(now, advice.choice, effort),
        following=tuple(_following(checked, state, now, advice, effort)),
    )


def _contrast(now: Situation, best: Valued, other: Valued) -> Contrast:
    (direct, setup), (direct_too, setup_too) = _parts(now, best.act), _parts(now, other.act)
    whole = other.expected_cost - best.expected_cost
    direct, setup = direct_too - direct, setup_too - setup
    return Contrast(other, direct, setup, whole - direct - setup)


def _parts(now: Situation, act: Act) -> tuple[float, float]:
    """What an act costs by itself, and the ways there and back to service."""
    money, way = now.model.about.money, act.route
    there = way.minutes * money.attention_per_minute.value
    there += way.waiting_minutes * money.waiting_per_minute.value
    return act.cost - there, there + now.routes.cost(act.end, now.routes.to_service)


def _decision(of: Problem, act: Act) -> Decision:
    epoch, bounds = of.first, of.bounds
    weights = of.table.weights[epoch.order]
    calls = bounds.decided(epoch.by_class(weights[None, :]))[0]
    place = int(calls.argmax())
    by_this = None
    if act.kind == "check":
        told = epoch.joint(of.checks.index(act.id)) * weights
        after = bounds.decided(epoch.by_class(told))
        by_this = float(after[after.argmax(axis=1) != place].sum() / calls.sum())
    return Decision(
        repair=of.repairs[place] if place < len(of.repairs) else "",
        works=place == len(of.repairs) + 1,
        chance=float(calls[place] / calls.sum()),
        by_this=by_this,
    )


def _sampling(now: Situation, choice: Choice, effort: Effort) -> Sampling | None:
    if not isfinite(choice.effective_rows):
        return None
    best = choice.ranked[0].act.id
    rival = choice.ranked[1].act.id if len(choice.ranked) > 1 else best
    costs, leads, same = [], [], 0
    for draw in range(1, DRAWS + 1):
        drawn = replace(now, draw=draw)
        again = choose(problem(drawn, effort.rows), drawn.acts, exact(drawn), effort)
        cost = {one.act.id: one.expected_cost for one in again.ranked}
        costs.append(cost[best])
        leads.append(cost[rival] - cost[best])
        same += again.ranked[0].act.id == best
    return Sampling(DRAWS, float(np.std(costs, ddof=1)), float(np.std(leads, ddof=1)), same)


def _following(
    checked: CheckedModel, state: VisitState, now: Situation, advice: Advice, effort: Effort
) -> Iterator[Following]:
    events = underway(now.model, state, advice.next.act)
    likeliest: dict[str, tuple[float, str]] = {}
    answers = list(_answers(now, advice))
    for observation, outcome, chance in answers:
        likeliest[observation] = max(likeliest.get(observation, (0.0, "")), (chance, outcome))
    for observation, outcome, chance in answers:
        if chance >= FOLLOWED_FROM:
            saw = {name: other for name, (_, other) in likeliest.items()} | {observation: outcome}
            then = fold(now.model, [*events, *(Saw(*one) for one in saw.items())], state)
            yield Following(observation, outcome, chance, advise(checked, then, effort).next)


def _answers(now: Situation, advice: Advice) -> Iterator[tuple[str, str, float]]:
    for item in advice.outcomes:
        yield item.observation, item.outcome, item.probability
    if advice.next.act.kind == "prove":
        for outcome, chance in zip(PROOF_OUTCOMES, now.belief.outcomes[PROOF], strict=True):
            yield PROOF, outcome, float(chance)
