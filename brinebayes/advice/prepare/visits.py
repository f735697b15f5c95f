"""Visits walked through on paper: how they end, how long they take, what they use.

Units are drawn from the belief, and the plain technician of `technician` goes to each. What he sees
is drawn with its misreadings; a repair may fail or do harm; he proves where the proof is worth its
time. He knows a table of other units drawn from the same belief, weighted by what he has seen.
Every part is at hand, so that the parts a visit took can be held against any van afterwards. Visits
with the same history share their next step and are walked together.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from brinebayes.advice.prepare.remedies import Remedy, called_for
from brinebayes.advice.prepare.technician import Known, Technician
from brinebayes.knowledge.schema import Model
from brinebayes.network import graph
from brinebayes.network.worlds import Worlds, evaluate, works
from brinebayes.setups.routes import Routes
from brinebayes.setups.states import State
from brinebayes.visit.state import VisitState

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Places = NDArray[np.intp]

#: After so long on site a visit is ended whatever stands open. Judged.
LONGEST_MINUTES = 600.0
#: Rows of the technician's table that are kept after a repair, the heaviest ones.
MOST_ROWS = 1500


@dataclass(frozen=True, slots=True)
class Visits:
    """What became of each visit: (visits,) each. `units`: the row each unit was drawn from.

    `luck`: how often a unit that did not work passed its proof, less how often that was to be
    expected; its mean is 0.
    """

    units: Places
    works: Bools
    luck: Floats
    minutes: Floats
    parts: tuple[frozenset[str], ...]
    tools: tuple[frozenset[str], ...]


def walk(
    model: Model,
    state: VisitState,
    routes: Routes,
    start: State,
    plans: Mapping[str, Remedy],
    known: Worlds,
    units: Worlds,
    visits: int,
    seed: int,
    ended: Callable[[int], object] = bool,
) -> Visits:
    """Walk through `visits` visits; the same for the same seed.

    `ended` is told how many have come to their end since it was told last.

    `known`: the technician's table; `units`: rows from which units are drawn, spread evenly over
    what they call for and over their faults (systematic sampling).
    """
    chance = np.random.Generator(np.random.Philox(seed))
    technician = Technician(model, state, routes, plans)
    walked = _Walk(technician, chance, visits, ended)
    calls = called_for(model, plans, technician.repairs, units)
    order = np.lexsort((*units.faults.T, calls))
    steps = (np.arange(visits) + chance.random()) / visits
    ends = np.cumsum(units.weights[order])
    drawn = order[np.minimum(np.searchsorted(ends, steps * ends[-1]), len(order) - 1)]
    walked.go(technician.arrives(start, known), _Units(units.only(drawn, steps, float(visits))))
    took = tuple(walked.parts), tuple(walked.tools)
    return Visits(drawn, walked.works, walked.luck, walked.minutes, *took)


@dataclass(frozen=True, eq=False)
class _Units:
    """The units of some visits between two repairs, and what each would answer."""

    worlds: Worlds
    _answers: dict[str, Floats] = field(default_factory=dict)

    def answers(self, observation: str) -> Floats:
        """(units, outcomes): chance of an outcome or one before it."""
        if observation not in self._answers:
            chances = self.worlds.observation_likelihoods(observation)
            self._answers[observation] = chances.cumsum(axis=1) / chances.sum(axis=1)[:, None]
        return self._answers[observation]


@dataclass(frozen=True, eq=False)
class _Node:
    """Visits with one history: who they are, their units, what is known, what it took so far.

    `rows`: which of `units` are theirs, in the order of `who`.
    """

    who: Places
    units: _Units
    rows: Places
    known: Known
    minutes: float = 0.0
    parts: frozenset[str] = frozenset()
    tools: frozenset[str] = frozenset()


class _Walk:
    """All visits, and what has become of those that have ended."""

    def __init__(
        self,
        technician: Technician,
        chance: np.random.Generator,
        visits: int,
        ended: Callable[[int], object] = bool,
    ) -> None:
        self.technician, self.chance, self.ended = technician, chance, ended
        self.model, self.routes = technician.model, technician.routes
        self.works = np.zeros(visits, dtype=bool)
        self.luck, self.minutes = np.zeros(visits), np.zeros(visits)
        self.parts = [frozenset[str]()] * visits
        self.tools = [frozenset[str]()] * visits

    def go(self, known: Known, units: _Units) -> None:
        """Walk every visit to its end."""
        everyone = np.arange(len(self.works))
        nodes = [_Node(everyone, units, everyone, known)]
        while nodes:
            nodes += self.step(nodes.pop())

    def step(self, node: _Node) -> Iterator[_Node]:
        """What is done next, and the histories that come of it."""
        technician = self.technician
        step = technician.next(node.known)
        if step.kind != "check" and technician.unsure(node.known):
            node = replace(node, known=technician.anew(node.known))
            step = technician.next(node.known)
        if step.kind == "end" or node.minutes > LONGEST_MINUTES:
            return self.end(node)
        return self.look(node, step.id) if step.kind == "check" else self.mend(node, step.id)

    def end(self, node: _Node) -> Iterator[_Node]:
        """Leave: close up, and note what the visit has come to."""
        way = self.routes.service(node.known.setup)
        self.works[node.who] = node.units.worlds.works[node.rows]
        self.minutes[node.who] = node.minutes + way.minutes + way.waiting_minutes
        for visit in node.who:
            self.parts[visit], self.tools[visit] = node.parts, node.tools
        self.ended(len(node.who))
        yield from ()

    def look(self, node: _Node, name: str) -> Iterator[_Node]:
        """Make a check; visits part by what is seen."""
        technician, known, check = self.technician, node.known, self.model.checks[name]
        way = self.routes.way(node.known.setup, check.needs)
        asked = technician.open(known, name) or tuple(check.observations)
        minutes = node.minutes + way.minutes + way.waiting_minutes
        minutes += (
            check.minutes.value + check.waiting_minutes.value + sum(technician.refill(known, name))
        )
        dice = self.chance.random((len(asked), len(node.who), 1))
        drawn = [
            (faces >= node.units.answers(observation)[node.rows]).sum(axis=1)
            for faces, observation in zip(dice, asked, strict=True)
        ]
        answers, which = np.unique(np.array(drawn), axis=1, return_inverse=True)
        spent = check.spends_brine
        spent += 0.0 if sum(technician.refill(known, name)) else known.drawn
        for place in range(answers.shape[1]):
            weights, seen = node.known.weights, dict(node.known.seen)
            for observation, outcome in zip(asked, answers[:, place].tolist(), strict=True):
                weights = weights * known.table.chances[technician.row(observation, outcome)]
                seen[observation] = tuple(check.observations[observation].outcomes)[outcome]
            these = np.flatnonzero(which.reshape(-1) == place)
            yield replace(
                node,
                who=node.who[these],
                rows=node.rows[these],
                known=replace(
                    known,
                    setup=self.routes.after(way.end, check.leaves),
                    weights=weights / weights.sum(),
                    seen=seen,
                    drawn=spent,
                ),
                minutes=minutes,
                tools=node.tools.union(check.tools),
            )

    def mend(self, node: _Node, name: str) -> Iterator[_Node]:
        """Repair and prove; where the proof fails the visit goes on."""
        model, repair, proof = self.model, self.model.repairs[name], self.model.about.proof
        way = self.routes.way(node.known.setup, repair.needs)
        setup = self.routes.after(way.end, repair.leaves)
        minutes = node.minutes + way.minutes + way.waiting_minutes + repair.minutes.value
        after = replace(
            node,
            units=_Units(self.mended(node.units.worlds, node.rows, name)),
            rows=np.arange(len(node.who)),
            known=replace(node.known, setup=setup),
            minutes=minutes,
            parts=node.parts.union(repair.parts),
        )
        money, back = model.about.money, self.routes.way(setup, proof.needs)
        price = back.money + proof.minutes.value * money.attention_per_minute.value
        price += proof.waiting_minutes.value * money.waiting_per_minute.value
        # The unit is handed over either way.
        handed = self.routes.service(self.routes.after(back.end, proof.leaves)).money
        price += handed - self.routes.service(setup).money
        rows, table = self.table_after(node, name)
        if price > float(table.weights @ ~table.works) * money.second_visit.value:
            yield from self.end(after)
            return
        minutes += proof.minutes.value + proof.waiting_minutes.value
        minutes += back.minutes + back.waiting_minutes
        known = replace(node.known, setup=self.routes.after(back.end, proof.leaves))
        after = replace(after, known=known, minutes=minutes)
        works = after.units.worlds.works
        passes = np.where(works, proof.passes_if_works.value, proof.passes_if_not.value)
        passed = self.chance.random(len(node.who)) < passes
        self.luck[node.who] += np.where(works, 0.0, passed - passes)
        if passed.any():
            yield from self.end(_part(after, np.flatnonzero(passed)))
        if not passed.all():
            yield self.failed(_part(after, np.flatnonzero(~passed)), name, rows, table)

    def table_after(self, node: _Node, name: str) -> tuple[Places, Worlds]:
        """The technician's table after a repair, and the rows that its rows come from."""
        before = node.known.table.worlds
        rows, faults, weights = self.splits(before.faults, node.known.weights, name)
        kept = np.sort(np.argsort(-weights.round(12), kind="stable")[: 2 * MOST_ROWS])
        weights = weights[kept] / weights[kept].sum()
        table = before.only(rows[kept], weights, before.effective_draws)
        return rows[kept], with_faults(table, faults[kept])

    def failed(self, node: _Node, name: str, rows: Places, table: Worlds) -> _Node:
        """What the technician knows after a repair whose proof failed."""
        before, proof = node.known.table, self.model.about.proof
        failing = np.where(table.works, proof.passes_if_works.value, proof.passes_if_not.value)
        weights = table.weights * (1.0 - failing)
        kept = np.sort(np.argsort(-weights.round(12), kind="stable")[:MOST_ROWS])
        weights = weights[kept] / weights[kept].sum()
        table_now = self.technician.table(
            (*before.done, name), table.only(kept, weights, float(len(kept)))
        )
        old = before.chances[:, rows[kept]]
        changed = np.logical_or.reduceat(
            (old != table_now.chances).any(axis=1), self.technician.starts
        )
        history = graph.history(self.model)
        seen = {
            key: outcome
            for key, outcome in node.known.seen.items()
            if key in history or not changed[self.technician.place[key]]
        }
        known = replace(node.known, table=table_now, weights=weights, seen=seen)
        return replace(node, known=known)

    def splits(self, faults: Bools, weights: Floats, name: str) -> tuple[Places, Bools, Floats]:
        """Rows as a repair may leave them: it clears all or nothing, and may do harm."""
        repair, places = self.model.repairs[name], list(self.model.faults)
        success, cleared = np.ones(len(faults)), faults.copy()
        for fault, chance in repair.clears.items():
            column = places.index(fault)
            success[faults[:, column]] *= chance.value
            cleared[:, column] = False
        touched = np.flatnonzero(success < 1.0)
        rows = np.concatenate([np.arange(len(faults)), touched])
        after = np.concatenate([cleared, faults[touched]])
        weight = np.concatenate([weights * success, (weights * (1.0 - success))[touched]])
        for fault, chance in repair.harms.items():
            harmed = after.copy()
            harmed[:, places.index(fault)] = True
            rows, after = np.concatenate([rows, rows]), np.concatenate([after, harmed])
            weight = np.concatenate([weight * (1.0 - chance.value), weight * chance.value])
        return rows, after, weight

    def mended(self, units: Worlds, rows: Places, name: str) -> Worlds:
        """Some units after a repair, its luck and its harm drawn fault by fault."""
        units = units.only(rows, rows.astype(np.float64), float(len(rows)))
        repair, places = self.model.repairs[name], list(self.model.faults)
        faults = units.faults.copy()
        for fault, clears in repair.clears.items():
            faults[:, places.index(fault)] &= self.chance.random(len(faults)) >= clears.value
        for fault, harms in repair.harms.items():
            faults[:, places.index(fault)] |= self.chance.random(len(faults)) < harms.value
        return with_faults(units, faults)


def _part(node: _Node, rows: Places) -> _Node:
    """Some of the visits of a node."""
    return replace(node, who=node.who[rows], rows=node.rows[rows])


def with_faults(worlds: Worlds, faults: Bools) -> Worlds:
    """The same rows with other faults now; noise, site and what was found at first stay."""
    mechanisms = evaluate(worlds.model, worlds.site, faults, worlds.noise)
    now = np.broadcast_to(works(worlds.model, mechanisms), worlds.weights.shape)
    return replace(worlds, faults=faults, mechanisms=mechanisms, works=now)
