"""What one act tells and mends, row by row."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from sklearn.metrics import mutual_info_score

from brinebayes.advice.estimate import missing
from brinebayes.advice.one_step import bits, mends
from brinebayes.knowledge.schema import CheckedModel
from brinebayes.network.belief import believe
from brinebayes.visit.events import Done, Event, Saw
from brinebayes.visit.state import fold, to_question
from tests.advice.test_choose import HISTORIES, state_of


class TestBits:
    """Mutual information between an outcome and a class."""

    @given(
        counts=st.lists(st.lists(st.integers(0, 9), min_size=4, max_size=4), min_size=2, max_size=3)
    )
    def test_equal_to_scikit_learn(self, counts: list[list[int]]) -> None:
        table = np.asarray(counts, dtype=float)
        if table.sum() == 0.0:
            return
        outcomes, classes = np.indices(table.shape)
        weights = table.ravel().astype(int)
        expected = mutual_info_score(
            np.repeat(outcomes.ravel(), weights), np.repeat(classes.ravel(), weights)
        ) / np.log(2.0)
        assert bits(table / table.sum(), np.arange(4)) == pytest.approx(expected, abs=1e-9)

    def test_the_used_car(self) -> None:
        """Used car [worked example, two tests]: H .881291 bit, T1 .476803, T2 .198022 bits."""
        prior = np.array([0.7, 0.3])
        first = np.array([[0.8, 0.05], [0.05, 0.75], [0.15, 0.2]])
        second = np.array([[0.8, 0.25], [0.2, 0.75]])
        classes = np.arange(2)
        assert missing(prior[None, :])[0] == pytest.approx(0.881291, abs=1e-6)
        assert bits(first * prior, classes) == pytest.approx(0.476803, abs=1e-6)
        assert bits(second * prior, classes) == pytest.approx(0.198022, abs=1e-6)


class TestMends:
    """What a repair does to each row, against the exact engine's next epoch."""

    @pytest.mark.parametrize("events", HISTORIES[1:4])
    @pytest.mark.parametrize("repair", ["clean_injector", "clear_brine_line"])
    def test_the_mean_over_the_rows_is_what_the_exact_engine_says(
        self, checked: CheckedModel, events: list[Event], repair: str
    ) -> None:
        """Within four standard errors of the weighted table (fixed seed)."""
        model, state = checked.model, state_of(checked, events)
        worlds = believe(model, to_question(model, state)).worlds(4000, seed=5)
        chance = mends(model, state, [repair], worlds)[0]
        mean = float(worlds.weights @ chance)
        error = float(np.sqrt((worlds.weights**2) @ (chance - mean) ** 2))
        after = fold(model, [Done(repair)], state)
        exact = believe(model, to_question(model, after)).works
        assert abs(mean - exact) < 4.0 * error + 1e-3

    def test_a_second_try_that_shares_the_luck_brings_nothing(self, checked: CheckedModel) -> None:
        model = checked.model
        state = state_of(checked, [Done("clean_injector"), Saw("proof", "failed")])
        worlds = believe(model, to_question(model, state)).worlds(500, seed=5)
        chance = mends(model, state, ["clean_injector"], worlds)[0]
        assert (chance <= worlds.works).all()
