"""A small model as a decision problem: every world in a row, every act as a table over them.

Written from the words of DEVELOPERS.md and the shape of the files alone; it shares nothing with the
network, the routes or the advice, which are judged by it. A world is which faults are present,
the luck of repairs that share theirs, and what each source of noise would bring about. Models it
understands: no site conditions, no rules, no brine, no history, one setup variable.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from itertools import product

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from brinebayes.knowledge.schema import Condition, Mechanism, Model, Row

Floats = NDArray[np.float64]
World = Mapping[str, str]

#: How many tries of one repair a visit may have.
TRIES = 2


@dataclass(frozen=True, eq=False)
class Look:
    """A check or the proof. `chances`: (outcomes, worlds). `upstream`: faults that bear on it."""

    id: str
    cost: float
    needs: frozenset[str]
    leaves: str
    outcomes: tuple[tuple[str, ...], ...]
    chances: Floats
    upstream: frozenset[str]


@dataclass(frozen=True, eq=False)
class Mend:
    """A repair. `moves`: (worlds, worlds), P(world after | world before), rows before."""

    id: str
    cost: float
    needs: frozenset[str]
    leaves: str
    moves: sparse.csr_matrix
    touches: frozenset[str]

    @cached_property
    def onward(self) -> sparse.csr_matrix:
        """(worlds after, worlds before), to carry a belief with."""
        return self.moves.T.tocsr()


@dataclass(frozen=True, eq=False)
class Problem:
    """`prior`: (worlds,), given a call. `ways`: setup -> (need) -> cost and end of the way."""

    prior: Floats
    works: NDArray[np.bool_]
    checks: tuple[Look, ...]
    mends: tuple[Mend, ...]
    proof: Look
    start: str
    service: str
    distances: Mapping[str, Mapping[str, float]]
    second_visit: float
    escalation: float

    def way(self, setup: str, needs: frozenset[str]) -> tuple[float, str]:
        """Cost of the cheapest way to where an act can be done, and that place."""
        if not needs:
            return 0.0, setup
        return min((self.distances[setup][place], place) for place in needs)

    def reopened(self, mend: Mend) -> tuple[int, ...]:
        """Places of the checks whose answer a repair may change."""
        return tuple(i for i, c in enumerate(self.checks) if c.upstream & mend.touches)


def problem(model: Model) -> Problem:
    """Enumerate a model."""
    money = model.about.money
    rate, wait = money.attention_per_minute.value, money.waiting_per_minute.value
    noise = _noise(model)
    lucky = [
        (name, fault)
        for name, repair in model.repairs.items()
        if repair.same_luck
        for fault in repair.clears
    ]
    faults = list(model.faults)
    worlds = [
        (frozenset(f for f, here in zip(faults, bits, strict=True) if here), lucks, states)
        for bits in product((0, 1), repeat=len(faults))
        for lucks in product((0, 1), repeat=len(lucky))
        for states in product(*(np.flatnonzero(chances).tolist() for _, chances in noise))
    ]
    place = {world: i for i, world in enumerate(worlds)}
    told = [
        _told(model, present, dict(zip([n for n, _ in noise], states, strict=True)))
        for present, _, states in worlds
    ]

    before, without = _before_the_call(model)
    prior = np.ones(len(worlds))
    for i, (present, lucks, states) in enumerate(worlds):
        for fault in faults:
            prior[i] *= before[fault] if fault in present else 1.0 - before[fault]
        for (name, fault), luck in zip(lucky, lucks, strict=True):
            clears = model.repairs[name].clears[fault].value
            prior[i] *= clears if luck else 1.0 - clears
        for (_, chances), state in zip(noise, states, strict=True):
            prior[i] *= chances[state]
        prior[i] *= 1.0 if present else without
    works = np.array(
        [all(_in(world[m], s) for m, s in model.about.works.items()) for world in told]
    )

    def look(
        id: str,
        cost: float,
        needs: Condition,
        leaves: Mapping[str, str],
        tables: Mapping[str, Floats],
        names: Mapping[str, tuple[str, ...]],
        upstream: frozenset[str],
    ) -> Look:
        outcomes = tuple(product(*names.values()))
        chances = np.ones((len(outcomes), len(worlds)))
        for i, outcome in enumerate(outcomes):
            for name, said in zip(names, outcome, strict=True):
                chances[i] *= tables[name][names[name].index(said)]
        return Look(id, cost, _places(needs), leaves.get("at", ""), outcomes, chances, upstream)

    checks = []
    for id, check in model.checks.items():
        tables, parents = {}, set()
        for name, seen in check.observations.items():
            names = tuple(seen.outcomes)
            m = seen.misreading.value
            tables[name] = np.array(
                [
                    [
                        (1.0 - m) * row.gives.of.get(o, 0.0) + m / len(names)
                        for row in (_first(seen.rows, world) for world in told)
                    ]
                    for o in names
                ]
            )
            parents |= {parent for row in seen.rows for parent in row.when}
        cost = check.minutes.value * rate + check.waiting_minutes.value * wait
        checks.append(
            look(
                id,
                cost,
                check.needs,
                check.leaves,
                tables,
                {n: tuple(o.outcomes) for n, o in check.observations.items()},
                _upstream(model, parents),
            )
        )
    about = model.about.proof
    passes = np.where(works, about.passes_if_works.value, about.passes_if_not.value)
    proof = look(
        "proof",
        about.minutes.value * rate + about.waiting_minutes.value * wait,
        about.needs,
        about.leaves,
        {"proof": np.array([passes, 1.0 - passes])},
        {"proof": ("passed", "failed")},
        _upstream(model, set(model.about.works)),
    )

    mends = []
    for id, repair in model.repairs.items():
        rows, columns, values = [], [], []
        for i, (present, lucks, states) in enumerate(worlds):
            luck = dict(zip(lucky, lucks, strict=True))
            ways = {present: 1.0}
            for fault, clears in repair.clears.items():
                gone = float(luck.get((id, fault), clears.value))
                ways = _changed(ways, fault, False, gone)
            for fault, harm in repair.harms.items():
                ways = _changed(ways, fault, True, harm.value)
            for after, chance in ways.items():
                rows.append(i)
                columns.append(place[after, lucks, states])
                values.append(chance)
        moves = sparse.csr_matrix((values, (rows, columns)), shape=(len(worlds), len(worlds)))
        price = repair.minutes.value * rate
        at_hand = 1.0
        for part in repair.parts:
            price += model.parts[part].price.value
            at_hand *= model.parts[part].in_van.value
        price += (1.0 - at_hand) * money.fetch_part.value
        mends.append(
            Mend(
                id,
                price,
                _places(repair.needs),
                repair.leaves.get("at", ""),
                moves,
                frozenset({*repair.clears, *repair.harms}),
            )
        )
    variable = model.setups.variables["at"]
    return Problem(
        prior=prior / prior.sum(),
        works=works,
        checks=tuple(checks),
        mends=tuple(mends),
        proof=proof,
        start=variable.found,
        service=variable.service,
        distances=_distances(model),
        second_visit=money.second_visit.value,
        escalation=money.escalation.value,
    )


def _changed(
    ways: Mapping[frozenset[str], float], fault: str, brought: bool, chance: float
) -> dict[frozenset[str], float]:
    """Every way split by whether a repair brings the fault about, or takes it away."""
    found: dict[frozenset[str], float] = {}
    for present, weight in ways.items():
        after = present | {fault} if brought else present - {fault}
        for faults, share in ((after, chance), (present, 1.0 - chance)):
            if share > 0.0:
                found[faults] = found.get(faults, 0.0) + weight * share
    return found


# --- what is true in a world -------------------------------------------------------------------


def _noise(model: Model) -> list[tuple[tuple[str, int], tuple[float, ...]]]:
    """Sources of noise that leave anything open -> chances of the states they would bring about."""
    found = []
    for name, mechanism in model.mechanisms.items():
        effects = {j: cause.effect for j, cause in enumerate(mechanism.causes)}
        if mechanism.leak is not None:
            effects[-1] = mechanism.leak
        for j, effect in effects.items():
            found.append(((name, j), tuple(effect.of.get(s, 0.0) for s in mechanism.states)))
    return found


def _told(model: Model, present: frozenset[str], noise: Mapping[tuple[str, int], int]) -> World:
    """The state of every fault and mechanism."""
    world = {fault: "present" if fault in present else "absent" for fault in model.faults}
    for name, mechanism in model.mechanisms.items():
        world[name] = mechanism.states[_state(name, mechanism, world, noise)]
    return world


def _state(
    name: str, mechanism: Mechanism, world: World, noise: Mapping[tuple[str, int], int]
) -> int:
    worst = noise[name, -1] if mechanism.leak is not None else 0
    for j, cause in enumerate(mechanism.causes):
        if _holds(cause.when, world):
            worst = max(worst, noise[name, j])
    return worst


def _first(rows: tuple[Row, ...], world: World) -> Row:
    return next(row for row in rows if _holds(row.when, world))


def _holds(when: Condition, world: World) -> bool:
    return all(_in(world[name], states) for name, states in when.items())


def _in(state: str, states: str | tuple[str, ...]) -> bool:
    return state == states if isinstance(states, str) else state in states


def _upstream(model: Model, names: set[str]) -> frozenset[str]:
    found: set[str] = set()
    for name in names:
        if name in model.faults:
            found.add(name)
        elif name in model.mechanisms:
            causes = model.mechanisms[name].causes
            found |= _upstream(model, {parent for cause in causes for parent in cause.when})
    return frozenset(found)


def _before_the_call(model: Model) -> tuple[dict[str, float], float]:
    """P(fault) before the call, and P(call | no fault), so that the stated shares come out."""
    shares = {name: fault.share.value for name, fault in model.faults.items()}
    without = model.about.calls_without_fault.value
    low, high = 1e-12, 1.0
    for _ in range(200):
        call = (low + high) / 2.0
        none = float(np.prod([1.0 - share * call for share in shares.values()]))
        low, high = (call, high) if call * (1.0 - without) < 1.0 - none else (low, call)
    none = float(np.prod([1.0 - share * low for share in shares.values()]))
    return {name: share * low for name, share in shares.items()}, without * low / none


# --- how the unit stands -----------------------------------------------------------------------


def _places(needs: Condition) -> frozenset[str]:
    if not needs:
        return frozenset()
    states = needs["at"]
    return frozenset([states] if isinstance(states, str) else states)


def _distances(model: Model) -> dict[str, dict[str, float]]:
    """Cost of the cheapest way between any two setups (Floyd and Warshall)."""
    money = model.about.money
    places = list(model.setups.variables["at"].values)
    far = {a: {b: 0.0 if a == b else np.inf for b in places} for a in places}
    for move in model.setups.moves.values():
        cost = move.minutes.value * money.attention_per_minute.value
        if move.waiting_minutes is not None:
            cost += move.waiting_minutes.value * money.waiting_per_minute.value
        for start in _places(move.needs):
            far[start][move.leaves["at"]] = min(far[start][move.leaves["at"]], cost)
    for via, a, b in product(places, places, places):
        far[a][b] = min(far[a][b], far[a][via] + far[via][b])
    return far
