"""The least expected cost of a small problem, between two bounds that are brought together.

Exact dynamic programming over the beliefs that can be reached: every act, every outcome. A belief
is worth at least what it would cost if the world were known, and at most the best of a few fixed
plans of repairs and proofs (planes over beliefs). Visits are walked again and again, each along the
acts that look best and the outcomes whose bounds are widest apart, and what was found is carried
back, until the bounds at the beginning meet or as many acts were looked into as are allowed. What
then still lies between them is reported.
Sources, from memory: Smallwood & Sondik 1973 (planes); Smith & Simmons 2004 (which visit to walk).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np

from tests.decisions.problem import TRIES, Floats, Problem

#: Repairs in a row in the plans that bound from above.
PLANNED = 2
#: A cost that decides nothing.
NOTHING = 1e-9


@dataclass(frozen=True, slots=True)
class Place:
    """Where a visit stands, its belief apart: the setup, which checks are open (bits), tries of
    each repair, whether the proof is open."""

    setup: str
    open: int
    tries: tuple[int, ...]
    proof: bool


@dataclass(slots=True)
class Step:
    """An act from a node: its cost with its way, and bounds on the cost when it comes first.

    `follow`: (chance, node) of each outcome, once it was looked into; an act that ends the visit
    has none. `place`: where the act leads; None: nowhere.
    """

    act: str
    cost: float
    place: Place | None
    low: float
    high: float = np.inf
    follow: list[tuple[float, Node]] | None = None


@dataclass(slots=True)
class Node:
    """A belief at a place, with bounds on the least expected cost from there."""

    belief: Floats
    place: Place
    low: float
    high: float
    steps: list[Step] | None = None


@dataclass(frozen=True, eq=False)
class Menu:
    """What may be done at a place: acts, costs, where they lead, and a plane below each."""

    acts: tuple[str, ...]
    costs: Floats
    leads: tuple[Place | None, ...]
    below: Floats


@dataclass
class Optimum:
    """Least costs of a problem, as far as they were worked out."""

    problem: Problem
    root: Node = field(init=False)
    #: How many acts were looked into.
    looked: int = 0
    _known: dict[str, Floats] = field(default_factory=dict)
    _planes: dict[tuple[str, tuple[int, ...]], Floats] = field(default_factory=dict)
    _menus: dict[Place, Menu] = field(default_factory=dict)
    _nodes: dict[tuple[bytes, Place], Node] = field(default_factory=dict)

    def __post_init__(self) -> None:
        p = self.problem
        self._known = _if_known(p)
        begin = Place(p.start, (1 << len(p.checks)) - 1, (0,) * len(p.mends), False)
        self.root = self.nodes(p.prior[None, :], begin)[0]

    def improve(self, node: Node, exactly: float, most: int) -> None:
        """Walk visits from a node until its bounds lie within `exactly` (money), or until `most`
        acts in all have been looked into."""
        while node.high - node.low > exactly and self.looked < most:
            self._walk(node)

    @property
    def known(self) -> float:
        """Least expected cost for somebody who sees the world from the beginning."""
        return float(self._known[self.root.place.setup] @ self.root.belief)

    def costs(self, node: Node, exactly: float) -> dict[str, tuple[float, float]]:
        """Act -> bounds on the expected cost when it comes first and the best follows."""
        for step in self.steps(node):
            for _, then in self.look(node, step):
                self.improve(then, exactly, self.looked + 300)
            if step.follow:
                _bound(step)
        return {step.act: (step.low, step.high) for step in self.steps(node)}

    def steps(self, node: Node) -> list[Step]:
        """Everything that may be done, each with bounds that hold."""
        if node.steps is None:
            menu = self._menu(node.place)
            lows = (menu.costs + menu.below @ node.belief).tolist()
            node.steps = [
                Step(act, cost, place, low)
                for act, cost, place, low in zip(
                    menu.acts, menu.costs.tolist(), menu.leads, lows, strict=True
                )
            ]
            for step in node.steps:
                if step.place is None:
                    step.high, step.follow = step.low, []
        return node.steps

    def look(self, node: Node, step: Step) -> list[tuple[float, Node]]:
        """What an act leads to."""
        if step.follow is None:
            assert step.place is not None
            self.looked += 1
            after = self._after(node, step.act)
            chances = after.sum(axis=1)
            here = chances > 0.0
            found = self.nodes(after[here] / chances[here, None], step.place)
            step.follow = list(zip(chances[here].tolist(), found, strict=True))
            _bound(step)
        return step.follow

    def nodes(self, beliefs: Floats, place: Place) -> list[Node]:
        """The nodes of normalised beliefs at a place."""
        keys = [(row.tobytes(), place) for row in np.round(beliefs, 10) + 0.0]
        new = [i for i, key in enumerate(keys) if key not in self._nodes]
        if new:
            low = beliefs[new] @ self._known[place.setup]
            high = (beliefs[new] @ self._planes_of(place.setup, place.tries)).min(axis=1)
            for i, below, above in zip(new, low.tolist(), high.tolist(), strict=True):
                self._nodes[keys[i]] = Node(beliefs[i], place, min(below, above), above)
        return [self._nodes[key] for key in keys]

    def _walk(self, node: Node) -> None:
        """One visit, until an act is met that was not looked into before."""
        path: list[tuple[Node, Step]] = []
        new = False
        while not new and node.high - node.low > NOTHING:
            step = min(self.steps(node), key=lambda step: step.low)
            path.append((node, step))
            new = step.follow is None
            follow = self.look(node, step)
            if not follow:
                break
            node = max(follow, key=lambda item: item[0] * (item[1].high - item[1].low))[1]
        for node, step in reversed(path):
            if step.follow:
                _bound(step)
            steps = self.steps(node)
            high = min(node.high, step.high)
            low = min(step.low for step in steps)
            node.low, node.high = max(node.low, min(low, high)), high

    def _after(self, node: Node, act: str) -> Floats:
        """(outcomes, worlds): unnormalised beliefs after an act."""
        p = self.problem
        for look in (*p.checks, p.proof):
            if look.id == act:
                return look.chances * node.belief
        (mend,) = (mend for mend in p.mends if mend.id == act)
        return (mend.onward @ node.belief)[None, :]

    def _menu(self, place: Place) -> Menu:
        if place not in self._menus:
            found = list(self._offers(place))
            self._menus[place] = Menu(
                acts=tuple(act for act, _, _, _ in found),
                costs=np.array([cost for _, cost, _, _ in found]),
                leads=tuple(lead for _, _, lead, _ in found),
                below=np.array([below for _, _, _, below in found]),
            )
        return self._menus[place]

    def _offers(self, place: Place) -> Iterator[tuple[str, float, Place | None, Floats]]:
        """Act, cost, where it leads, and (worlds,) what follows costs at least."""
        p = self.problem
        close = p.way(place.setup, frozenset([p.service]))[0]
        yield "finish", close, None, ~p.works * p.second_visit
        yield "escalate", p.escalation, None, np.zeros(len(p.works))
        for i, check in enumerate(p.checks):
            if place.open >> i & 1:
                cost, end = p.way(place.setup, check.needs)
                left = place.open & ~(1 << i)
                then = Place(check.leaves or end, left, place.tries, place.proof)
                yield check.id, cost + check.cost, then, self._known[then.setup]
        for i, mend in enumerate(p.mends):
            if place.tries[i] < TRIES:
                cost, end = p.way(place.setup, mend.needs)
                opened = place.open
                for number in p.reopened(mend):
                    opened |= 1 << number
                tries = (*place.tries[:i], place.tries[i] + 1, *place.tries[i + 1 :])
                then = Place(mend.leaves or end, opened, tries, True)
                yield mend.id, cost + mend.cost, then, mend.moves @ self._known[then.setup]
        if place.proof:
            cost, end = p.way(place.setup, p.proof.needs)
            then = Place(p.proof.leaves or end, place.open, place.tries, False)
            yield "proof", cost + p.proof.cost, then, self._known[then.setup]

    def _planes_of(self, setup: str, tries: tuple[int, ...]) -> Floats:
        """(worlds, plans)"""
        key = setup, tries
        if key not in self._planes:
            self._planes[key] = np.array(list(self._plans(setup, tries, PLANNED))).T
        return self._planes[key]

    def _plans(self, setup: str, tries: tuple[int, ...], left: int) -> Iterator[Floats]:
        """(worlds,) each: the cost of a fixed plan in every world."""
        p = self.problem
        failing = ~p.works * p.second_visit
        yield p.way(setup, frozenset([p.service]))[0] + failing
        yield np.full(len(failing), p.escalation)
        if not left:
            return
        for i, mend in enumerate(p.mends):
            if tries[i] >= TRIES:
                continue
            cost, end = p.way(setup, mend.needs)
            end = mend.leaves or end
            cost += mend.cost
            yield cost + p.way(end, frozenset([p.service]))[0] + mend.moves @ failing
            proving, there = p.way(end, p.proof.needs)
            there = p.proof.leaves or there
            cost += proving + p.proof.cost
            passed, failed = p.proof.chances
            close = p.way(there, frozenset([p.service]))[0]
            more = (*tries[:i], tries[i] + 1, *tries[i + 1 :])
            for then in self._plans(there, more, left - 1):
                yield cost + mend.moves @ (passed * (failing + close) + failed * then)


def _bound(step: Step) -> None:
    low = high = step.cost
    for chance, node in step.follow or ():
        low += chance * node.low
        high += chance * node.high
    step.low, step.high = max(step.low, low), high


def _if_known(p: Problem) -> dict[str, Floats]:
    """Setup -> (worlds,): the least expected cost for somebody who sees the world at every step."""
    failing = ~p.works * p.second_visit
    ends = {
        setup: np.minimum(p.way(setup, frozenset([p.service]))[0] + failing, p.escalation)
        for setup in p.distances
    }
    values = dict(ends)
    while True:
        new = {}
        for setup in p.distances:
            best = ends[setup]
            for mend in p.mends:
                cost, end = p.way(setup, mend.needs)
                best = np.minimum(best, cost + mend.cost + mend.moves @ values[mend.leaves or end])
            new[setup] = best
        if all(np.allclose(new[s], values[s], rtol=0.0, atol=1e-10) for s in values):
            return {setup: value - NOTHING for setup, value in new.items()}
        values = new


def solve(problem: Problem, exactly: float = 1e-3, most: int = 20_000) -> Optimum:
    """Bring the bounds at the beginning within `exactly` of each other, as a part of the cost, or
    stop after looking into `most` acts."""
    optimum = Optimum(problem)
    optimum.improve(optimum.root, exactly * optimum.root.low, most)
    return optimum
