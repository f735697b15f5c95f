"""The bounds on what ending the visit costs, against textbook numbers and plain enumeration."""

from __future__ import annotations

from itertools import permutations
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from brinebayes.advice import bounds
from brinebayes.advice.bounds import Ahead, Bounds, Stakes
from brinebayes.advice.futures import Mending
from brinebayes.advice.prices import Legs

NEVER, SOUND = 0, 1


class OneSetup:
    """Prices of a unit that stands in one setup only."""

    def __init__(self, costs: list[float], proof: float, escalation: float) -> None:
        self.own_repairs, self.own_proof = np.asarray(costs, dtype=float), proof
        self._escalation = escalation

    def many(self, setups: Any) -> Legs:
        n, repairs = len(setups), len(self.own_repairs)
        none, nowhere = np.zeros((n, repairs)), np.zeros(n, dtype=np.intp)
        return Legs(
            checks=np.zeros((n, 0)),
            checks_end=np.zeros((n, 0), dtype=np.intp),
            repairs=np.tile(self.own_repairs, (n, 1)),
            repairs_end=none.astype(np.intp),
            proof_after=none + self.own_proof,
            close_after=none,
            proof=np.full(n, self.own_proof),
            proof_end=nowhere,
            close=np.zeros(n),
            pass_on=np.full(n, self._escalation),
        )

    def legs(self, setup: int) -> Legs:
        return self.many([setup])


def prices(
    clears: list[dict[int, float]],
    costs: list[float],
    *,
    faults: int,
    proof: float = 0.0,
    second_visit: float = 1e9,
    escalation: float = 1e9,
    truly: float = 1.0,
    falsely: float = 0.0,
) -> Bounds:
    """Units with one fault each, which is class 2 + fault; a perfect, free proof unless said."""
    repairs = [Mending(tuple(one.items()), ()) for one in clears]
    moves = [(r, 2 + f, SOUND, p) for r, one in enumerate(clears) for f, p in sorted(one.items())]
    table = np.array(moves).reshape(-1, 4)
    futures: Any = SimpleNamespace(
        repairs=repairs,
        usable=len(repairs),
        class_count=2 + faults,
        sound=SOUND,
        never=NEVER,
        moves=lambda: (*table[:, :3].astype(np.intp).T, table[:, 3]),
    )
    setup: Any = OneSetup(costs, proof, escalation)
    return Bounds(futures, setup, Stakes(truly, falsely, second_visit, escalation), fewest=0.0)


def above(of: Bounds, weights: list[float], works: float = 0.0) -> float:
    """The upper bound of one belief over single faults."""
    beliefs = np.array([[0.0, works, *weights]])
    repairs = len(of.mends)
    ahead = Ahead(
        beliefs, np.zeros(1, dtype=np.intp), np.ones((1, repairs), bool), np.zeros(1, bool)
    )
    return float(of.above(ahead)[0])


def below(of: Bounds, weights: list[float], works: float = 0.0) -> float:
    return float(of.known(0)[0] @ [0.0, works, *weights])


class TestAbove:
    """Finish, pass on, or a greedy sequence of repairs and proofs: the cheapest of them."""

    @pytest.fixture(autouse=True)
    def four_steps(self, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setattr(bounds, "STEPS", 4)

    def test_order_by_probability_per_cost_is_optimal_for_single_faults(self) -> None:
        """Kadane & Simon 1977; Kalagnanam & Henrion 1990: compared with every permutation."""
        rng = np.random.default_rng(7)
        for _ in range(30):
            chances = rng.dirichlet(np.ones(4))
            costs = rng.uniform(1.0, 20.0, 4)
            of = prices([{k: 1.0} for k in range(4)], costs.tolist(), faults=4)
            every = min(
                sum(
                    costs[r] * (1.0 - sum(chances[s] for s in order[:i]))
                    for i, r in enumerate(order)
                )
                for order in permutations(range(4))
            )
            assert above(of, chances.tolist()) == pytest.approx(every, rel=1e-9)

    def test_overlapping_repairs_cost_what_the_exercise_says(self) -> None:
        """Exercise, apparently Jensen & Nielsen 2007 [from memory]: <1,2,3,4> costs 27.875."""
        clears = [{0: 1.0}, {1: 0.95}, {0: 0.99, 1: 0.99}, {0: 1.0, 1: 1.0, 2: 1.0}]
        of = prices(clears, [1.0, 2.0, 25.0, 500.0], faults=3)
        assert above(of, [0.8, 0.15, 0.05]) == pytest.approx(27.875, abs=1e-9)

    def test_finishing_costs_a_second_visit_for_what_fails(self) -> None:
        of = prices([{}], [50.0], faults=1, second_visit=100.0)
        assert above(of, [0.3], works=0.7) == pytest.approx(30.0)

    def test_passing_on_is_taken_when_it_is_cheaper(self) -> None:
        of = prices([{}], [50.0], faults=1, second_visit=100.0, escalation=60.0)
        assert above(of, [1.0]) == pytest.approx(60.0)

    def test_leaving_unproven_is_taken_when_the_proof_is_dear(self) -> None:
        of = prices([{0: 0.9}], [10.0], faults=1, proof=80.0, second_visit=100.0)
        assert above(of, [1.0]) == pytest.approx(10.0 + 0.1 * 100.0)

    def test_a_proof_that_passes_wrongly_costs_the_second_visit(self) -> None:
        of = prices([{0: 0.8}], [10.0], faults=1, falsely=0.25, second_visit=100.0, escalation=40.0)
        # repair 10; of the .2 that stays a quarter passes wrongly and comes back (5), the rest is
        # passed on (6); leaving without a proof would cost 10 + 20, passing on at once 40
        assert above(of, [1.0]) == pytest.approx(10.0 + 0.05 * 100.0 + 0.15 * 40.0)

    def test_many_beliefs_at_once_are_the_same_as_one_by_one(self) -> None:
        rng = np.random.default_rng(3)
        clears = [{int(k): float(p) for k, p in enumerate(rng.uniform(size=6))} for _ in range(4)]
        costs = rng.uniform(1, 40, 4).tolist()
        of = prices(clears, costs, faults=6, proof=4.0, second_visit=150.0)
        beliefs = np.column_stack([np.zeros((5, 2)), rng.dirichlet(np.ones(6), size=5)])
        open_, proof = rng.uniform(size=(5, 4)) < 0.7, np.array([True, False, True, False, True])
        place = np.zeros(5, dtype=np.intp)
        whole = of.above(Ahead(beliefs, place, open_, proof))
        single = [
            of.above(Ahead(beliefs[[i]], place[[i]], open_[[i]], proof[[i]]))[0] for i in range(5)
        ]
        np.testing.assert_allclose(whole, single, rtol=1e-12)


class TestKnown:
    """What ending would cost if the class were known."""

    def test_a_known_fault_costs_its_cheapest_repair(self) -> None:
        of = prices([{0: 1.0}, {0: 1.0}], [30.0, 20.0], faults=1, second_visit=100.0)
        assert below(of, [1.0]) == pytest.approx(20.0)

    def test_never_above_the_plan_that_can_be_carried_out(self) -> None:
        rng = np.random.default_rng(5)
        for _ in range(30):
            clears = [{int(rng.integers(4)): float(rng.uniform(0.5, 1.0))} for _ in range(4)]
            of = prices(
                clears,
                rng.uniform(1, 40, 4).tolist(),
                faults=4,
                proof=float(rng.uniform(1, 20)),
                second_visit=150.0,
                escalation=180.0,
                truly=0.95,
                falsely=0.05,
            )
            weights = rng.dirichlet(np.ones(4)).tolist()
            assert below(of, weights) <= above(of, weights) + 1e-9
