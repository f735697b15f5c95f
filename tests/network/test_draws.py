"""Draws follow the exact joint distribution, with and without a condition."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given

from brinebayes.errors import UsageError
from brinebayes.network.compile import compile_network
from brinebayes.network.draws import _pick
from brinebayes.network.propagate import Beliefs, Stratum, calibrate, draw
from tests.bench.networks import sketch
from tests.network.test_tables import chain
from tests.reference import enumeration
from tests.reference.asia import asia
from tests.strategies import LAW, Floats, Question, questions

ROWS = 4_000


def counted(draws: np.ndarray, shape: tuple[int, ...]) -> Floats:
    """How often each joint state was drawn."""
    flat = np.ravel_multi_index(tuple(draws.T.astype(int)), shape)
    return np.bincount(flat, minlength=int(np.prod(shape))).reshape(shape).astype(float)


def assert_follows(draws: np.ndarray, expected: Floats) -> None:
    """Every joint state as often as expected, within six standard deviations; zeros never."""
    found = counted(draws, expected.shape)
    total = len(draws)
    spread = np.sqrt(total * expected * (1.0 - expected))
    assert np.all(np.abs(found - total * expected) <= 6.0 * spread + 1e-9 * total + 1.0)
    assert not found[expected == 0.0].any()


class TestPlain:
    """Rows without a condition."""

    @given(questions(most=5))
    @LAW
    def test_follow_the_joint_distribution(self, question: Question) -> None:
        network, evidence = question.network, question.likelihoods
        assume(enumeration.evidence(network, evidence) > 0)
        for cost in (0, 120):
            tree = compile_network(network, clique_cost=cost, tries=0)
            draws = draw(calibrate(tree, evidence), ROWS, seed=1)
            assert draws.dtype == np.int8
            assert draws.shape == (ROWS, len(tree.names))
            assert_follows(draws, enumeration.posterior(network, evidence, tree.names))

    def test_the_same_seed_gives_the_same_draws(self) -> None:
        beliefs = calibrate(compile_network(asia(), clique_cost=0), {})
        np.testing.assert_array_equal(draw(beliefs, 50, seed=3), draw(beliefs, 50, seed=3))
        assert not np.array_equal(draw(beliefs, 50, seed=3), draw(beliefs, 50, seed=4))

    def test_none(self) -> None:
        assert draw(calibrate(compile_network(asia()), {}), 0, seed=1).shape == (0, 8)


class TestStrata:
    """Rows given the state of one variable, wherever in the tree it is."""

    @given(questions(most=5))
    @LAW
    def test_follow_the_conditional_distribution(self, question: Question) -> None:
        network, evidence = question.network, question.likelihoods
        assume(enumeration.evidence(network, evidence) > 0)
        tree = compile_network(network, clique_cost=0, tries=0)
        beliefs = calibrate(tree, evidence)
        strata = [
            Stratum(name, state, ROWS)
            for name in tree.names
            for state, p in enumerate(beliefs.marginal(name)[0])
            if p > 0
        ]
        draws = draw(beliefs, 7, seed=2, strata=strata)
        assert len(draws) == 7 + ROWS * len(strata)
        joint = enumeration.posterior(network, evidence, tree.names)
        for i, one in enumerate(strata):
            mine = draws[7 + ROWS * i : 7 + ROWS * (i + 1)]
            axis = tree.names.index(one.variable)
            assert np.all(mine[:, axis] == one.state)
            held = np.zeros(joint.shape[axis])
            held[one.state] = 1.0
            shape = [-1 if i == axis else 1 for i in range(joint.ndim)]
            given_state = joint * held.reshape(shape)
            assert_follows(mine, given_state / given_state.sum())

    def test_rare_states_of_a_large_network(self) -> None:
        """Given each fault, another variable is as often bad as calibration says."""
        made = sketch(2)
        tree = compile_network(made.network, leaves=made.checks, tries=0)
        beliefs = calibrate(tree, {})
        strata = [Stratum(fault, 1, 2_000) for fault in made.faults[::6]]
        draws = draw(beliefs, 0, seed=5, strata=strata)
        for i, one in enumerate(strata):
            mine = draws[2_000 * i : 2_000 * (i + 1)]
            after = calibrate(tree, {one.variable: [0.0, 1.0]})
            for name in made.mechanisms[::3]:
                p = after.marginal(name)[0, 1]
                found = mine[:, tree.names.index(name)].mean()
                assert abs(found - p) <= 6 * np.sqrt(p * (1 - p) / 2_000) + 1e-9


class TestPick:
    """One state by its weight, down to the edges of a chance."""

    @pytest.mark.parametrize(
        ("weights", "chance", "picked"),
        [
            ([0.0, 1.0, 0.0, 2.0, 0.0], 0.0, 1),
            ([0.0, 1.0, 0.0, 2.0, 0.0], 0.333, 1),
            ([0.0, 1.0, 0.0, 2.0, 0.0], 0.334, 3),
            ([0.0, 1.0, 0.0, 2.0, 0.0], np.nextafter(1.0, 0.0), 3),
            ([0.0, 0.0, 1e-300], 0.0, 2),
            ([0.1] * 7, np.nextafter(1.0, 0.0), 6),
            ([5.0], 0.5, 0),
        ],
    )
    def test_never_one_without_weight(
        self, weights: list[float], chance: float, picked: int
    ) -> None:
        """Whatever stands in the columns beside it."""
        for column in range(3):
            table = np.ones((len(weights), 3))
            table[:, column] = weights
            found = _pick(table.cumsum(axis=0), np.array([column]), np.array([chance]))
            assert found.tolist() == [3 * picked + column]


class TestRefuses:
    """What cannot be drawn."""

    @staticmethod
    def beliefs() -> Beliefs:
        return calibrate(compile_network(chain(), leaves=("c",)), {"a": [1.0, 0.0]})

    def test_a_stratum_of_probability_zero(self) -> None:
        with pytest.raises(UsageError, match="a: state 1 has probability zero"):
            draw(self.beliefs(), 1, seed=1, strata=[Stratum("a", 1, 1)])

    def test_a_leaf(self) -> None:
        with pytest.raises(UsageError, match="c is not a variable of the tree"):
            draw(self.beliefs(), 1, seed=1, strata=[Stratum("c", 1, 1)])

    def test_a_batch(self) -> None:
        batch = calibrate(compile_network(chain()), {"a": [[1.0, 0.0]]})
        with pytest.raises(UsageError, match="not from a batch"):
            draw(batch, 1, seed=1)
