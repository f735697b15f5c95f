"""The decision at hand as numbers: acts, what they cost, what they show and what they bring about.

Everything that a search asks of the model is put together here once; the search itself knows rows,
futures and prices only. An epoch is what lies between two repairs.
"""

from __future__ import annotations

from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from brinebayes.advice.acts import (
    TRIES,
    Held,
    could_be_made,
    held_by,
    held_later,
    price_of_check,
    price_of_repair,
)
from brinebayes.advice.bounds import Bounds, Stakes
from brinebayes.advice.compared import compared
from brinebayes.advice.futures import Futures, Passage
from brinebayes.advice.prices import Prices
from brinebayes.advice.situation import Situation
from brinebayes.advice.table import Table, table
from brinebayes.knowledge.schema import Model
from brinebayes.network import graph
from brinebayes.record import record
from brinebayes.visit.brine import draws_left
from brinebayes.visit.state import PROOF

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Indices = NDArray[np.intp]
#: Place of a check or repair -> what is to be seen before it, as bits: of checks, then repairs.
Holds = tuple[dict[int, int], dict[int, int]]

#: Outcomes of one check that are told apart; the least likely ones beyond are taken together.
MOST_OUTCOMES = 16


@record(eq=False)
class Problem:
    """What a search needs to know. `checks`, `repairs`: ids, those that may come to be made.

    `open_checks`: places of those that may be made at once; `tries`: how often each repair still
    may. `answered`: observations whose answer is known already; `seen`: those that count as seen.
    """

    model: Model
    futures: Futures
    prices: Prices
    bounds: Bounds
    table: Table
    checks: tuple[str, ...]
    repairs: tuple[str, ...]
    setup: int
    answered: frozenset[str]
    seen: frozenset[str]
    open_checks: frozenset[int]
    tries: tuple[int, ...]
    held: tuple[Held, ...]
    proof_open: bool
    brine: float
    spends: Floats
    refill_price: float

    @cached_property
    def epochs(self) -> list[Epoch]:
        """Those that the search has come to so far, in order."""
        return []

    @cached_property
    def first(self) -> Epoch:
        """The epoch of now."""
        return Epoch(
            problem=self,
            futures=self.table.start,
            answered=self.answered,
            tries=self.tries,
            repaired=frozenset(),
        )

    @property
    def proven(self) -> int:
        """The proof among the checks that were made, as a bit."""
        return 1 << len(self.checks)

    @cached_property
    def _homes(self) -> dict[str, int]:
        """Observation -> the check that shows it, as a bit; the proof has one too."""
        place = enumerate(self.checks)
        homes = {name: 1 << k for k, c in place for name in self.model.checks[c].observations}
        return {**homes, PROOF: self.proven}

    @cached_property
    def _held_after(self) -> dict[frozenset[int], Holds]:
        return {}

    def holds(self, repaired: frozenset[int]) -> Holds:
        """Checks, then repairs, that are held back once these repairs are made (none: now) -> what
        is to be seen first, as bits."""
        found = self._held_after.get(repaired)
        if found is None:
            found = self._held_after[repaired] = self._held_back(repaired)
        return found

    def _held_back(self, repaired: frozenset[int]) -> Holds:
        names, later = {self.repairs[r] for r in repaired}, bool(repaired)
        found: Holds = ({}, {})
        for one in self.held:
            if later and not one.lasting:
                continue
            if one.after and not names.intersection(one.after):
                continue
            for places, held in zip((self.checks, self.repairs), found, strict=True):
                if one.act in places:
                    asked = {n for n in one.until if later or n not in self.seen}
                    place, bits = places.index(one.act), held.get(places.index(one.act), 0)
                    # What no check of ours can show is never seen: a bit that nothing sets.
                    for name in asked:
                        bits |= self._homes.get(name, self.proven << 1)
                    held[place] = bits
        return found


@record(eq=False)
class Shown:
    """`table`: (outcomes, futures of an epoch), P(outcome | future) of some checks, one after the
    other; `parts`: the rows of each."""

    table: Floats
    parts: dict[int, slice]


class Epoch:
    """The time between two repairs, for all beliefs that reach it the same way.

    `futures`: (k,) the futures that may be real, by what they call for and then by class; `order`:
    (k,) where each was among those it was made of.
    `repaired`: places of the repairs since now. `cuts`: where each class begins, `classes`: which
    it is; `turns`: where the futures begin that call for something else.
    """

    def __init__(
        self,
        problem: Problem,
        futures: Indices,
        answered: frozenset[str],
        tries: tuple[int, ...],
        repaired: frozenset[int],
    ) -> None:
        self.problem, self.answered = problem, answered
        self.number = len(problem.epochs)
        problem.epochs.append(self)
        self.tries, self.repaired, self.later = tries, repaired, bool(repaired)
        self.open = np.array([n > 0 for n in tries], dtype=bool)
        classes = problem.futures.classes[futures]
        calls = problem.bounds.decisions[classes]
        self.order = np.lexsort((classes, calls))
        self.futures, classes = futures[self.order], classes[self.order]
        self.cuts = np.flatnonzero(np.diff(classes, prepend=-1))
        self.classes = classes[self.cuts]
        self.turns = np.flatnonzero(np.diff(calls[self.order], prepend=-1))
        self._joints: dict[int, Floats] = {}
        self._shown: dict[tuple[int, ...], Shown] = {}
        self.held_checks, self.held_repairs = problem.holds(repaired)
        #: Checks, as bits, that some act waits for.
        self.awaited = 0
        for bits in (*self.held_checks.values(), *self.held_repairs.values()):
            self.awaited |= bits
        self._after: dict[tuple[int, int], Epoch] = {}
        self._passages: dict[int, Passage] = {}

    def by_class(self, rows: Floats) -> Floats:
        """(n, classes): weights of futures added up by their class."""
        table = np.zeros((len(rows), self.problem.bounds.classes))
        table[:, self.classes] = np.add.reduceat(rows, self.cuts, axis=1)
        return table

    @cached_property
    def passes(self) -> Floats:
        """(k,): P(a proof passes | future)."""
        passed: Floats = self.problem.futures.likelihoods(graph.PROOF, self.futures)[0]
        return passed

    def shown(self, among: tuple[int, ...]) -> Shown:
        """What some checks show, those of them that say something new."""
        if among not in self._shown:
            problem, rows, parts, start = self.problem, [], {}, 0
            for check in among:
                open_now = check in problem.open_checks or check in self.held_checks
                if self.later or open_now:
                    joint = self.joint(check)
                    if len(joint):
                        rows.append(joint)
                        parts[check] = slice(start, start + len(joint))
                        start += len(joint)
            whole = np.concatenate(rows) if rows else np.zeros((0, len(self.futures)))
            self._shown[among] = Shown(whole, parts)
        return self._shown[among]

    def joint(self, check: int) -> Floats:
        """(outcomes, k): P(joint outcome of a check's new observations | future); empty without."""
        if check not in self._joints:
            joint = self._joint(self.problem.checks[check])
            if joint is None:
                # It says nothing new, but a rule may ask for it all the same.
                joint = np.ones((self.awaited >> check & 1, len(self.futures)))
            self._joints[check] = joint
        return self._joints[check]

    def _joint(self, check: str) -> Floats | None:
        joint: Floats | None = None
        for name in self.problem.model.checks[check].observations:
            if name in self.answered:
                continue
            each = self.problem.futures.likelihoods(name, self.futures)
            if joint is None:
                joint = each
            else:
                joint = (joint[:, None, :] * each[None, :, :]).reshape(-1, each.shape[1])
                joint = _fewer(joint)
        return joint

    def passage(self, repair: int) -> Passage:
        """Where a repair leads from the futures of this epoch."""
        if repair not in self._passages:
            self._passages[repair] = self.problem.futures.repaired(repair, self.futures)
            self.problem.bounds.grow()
        return self._passages[repair]

    def after(self, repair: int, made: int) -> Epoch:
        """The epoch that a repair opens; `made`: the checks that were made in this one, as bits."""
        problem = self.problem
        key = (repair, made & ~problem.proven)
        if key not in self._after:
            answered = set(self.answered)
            for place, check in enumerate(problem.checks):
                if made >> place & 1:
                    answered.update(problem.model.checks[check].observations)
            answered -= graph.touched(problem.model, problem.repairs[repair])
            tries = tuple(n - (r == repair) for r, n in enumerate(self.tries))
            self._after[key] = Epoch(
                problem,
                self.passage(repair).futures,
                frozenset(answered),
                tries,
                self.repaired | {repair},
            )
        return self._after[key]


def _fewer(joint: Floats) -> Floats:
    """The rows of a joint table, the least likely ones taken together."""
    if len(joint) <= MOST_OUTCOMES:
        return joint
    order = (-compared(joint.sum(axis=1))).argsort(kind="stable")
    rest = joint[order[MOST_OUTCOMES - 1 :]].sum(axis=0)
    return np.concatenate([joint[order[: MOST_OUTCOMES - 1]], rest[None, :]])


def problem(now: Situation, rows: int) -> Problem:
    """The decision at hand in a situation, on about so many rows."""
    model, state = now.model, now.state
    held = held_by(state, now.notes)
    closed = frozenset(now.blocked) - {one.act for one in held}
    held += held_later(model, state)
    checks = tuple(c for c in model.checks if c not in closed and could_be_made(model, state, c))
    repairs = tuple(r for r in model.repairs if r not in closed and could_be_made(model, state, r))
    here = {act.id for act in now.acts}
    tries = tuple(
        TRIES - state.done.count(name) - (model.repairs[name].same_luck and name not in state.done)
        for name in repairs
    )
    rows_now = table(now, repairs, rows)
    futures = rows_now.futures
    money, proof, brine = model.about.money, model.about.proof, model.about.brine
    own_checks = np.array([price_of_check(model, name) for name in checks])
    own_repairs = np.array([price_of_repair(model, state, name) for name in repairs])
    prices = Prices(model, now.routes, checks, repairs, own_checks, own_repairs)
    stakes = Stakes(
        passes_if_works=proof.passes_if_works.value,
        passes_if_not=proof.passes_if_not.value,
        second_visit=money.second_visit.value,
        escalation=money.escalation.value,
    )
    fewest = min([prices.own_proof, *own_checks.tolist()])
    refill = 0.0
    if brine is not None:
        refill = brine.refill_minutes.value * money.attention_per_minute.value
        refill += brine.saturation_minutes.value * money.waiting_per_minute.value
    return Problem(
        model=model,
        futures=futures,
        prices=prices,
        bounds=Bounds(futures, prices, stakes, fewest),
        table=rows_now,
        checks=checks,
        repairs=repairs,
        setup=prices.number(now.start),
        answered=now.answered,
        seen=frozenset(state.still_known()),
        open_checks=frozenset(k for k, name in enumerate(checks) if name in here),
        tries=tries,
        held=held,
        proof_open=PROOF in here,
        brine=draws_left(model, state),
        spends=np.array([model.checks[name].spends_brine for name in checks]),
        refill_price=refill,
    )
