"""The bound on what ending the visit costs, against textbook numbers and plain enumeration."""

from __future__ import annotations

from itertools import permutations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from brinebayes.advice.outlook import STEPS, Ends, Legs, outlook


def ends(
    mends: list[list[float]],
    costs: list[float],
    *,
    proof: float = 0.0,
    second_visit: float = 1e9,
    escalation: float = 1e9,
    truly: float = 1.0,
    falsely: float = 0.0,
    works: list[bool] | None = None,
) -> Ends:
    """Prices with a perfect, free proof unless said otherwise."""
    table = np.asarray(mends, dtype=float)
    return Ends(
        works=np.asarray(works or [False] * table.shape[1]),
        mends=table,
        next=Legs(
            np.asarray([costs], dtype=float),
            np.full((1, len(costs)), proof),
            np.zeros((1, len(costs))),
        ),
        passes_if_works=truly,
        passes_if_not=falsely,
        second_visit=second_visit,
        escalation=escalation,
    )


def ask(prices: Ends, weights: list[float]) -> float:
    """The outlook of one belief, every repair from the same setup."""
    return float(outlook(prices, np.asarray([weights]), prices.next, np.zeros(1))[0])


class TestOutlook:
    """Finish, pass on, or a greedy sequence of repairs and proofs: the cheapest of them."""

    def test_order_by_probability_per_cost_is_optimal_for_single_faults(self) -> None:
        """Kadane & Simon 1977; Kalagnanam & Henrion 1990: compared with every permutation."""
        rng = np.random.default_rng(7)
        for _ in range(50):
            chances = rng.dirichlet(np.ones(4))
            costs = rng.uniform(1.0, 20.0, 4)
            prices = ends(np.eye(4).tolist(), costs.tolist())
            every = min(
                sum(
                    costs[r] * (1.0 - sum(chances[s] for s in order[:i]))
                    for i, r in enumerate(order)
                )
                for order in permutations(range(4))
            )
            assert ask(prices, chances.tolist()) == pytest.approx(every, rel=1e-9)

    def test_overlapping_repairs_cost_what_the_exercise_says(self) -> None:
        """Exercise, apparently Jensen & Nielsen 2007 [from memory]: <1,2,3,4> costs 27.875.

        Faults .8/.15/.05; costs 1, 2, 25, 500; each repair tries with luck of its own. The order by
        probability per cost, which the greedy sequence follows, is the optimum here.
        """
        mends = [[1.0, 0, 0], [0, 0.95, 0], [0.99, 0.99, 0], [1.0, 1.0, 1.0]]
        prices = ends(mends, [1.0, 2.0, 25.0, 500.0])
        assert ask(prices, [0.8, 0.15, 0.05]) == pytest.approx(27.875, abs=1e-9)

    def test_finishing_costs_a_second_visit_for_what_fails(self) -> None:
        prices = ends([[0.0, 0.0]], [50.0], second_visit=100.0, works=[True, False])
        assert ask(prices, [0.7, 0.3]) == pytest.approx(30.0)

    def test_passing_on_is_taken_when_it_is_cheaper(self) -> None:
        prices = ends([[0.0]], [50.0], second_visit=100.0, escalation=60.0)
        assert ask(prices, [1.0]) == pytest.approx(60.0)

    def test_leaving_unproven_is_taken_when_the_proof_is_dear(self) -> None:
        prices = ends([[0.9]], [10.0], proof=80.0, second_visit=100.0, escalation=1e9)
        assert ask(prices, [1.0]) == pytest.approx(10.0 + 0.1 * 100.0)

    def test_a_proof_that_passes_wrongly_costs_the_second_visit(self) -> None:
        prices = ends([[0.8]], [10.0], falsely=0.25, second_visit=100.0, escalation=40.0)
        # repair 10; of the .2 that stays a quarter passes wrongly and comes back (5), the rest is
        # passed on (6); leaving without a proof would cost 10 + 20, passing on at once 40
        assert ask(prices, [1.0]) == pytest.approx(10.0 + 0.05 * 100.0 + 0.15 * 40.0)

    @given(
        weights=st.lists(st.floats(0.01, 1.0), min_size=3, max_size=3),
        split=st.lists(st.floats(0.0, 1.0), min_size=3, max_size=3),
        data=st.data(),
    )
    def test_more_knowledge_about_the_fixed_sequence_never_costs_more(
        self, weights: list[float], split: list[float], data: st.DataObject
    ) -> None:
        """Free information: with one repair, both halves cost no more than the whole."""
        cost = data.draw(st.floats(1.0, 50.0))
        prices = ends([[0.9, 0.5, 0.0]], [cost], proof=3.0, second_visit=120.0, escalation=90.0)
        first = [w * s for w, s in zip(weights, split, strict=True)]
        second = [w - f for w, f in zip(weights, first, strict=True)]
        both = ask(prices, first) + ask(prices, second)
        assert both <= ask(prices, weights) + 1e-9

    def test_many_beliefs_at_once_are_the_same_as_one_by_one(self) -> None:
        rng = np.random.default_rng(3)
        table = rng.uniform(size=(5, 9))
        prices = ends(table.tolist(), rng.uniform(1, 40, 5).tolist(), proof=4.0, second_visit=150.0)
        beliefs = rng.dirichlet(np.ones(9), size=6)
        parts = [rng.uniform(1, high, size=(6, 5)) for high in (40, 9, 5)]
        close = rng.uniform(0, 5, size=6)
        whole = outlook(prices, beliefs, Legs(*parts), close)
        single = [
            outlook(prices, beliefs[[i]], Legs(*(part[[i]] for part in parts)), close[[i]])[0]
            for i in range(6)
        ]
        np.testing.assert_allclose(whole, single, rtol=1e-12)

    def test_fewer_repairs_than_steps(self) -> None:
        """With one repair the sequence ends after it, whatever the number of steps."""
        assert STEPS > 1
        prices = ends([[0.5]], [10.0], proof=1.0, second_visit=100.0, escalation=50.0)
        assert ask(prices, [1.0]) == pytest.approx(10.0 + 1.0 + 0.5 * 50.0)
