"""The choice: the act with the least expected cost to end the visit.

One step of looking ahead: an act, its outcomes, then the estimate of `outlook` for what follows. A
deeper search has the same inputs and output and takes the place of `choose`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from brinebayes.advice.acts import Act
from brinebayes.advice.outlook import Array, Ends, Legs, estimate, missing_bits, outlook
from brinebayes.knowledge.schema import Condition, Model
from brinebayes.network.worlds import Worlds
from brinebayes.setups.routes import Routes
from brinebayes.setups.states import State
from brinebayes.visit.state import VisitState

#: A bit costs more than the best check at hand asks for it: the best one is used up first. Judged.
BIT_MARKUP = 2.0
#: A check that tells less than this is none. Judged.
LEAST_BITS = 1e-3


@dataclass(frozen=True, slots=True)
class Valued:
    """An act with what it is worth.

    `expected_cost`: cost to end the visit when this act comes first, in the model's currency.
    `bits`: expected information about what to repair (checks; 0 for others).
    `works_after`: chance that the unit works after it.
    """

    act: Act
    expected_cost: float
    bits: float
    works_after: float


@dataclass(frozen=True, slots=True)
class Choice:
    """Every open act, best first. `effective_rows` says how fine the table of worlds was."""

    ranked: tuple[Valued, ...]
    effective_rows: float


def choose(
    model: Model,
    state: VisitState,
    acts: Sequence[Act],
    worlds: Worlds,
    routes: Routes,
    answered: frozenset[str] = frozenset(),
) -> Choice:
    """Rank the open acts by expected cost to end the visit, to the cent; ties by id.

    `answered`: observations whose answer is in the worlds already and would tell nothing new.
    """
    table = _table(model, state, acts, worlds, routes)
    informed = [
        (act, outcome_rows(model, act.id, worlds, answered))
        for act in acts
        if act.kind == "check" and not answered.issuperset(model.checks[act.id].observations)
    ]
    gains = [bits(rows * worlds.weights, table.classes) for _, rows in informed]
    rate = _rate(model, informed, gains)
    valued = [
        *_checks(table, informed, gains, rate),
        *_repairs(table, rate),
        *(
            _rest(table, act, rate)
            for act in acts
            if act.kind != "check" and act.id not in model.repairs
        ),
    ]
    valued.sort(key=lambda item: (round(item.expected_cost, 2), item.act.id))
    return Choice(tuple(valued), 1.0 / float(worlds.weights @ worlds.weights))


@dataclass(frozen=True, slots=True)
class _Rate:
    """Where bits are cheapest: the setup, and money per bit there."""

    price: float
    needs: Condition


def _rate(model: Model, informed: Sequence[tuple[Act, Array]], gains: Sequence[float]) -> _Rate:
    """The rate of the best check at hand, without its way, which several checks there share."""
    rates = [
        ((act.cost - act.route.money) / gain, act.id)
        for (act, _), gain in zip(informed, gains, strict=True)
        if gain > LEAST_BITS
    ]
    if not rates:
        return _Rate(np.inf, {})
    price, check = min(rates)
    return _Rate(BIT_MARKUP * price, model.checks[check].needs)


@dataclass(frozen=True, slots=True)
class _Table:
    """What every act is valued on. `classes`: (rows,), see `_decision_classes`."""

    model: Model
    worlds: Worlds
    routes: Routes
    repairs: tuple[Act, ...]
    ways: _Ways
    ends: Ends
    classes: NDArray[np.intp]


def _table(
    model: Model, state: VisitState, acts: Sequence[Act], worlds: Worlds, routes: Routes
) -> _Table:
    repairs = tuple(act for act in acts if act.id in model.repairs)
    ways = _Ways(model, routes, repairs)
    proof = model.about.proof
    ends = Ends(
        works=worlds.works,
        mends=mends(model, state, [act.id for act in repairs], worlds),
        next=ways.of([routes.after(routes.service_state, proof.leaves)], [1]),
        passes_if_works=proof.passes_if_works.value,
        passes_if_not=proof.passes_if_not.value,
        second_visit=model.about.money.second_visit.value,
        escalation=model.about.money.escalation.value,
    )
    classes = _decision_classes(ends, repairs)
    return _Table(model, worlds, routes, repairs, ways, ends, classes)


class _Ways:
    """What repairs, proofs and closing up cost from a setup; reckoned once for each setup."""

    def __init__(self, model: Model, routes: Routes, repairs: tuple[Act, ...]) -> None:
        self._model, self._routes = model, routes
        self._own = np.asarray([act.cost - act.route.money for act in repairs])
        # Many repairs need the same setup and leave the same: one way serves them all.
        needs = [(model.repairs[act.id].needs, model.repairs[act.id].leaves) for act in repairs]
        self._accesses = list(dict.fromkeys(needs))
        self._access = np.asarray([self._accesses.index(one) for one in needs], dtype=np.intp)
        self._kept: dict[State, tuple[Array, Array, Array]] = {}

    def of(self, setups: Sequence[State], sizes: Sequence[int]) -> Legs:
        """The legs of every repair from each setup, repeated for `sizes` beliefs in turn."""
        found = [self._from(setup) for setup in setups]
        return Legs(*(np.repeat(item, sizes, axis=0) for item in zip(*found, strict=True)))

    def _from(self, setup: State) -> tuple[Array, Array, Array]:
        if setup not in self._kept:
            ways = [(self._routes.way(setup, needs), leaves) for needs, leaves in self._accesses]
            ends = [self._routes.after(way.end, leaves) for way, leaves in ways]
            there = np.asarray([way.money for way, _ in ways])
            proofs = np.asarray([self.proof(end) for end in ends])
            closes = np.asarray([self.close(end) for end in ends])
            self._kept[setup] = (
                self._own + there[self._access],
                proofs[self._access],
                closes[self._access],
            )
        return self._kept[setup]

    def close(self, setup: State) -> float:
        """Cost of bringing the unit back to service from a setup."""
        return self._routes.service(setup).money

    def proof(self, setup: State) -> float:
        """Cost of the proof from a setup."""
        proof, money = self._model.about.proof, self._model.about.money
        cost = proof.minutes.value * money.attention_per_minute.value
        cost += proof.waiting_minutes.value * money.waiting_per_minute.value
        return cost + self._routes.cost(setup, proof.needs)


def mends(model: Model, state: VisitState, repairs: Sequence[str], worlds: Worlds) -> Array:
    """(repairs, rows): chance that each repair makes the unit of each row work.

    All faults that a repair clears in a row must go together; when one stays the row is as it was.
    A second try that shares the luck of a first one that failed brings nothing.
    """
    now = worlds.works.astype(np.float64)
    cleared = [tuple(model.repairs[name].clears) for name in repairs]
    harms = [(k, fault) for k, name in enumerate(repairs) for fault in model.repairs[name].harms]
    changed = worlds.works_after(
        [*cleared, *(cleared[k] for k, _ in harms)],
        [*(() for _ in repairs), *((fault,) for _, fault in harms)],
    ).astype(np.float64)
    result = np.empty((len(repairs), len(now)))
    for k, name in enumerate(repairs):
        repair = model.repairs[name]
        success = np.full(len(now), 0.0 if repair.same_luck and name in state.done else 1.0)
        for fault, chance in repair.clears.items():
            success = np.where(worlds.has(fault), success * chance.value, success)
        result[k] = success * changed[k] + (1.0 - success) * now
    for (k, fault), spoiled in zip(harms, changed[len(repairs) :], strict=True):
        harm = model.repairs[repairs[k]].harms[fault].value
        result[k] *= 1.0 - harm * (1.0 - spoiled)
    return result


def _checks(
    table: _Table, informed: Sequence[tuple[Act, Array]], gains: Sequence[float], rate: _Rate
) -> list[Valued]:
    """Every check, all outcomes of all of them in one batch."""
    if not informed:
        return []
    sizes = [len(rows) for _, rows in informed]
    ends = [act.end for act, _ in informed]
    after = _ahead(
        table, np.vstack([rows for _, rows in informed]) * table.worlds.weights, ends, sizes, rate
    )
    each = np.add.reduceat(after, np.cumsum([0, *sizes[:-1]]))
    works = float(table.worlds.weights @ table.ends.works)
    return [
        Valued(act, act.cost + float(cost), gain, works)
        for (act, _), cost, gain in zip(informed, each, gains, strict=True)
    ]


def _ahead(
    table: _Table, beliefs: Array, setups: Sequence[State], sizes: Sequence[int], rate: _Rate
) -> Array:
    """(beliefs,): estimated cost to end the visit; each setup holds for `sizes` beliefs in turn."""
    close = np.repeat([table.ways.close(setup) for setup in setups], sizes)
    upper = outlook(table.ends, beliefs, table.ways.of(setups, sizes), close)
    missing = missing_bits(beliefs, table.classes)
    ways = [table.routes.cost(setup, rate.needs) for setup in setups]
    reach = np.repeat(ways, sizes)
    return estimate(table.ends, upper, beliefs, close, reach, missing, rate.price)


def outcome_rows(
    model: Model, check_id: str, worlds: Worlds, answered: frozenset[str] = frozenset()
) -> Array:
    """(outcomes, rows): chance of each joint outcome of a check's new observations in each row."""
    joint = np.ones((1, len(worlds.weights)))
    for name in model.checks[check_id].observations:
        if name in answered:
            continue
        each = worlds.observation_likelihoods(name).T
        joint = (joint[:, None, :] * each[None, :, :]).reshape(-1, joint.shape[1])
    return joint


def _decision_classes(ends: Ends, repairs: Sequence[Act]) -> NDArray[np.intp]:
    """(rows,): which repair a row calls for: the cheapest that mends it more likely than not.

    One class stands for rows that work already, one for rows that no single repair mends.
    """
    costs = np.asarray([act.cost for act in repairs])[:, None]
    price = np.where(ends.mends > 0.5, costs, np.inf)
    classes = price.argmin(axis=0)
    classes[np.isinf(price.min(axis=0))] = len(repairs)
    classes[ends.works] = len(repairs) + 1
    result: NDArray[np.intp] = classes
    return result


def bits(joint: Array, classes: NDArray[np.intp]) -> float:
    """Mutual information in bits between an outcome and the class of a row.

    `joint`: (outcomes, rows), P(outcome, row). Source: Shannon 1948.
    """
    table = np.zeros((len(joint), int(classes.max()) + 1))
    for row, target in zip(joint, table, strict=True):
        target += np.bincount(classes, weights=row, minlength=len(target))
    expected = table.sum(axis=1, keepdims=True) * table.sum(axis=0, keepdims=True)
    here = table > 0.0
    return max(0.0, float((table[here] * np.log2(table[here] / expected[here])).sum()))


def _repairs(table: _Table, rate: _Rate) -> list[Valued]:
    """Every repair and its proof; where the proof fails, what is then estimated to follow."""
    if not table.repairs:
        return []
    ends, weights = table.ends, table.worlds.weights
    works = ends.mends @ weights
    costs = np.asarray([act.cost for act in table.repairs])
    close = np.asarray([table.ways.close(act.end) for act in table.repairs])
    unproven = costs + close + (1.0 - works) * ends.second_visit
    passes = ends.mends * ends.passes_if_works + (1.0 - ends.mends) * ends.passes_if_not
    missed = (1.0 - works) * ends.passes_if_not * ends.second_visit
    failed = _ahead(
        table, weights * (1.0 - passes), [table.routes.service_state], [len(costs)], rate
    )
    proofs = np.asarray([table.ways.proof(act.end) for act in table.repairs])
    proven = costs + proofs + missed + failed
    return [
        Valued(act, float(cost), 0.0, float(after))
        for act, cost, after in zip(table.repairs, np.minimum(unproven, proven), works, strict=True)
    ]


def _rest(table: _Table, act: Act, rate: _Rate) -> Valued:
    """Proof, finish and passing the case on."""
    ends, weights = table.ends, table.worlds.weights
    works = float(weights @ ends.works)
    if act.kind == "finish":
        return Valued(act, act.cost + (1.0 - works) * ends.second_visit, 0.0, works)
    if act.kind == "escalate":
        return Valued(act, act.cost, 0.0, works)
    passed = np.where(ends.works, ends.passes_if_works, ends.passes_if_not) * weights
    failed = (weights - passed)[None, :]
    missed = float(passed @ ~ends.works) * ends.second_visit
    after = _ahead(table, failed, [act.end], [1], rate)
    return Valued(act, act.cost + missed + float(after[0]), 0.0, works)
