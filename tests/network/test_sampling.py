"""Weighted rows against exact beliefs, within bounds from their effective number of draws."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import Phase, assume, given, settings
from hypothesis import strategies as st

from brinebayes.errors import EvidenceConflict, ModelError
from brinebayes.knowledge.reading import read_model
from brinebayes.knowledge.schema import Model
from brinebayes.network import graph, odds, worlds
from brinebayes.network.belief import Belief, Question, Seen, believe
from tests.network.enumeration import count_worlds, enumerate_worlds
from tests.strategies import small_models, visits

#: Standard errors that a mean may be off; seeds are fixed, so this is decided once.
BOUND = 4.5

VISITS = [
    Question(),
    Question(complaints=("hard_water",), seen=(Seen(0, "level", (0.0, 1.0)),)),
    Question(
        complaints=("hard_water",),
        done=("clean_injector",),
        seen=(Seen(0, "suction_felt", (0.0, 1.0, 0.0)), Seen(1, "proof", (0.0, 1.0))),
    ),
    Question(
        done=("clean_injector", "clean_injector"),
        seen=(Seen(1, "proof", (0.0, 1.0)), Seen(2, "proof", (0.0, 1.0))),
    ),
]


@pytest.fixture(scope="module")
def small() -> Model:
    return read_model(Path(__file__).resolve().parents[1] / "models" / "small")


def off(p: float, exact: float, draws: float) -> float:
    """How many standard errors apart."""
    spread = np.sqrt(max(exact * (1.0 - exact), 0.0) / draws)
    return float(abs(p - exact) / max(spread, 1e-9))


class TestAgainstExactBeliefs:
    """Means over the rows."""

    @pytest.mark.parametrize("question", VISITS)
    @pytest.mark.parametrize("seed", [1, 2])
    def test_faults_works_and_outcomes(self, small: Model, question: Question, seed: int) -> None:
        belief = believe(small, question)
        assert isinstance(belief, Belief)
        table = belief.worlds(4_000, seed)
        draws = table.effective_draws
        assert draws > 400.0
        for fault, exact in belief.faults.items():
            assert off(float(table.weights @ table.has(fault)), exact, draws) < BOUND
        assert off(float(table.weights @ table.works), belief.works, draws) < BOUND
        none = ~table.first_faults.any(axis=1)
        assert off(float(table.weights @ none), belief.no_fault, draws) < BOUND
        answered = {(s.observation, s.epoch) for s in question.seen}
        for name, exact_outcomes in belief.outcomes.items():
            if (name, len(question.done)) in answered:
                continue
            found = table.weights @ table.observation_likelihoods(name)
            for p, exact in zip(found.tolist(), exact_outcomes.tolist(), strict=True):
                assert off(p, exact, draws) < BOUND

    @pytest.mark.parametrize("question", VISITS)
    def test_noise_of_the_links(self, small: Model, question: Question) -> None:
        """The noise of every link and leak has the mean that enumeration gives it, also where its
        cause does not hold or the chain was pruned."""
        belief = believe(small, question)
        table = belief.worlds(4_000, 5)
        world = enumerate_worlds(small, question.site, question.done)
        weights = world.given(question)
        weights /= weights.sum()
        # Merged draws share the noise of causes that do not hold: fewer are independent.
        draws = min(table.effective_draws, 1.0 / float(table.weights @ table.weights))
        for name, states in world.noise.items():
            for state in range(1, int(states.max()) + 1):
                exact = float(weights @ (states == state))
                found = float(table.weights @ (table.noise[name] == state))
                assert off(found, exact, draws) < BOUND

    @settings(max_examples=30, phases=[Phase.generate])
    @given(st.data())
    def test_random_models(self, data: st.DataObject) -> None:
        """Joint states that are possible, in numbers that fit: every row has a counterpart among
        all worlds, and the faults have their means."""
        model = data.draw(small_models())
        question = data.draw(visits(model))
        assume(count_worlds(model, question.done) <= 20_000)
        try:
            odds.base(model)
            belief = believe(model, question)
        except (ModelError, EvidenceConflict):
            assume(False)
        table = belief.worlds(1_500, 11)
        world = enumerate_worlds(model, question.site, question.done)
        weights = world.given(question)
        names = list(world.noise)

        def keys(
            site: dict[str, np.ndarray],
            first: np.ndarray,
            now: np.ndarray,
            noise: dict[str, np.ndarray],
        ) -> set[bytes]:
            columns = [*(site[n] for n in sorted(world.site)), *first.T, *now.T]
            columns += [noise[n] for n in names]
            return {row.tobytes() for row in np.array(columns, dtype=np.int8).T.copy()}

        # Noise of links that the network does not need is drawn too, from all its states.
        possible = weights > 0.0
        exact = keys(
            {n: at[possible] for n, at in world.site.items()},
            world.faults[0][possible],
            world.faults[-1][possible],
            {n: at[possible] for n, at in world.noise.items()},
        )
        site = {n: table.site[n] for n in world.site}
        assert keys(site, table.first_faults, table.faults, dict(table.noise)) <= exact
        for fault, p in belief.faults.items():
            found = float(table.weights @ table.has(fault))
            assert off(found, p, table.effective_draws) < 6.0


class TestRows:
    """What the rows are like."""

    @pytest.mark.parametrize("question", VISITS)
    def test_few_rows_come_close_to_the_exact_probability_of_every_fault(
        self, small: Model, question: Question
    ) -> None:
        """A sixth of the standard error that 300 independent draws of an even chance have."""
        belief = believe(small, question)
        assert isinstance(belief, Belief)
        table = belief.worlds(300, 8)
        assert table.weights.min() > 0.0
        for fault, exact in belief.faults.items():
            assert float(table.weights @ table.has(fault)) == pytest.approx(exact, abs=0.005)

    def test_the_same_seed_gives_the_same_rows(self, small: Model) -> None:
        belief = believe(small, VISITS[2])
        one, other = belief.worlds(300, 4), belief.worlds(300, 4)
        np.testing.assert_array_equal(one.faults, other.faults)
        np.testing.assert_array_equal(one.weights, other.weights)
        for name, states in one.noise.items():
            np.testing.assert_array_equal(states, other.noise[name])

    def test_every_possible_fault_has_rows(self, small: Model) -> None:
        """A fault of one in some thousand is among a few hundred rows, with its small weight."""
        seen = (Seen(0, "seals_worn", (1.0, 0.004)), Seen(0, "suction", (0.0, 1.0, 1.0)))
        belief = believe(small, Question(seen=seen))
        assert 1e-4 < belief.faults["seals_worn"] < 2e-3
        table = belief.worlds(200, 1)
        assert table.has("seals_worn").sum() >= 2
        assert float(table.weights @ table.has("seals_worn")) < 0.01

    def test_rows_are_merged(self, small: Model) -> None:
        table = believe(small, Question()).worlds(3_000, 1)
        assert len(table.weights) < 1_500
        assert table.effective_draws > len(table.weights)

    def test_history_is_asked_of_the_unit_as_it_was(self, small: Model) -> None:
        belief = believe(small, VISITS[2])
        table = belief.worlds(500, 2)
        found = table.observation_likelihoods("salt_use")
        expected = worlds.outcome_chances(
            small, "salt_use", table.site, table.first_faults, table.first_mechanisms
        )
        np.testing.assert_array_equal(found, np.broadcast_to(expected, found.shape))
        assert "salt_use" in graph.history(small)
