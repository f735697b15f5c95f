"""What follows a belief: the acts worth following, every outcome of each, and what these are worth.

Every outcome has a bound from above and one from below (`bounds`) and an estimate (`estimate`) in
between. All values are weighted by the chance of the belief they speak of.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from brinebayes.advice.bounds import Ahead
from brinebayes.advice.compared import compared
from brinebayes.advice.effort import Effort
from brinebayes.advice.estimate import BIT_MARKUP, Rate, best, missing, rate, tells
from brinebayes.advice.prices import FAR, Legs
from brinebayes.advice.problem import Epoch, Problem, Shown
from brinebayes.advice.tree import Node, Option

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Indices = NDArray[np.intp]

#: Entries of the table of one expansion that counts as a whole one, and the least that one counts.
WHOLE, LEAST = 50_000.0, 0.03
#: Beyond the first act so many checks are looked at for each one that may be followed.
NEAR = 3


class Follow:
    """Follows beliefs of one problem, and counts the work."""

    def __init__(self, problem: Problem, effort: Effort) -> None:
        self.problem, self.effort = problem, effort
        #: The checks that are looked at.
        self.near = tuple(range(len(problem.checks)))
        self.rate = Rate(-1, 0.0)
        self.expansions, self.work = 0, 0.0
        #: Beliefs that were followed, by all that makes them what they are.
        self._nodes: dict[tuple[object, ...], Node] = {}

    def root(self) -> Node:
        problem, first = self.problem, self.problem.first
        weights = problem.table.weights[first.order]
        total = float(weights.sum())
        return Node(
            first, weights, total, problem.setup, proof=problem.proof_open, brine=problem.brine
        )

    def child(self, node: Node, option: Option, at: int) -> Node:
        """The belief after an outcome of an act."""
        problem, epoch = self.problem, node.epoch
        legs = problem.prices.legs(node.setup)
        made, proof, brine, story = node.made, node.proof, node.brine, node.story
        if option.kind == "check":
            weights = node.weights * epoch.joint(option.index)[at]
            setup = int(legs.checks_end[0, option.index])
            made |= 1 << option.index
            brine = self._brine_after(brine, option.index)
            story = story | {(epoch.number, option.index, at)}
        elif option.kind == "prove":
            weights = node.weights * (epoch.passes if at == 0 else 1.0 - epoch.passes)
            setup, proof = int(legs.proof_end[0]), False
            made |= problem.proven
            story = story | {(epoch.number, -1, at)}
        else:
            weights = epoch.passage(option.index).carry(node.weights)
            epoch = epoch.after(option.index, made)
            weights = weights[epoch.order]
            setup, made, proof = int(legs.repairs_end[0, option.index]), 0, True
        key = (epoch.number, setup, brine, story)
        if key not in self._nodes:
            self._nodes[key] = Node(
                epoch,
                weights,
                option.totals[at],
                setup,
                made,
                proof,
                brine,
                story,
                node.depth + 1,
                (option.lowers[at], option.uppers[at], option.guesses[at]),
            )
        return self._nodes[key]

    def _brine_after(self, left: float, check: int) -> float:
        brine, spent = self.problem.model.about.brine, float(self.problem.spends[check])
        if brine is None or not spent:
            return left
        full = brine.draws.value
        return (left if left > min(spent, full) - 1e-9 else full) - spent

    def _refills(self, left: float) -> Floats:
        """(checks,): the price of a refill where a check needs one first."""
        brine, spends = self.problem.model.about.brine, self.problem.spends
        if brine is None:
            return np.zeros(len(spends))
        short = left <= np.minimum(spends, brine.draws.value) - 1e-9
        return np.where(short, self.problem.refill_price, 0.0)

    def expand(self, nodes: Sequence[Node], every: bool = False) -> None:
        """Follow the promising acts of some beliefs, or every one, by all their outcomes."""
        batch = _Batch()
        acts = [self._acts(node, batch, every) for node in nodes]
        values = iter(self._valued(batch))
        for node, own in zip(nodes, acts, strict=True):
            node.options += [
                Option(kind, index, price * node.total, *next(values), bits=bits)
                for kind, index, price, bits in own
            ]
            legs, bounds = self.problem.prices.legs(node.setup), self.problem.bounds
            failing = max(0.0, node.total - float(node.belief[self.problem.futures.sound]))
            finish = float(legs.close[0]) * node.total + failing * bounds.stakes.second_visit
            pass_on = float(legs.pass_on[0]) * node.total
            node.options.append(Option("finish", -1, finish, [], [], [], []))
            node.options.append(Option("escalate", -1, pass_on, [], [], [], []))

    def _acts(self, node: Node, batch: _Batch, every: bool) -> list[tuple[str, int, float, float]]:
        """The acts of a node that are followed: kind, which, price and bits; their outcomes go into
        the batch."""
        problem, epoch, bounds = self.problem, node.epoch, self.problem.bounds
        self.expansions += 1
        shown = epoch.shown(self.near)
        self.work += max(LEAST, shown.table.size / WHOLE)
        legs = problem.prices.legs(node.setup)
        belief = epoch.by_class(node.weights[None, :])
        node.belief = belief[0]
        checks = self._checks_at(node, shown)
        prices = legs.checks[0] + self._refills(node.brine)
        told = shown.table * node.weights
        each = tells(epoch.turns, told, [shown.parts[check] for check in checks])
        if every:
            self.rate = rate(checks, each, problem.prices.own_checks)
            self._set_near(checks, each, prices)
        kept = self._promising(checks, each, prices, every)
        repairs = self._repairs_at(node, belief[0], legs, every)
        open_now = self._open_repairs(epoch, node.made)
        for place in kept:
            check = checks[place]
            made = node.made | 1 << check
            open_then = self._open_repairs(epoch, made) if epoch.awaited >> check & 1 else open_now
            end = int(legs.checks_end[0, check])
            after = epoch.by_class(told[shown.parts[check]])
            batch.add(after, end, open_then, node.proof)
        mended = bounds.repaired(node.belief) if repairs else belief
        for repair in repairs:
            after = mended[[repair]]
            open_then = self._open_after(epoch, repair)
            batch.add(after, int(legs.repairs_end[0, repair]), open_then, True)
        if node.proof:
            passed = epoch.by_class((node.weights * epoch.passes)[None, :])
            both = np.concatenate([passed, np.maximum(belief - passed, 0.0)])
            open_then = self._open_repairs(epoch, node.made | problem.proven)
            batch.add(both, int(legs.proof_end[0]), open_then, False)
        if len(kept) < len(checks) or not every:
            node.rest = self._rest(node, belief[0], checks, kept, repairs, prices, legs)
        acts = [
            ("check", checks[place], float(prices[checks[place]]), float(each[place, 0]))
            for place in kept
        ]
        acts += [("repair", repair, float(legs.repairs[0, repair]), 0.0) for repair in repairs]
        return [*acts, ("prove", 0, float(legs.proof[0]), 0.0)] if node.proof else acts

    def _set_near(self, checks: list[int], tells: Floats, prices: Floats) -> None:
        """Only the checks that tell most for their price are looked at again further on."""
        width = NEAR * self.effort.beam
        if len(checks) > width:
            kept = {checks[place] for place in best(tells, prices[checks], width)}
            awaited = self.problem.first.awaited
            self.near = tuple(c for c in self.near if c in kept or awaited >> c & 1)

    def _checks_at(self, node: Node, shown: Shown) -> list[int]:
        """The checks that may be made at a node and would say something."""
        epoch, made = node.epoch, node.made
        legs = self.problem.prices.legs(node.setup)
        return [
            check
            for check in shown.parts
            if not made >> check & 1
            and not epoch.held_checks.get(check, 0) & ~made
            and legs.checks[0, check] < FAR
        ]

    def _promising(
        self, checks: list[int], tells: Floats, prices: Floats, every: bool
    ) -> list[int]:
        """Places of the checks that are followed: by bits, and by sureness, for their price."""
        width = self.effort.beam
        if every or len(checks) <= width:
            return list(range(len(checks)))
        return best(tells, prices[checks], width)

    def _repairs_at(self, node: Node, belief: Floats, legs: Legs, every: bool) -> list[int]:
        """The repairs that are followed: by what they mend, and change, for their price."""
        bounds, width = self.problem.bounds, max(2, self.effort.beam // 2)
        open_ = self._open_repairs(node.epoch, node.made) & (legs.repairs[0] < FAR)
        places = np.flatnonzero(open_)
        if every or len(places) <= self.effort.beam:
            return [int(place) for place in places]
        price = (legs.repairs + legs.proof_after)[0, places]
        mended = compared(bounds.mends[places] @ belief / price)
        changed = compared(bounds.changes[places] @ belief / price)
        first = places[(-mended).argsort(kind="stable")[:width]]
        second = places[(-changed).argsort(kind="stable")[: width // 2]]
        return sorted({*first.tolist(), *second.tolist()})

    def _open_repairs(self, epoch: Epoch, made: int) -> Bools:
        """(repairs,): which may be made once the checks `made` of this epoch have been."""
        open_ = epoch.open.copy()
        for repair, bits in epoch.held_repairs.items():
            if bits & ~made:
                open_[repair] = False
        return open_

    def _open_after(self, epoch: Epoch, repair: int) -> Bools:
        """(repairs,): which may be made right after a repair."""
        open_ = epoch.open.copy()
        open_[repair] = epoch.tries[repair] > 1
        for held in self.problem.holds(epoch.repaired | {repair})[1]:
            open_[held] = False
        return open_

    def _valued(
        self, batch: _Batch
    ) -> list[tuple[list[float], list[float], list[float], list[float]]]:
        """For every act of a batch the totals, bounds and estimates of its outcomes."""
        if not batch.sizes:
            return []
        bounds = self.problem.bounds
        beliefs = np.concatenate(batch.beliefs)
        setups = np.repeat(batch.setups, batch.sizes)
        ahead = Ahead(
            beliefs,
            setups,
            np.repeat(np.array(batch.open), batch.sizes, axis=0),
            np.repeat(batch.proof, batch.sizes),
        )
        upper = bounds.above(ahead)
        least, proven, places = bounds.known_at(setups)
        lower = np.minimum(np.einsum("nc,nc->n", beliefs, least[places]), upper)
        known = np.clip(np.einsum("nc,nc->n", beliefs, proven[places]), lower, upper)
        totals = beliefs.sum(axis=1)
        guess = known + self._doubt(beliefs, totals, setups)
        rows = np.flatnonzero(ahead.proof)
        if rows.size:
            guess[rows] = self._proved(ahead, rows)
        guess = np.clip(guess, lower, upper)
        ends = np.cumsum(batch.sizes).tolist()
        return [
            (totals[a:b].tolist(), lower[a:b].tolist(), upper[a:b].tolist(), guess[a:b].tolist())
            for a, b in zip([0, *ends[:-1]], ends, strict=True)
        ]

    def _doubt(self, beliefs: Floats, totals: Floats, setups: Indices) -> Floats:
        """(n,): the price of what is not known, and of the way to where it can be learnt."""
        check = self.rate.check
        if check < 0:
            return np.full(len(beliefs), np.inf)
        prices = self.problem.prices
        ways = prices.to_check(setups, check) - prices.own_checks[check]
        bits = missing(self.problem.bounds.decided(beliefs))
        doubt: Floats = BIT_MARKUP * self.rate.price * bits + totals * ways
        return doubt

    def _proved(self, ahead: Ahead, rows: Indices) -> Floats:
        """(rows,): the estimate where a proof comes next.

        After a repair the doubt is whether it worked, and that is not what other checks are for.
        """
        bounds = self.problem.bounds
        paid, failed, totals, setups = bounds.proved(ahead.beliefs[rows], ahead.setups[rows])
        none = np.zeros(len(rows), dtype=bool)
        upper = bounds.above(Ahead(failed, setups, ahead.open[rows], none))
        _, proven, places = bounds.known_at(setups)
        known = np.einsum("nc,nc->n", failed, proven[places])
        after: Floats = np.minimum(known + self._doubt(failed, totals, setups), upper)
        return paid + after

    def _rest(
        self,
        node: Node,
        belief: Floats,
        checks: list[int],
        kept: list[int],
        repairs: list[int],
        prices: Floats,
        legs: Legs,
    ) -> float:
        """Lower bound of the acts of a node that are not followed."""
        bounds = self.problem.bounds
        rest = np.inf
        others = [check for place, check in enumerate(checks) if place not in set(kept)]
        if others:
            table, _, which = bounds.known_at(legs.checks_end[0, others])
            after = (table @ belief)[which]
            rest = float((prices[others] * node.total + after).min())
        if len(repairs) < int(self._open_repairs(node.epoch, node.made).sum()):
            rest = min(rest, float(belief @ bounds.known(node.setup)[0]))
        return rest


class _Batch:
    """Beliefs after the acts of one node, gathered to be valued all at once."""

    def __init__(self) -> None:
        self.beliefs: list[Floats] = []
        self.sizes: list[int] = []
        self.setups: list[int] = []
        self.open: list[Bools] = []
        self.proof: list[bool] = []

    def add(self, beliefs: Floats, setup: int, open_: Bools, proof: bool) -> None:
        """The beliefs after one act, which leaves the unit in `setup`."""
        self.beliefs.append(beliefs)
        self.sizes.append(len(beliefs))
        self.setups.append(setup)
        self.open.append(open_)
        self.proof.append(proof)
