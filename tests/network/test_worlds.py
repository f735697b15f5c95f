"""The deterministic functions over many rows, against hand-made cases and a plain loop."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import Phase, assume, given, settings
from hypothesis import strategies as st

from brinebayes.errors import ModelError, UsageError
from brinebayes.knowledge.reading import read_model
from brinebayes.knowledge.schema import Condition, Model
from brinebayes.network import graph, odds, worlds
from brinebayes.network.belief import Belief, Question, believe
from tests.network.enumeration import count_worlds, enumerate_worlds
from tests.strategies import small_models, visits


@pytest.fixture(scope="module")
def small() -> Model:
    return read_model(Path(__file__).resolve().parents[1] / "models" / "small")


def quiet(model: Model, **loud: int) -> dict[str, np.ndarray]:
    """Noise in which no link acts, but those named."""
    return {
        name: np.array([loud.get(name, 0)], dtype=np.int8) for name in worlds.noise_roots(model)
    }


def present(model: Model, *faults: str) -> np.ndarray:
    """One row in which these faults are present."""
    return np.array([[fault in faults for fault in model.faults]])


class TestEvaluate:
    """What the small model says, row by row, worked out by hand from its files."""

    def test_without_faults_and_noise_everything_is_at_its_best(self, small: Model) -> None:
        states = worlds.evaluate(small, {"supply": "town"}, present(small), quiet(small))
        assert {name: int(at.max()) for name, at in states.items()} == dict.fromkeys(
            small.mechanisms, 0
        )

    def test_a_fault_acts_as_far_as_its_link_takes_it(self, small: Model) -> None:
        noise = quiet(small, suction__n0=1)
        clogged = present(small, "injector_clogged")
        states = worlds.evaluate(small, {"supply": "town"}, clogged, noise)
        assert int(states["suction"][0]) == 1
        # suction is not high, so brine is poorly drawn; the link to softening does not act
        assert int(states["draw"][0]) == 1
        assert int(states["softening"][0]) == 0

    def test_a_cause_with_two_parents_needs_both(self, small: Model) -> None:
        noise = quiet(small, suction__n1=2)
        clogged = present(small, "injector_clogged")
        town = worlds.evaluate(small, {"supply": "town"}, clogged, noise)
        well = worlds.evaluate(small, {"supply": "well"}, clogged, noise)
        assert int(town["suction"].max()) == 0
        assert int(well["suction"].max()) == 2

    def test_the_worst_cause_decides(self, small: Model) -> None:
        noise = quiet(small, suction__n0=1, suction__leak=0, suction__n1=2)
        clogged = present(small, "injector_clogged")
        assert int(worlds.evaluate(small, {"supply": "well"}, clogged, noise)["suction"][0]) == 2

    def test_the_leak_needs_no_cause(self, small: Model) -> None:
        noise = quiet(small, suction__leak=1)
        states = worlds.evaluate(small, {"supply": "town"}, present(small), noise)
        assert int(states["suction"].max()) == 1

    def test_the_first_case_that_holds_decides(self, small: Model) -> None:
        blocked = present(small, "brine_line_blocked")
        states = worlds.evaluate(small, {"supply": "town"}, blocked, quiet(small))
        assert int(states["suction"].max()) == 0
        assert int(states["draw"].max()) == 1

    def test_an_unknown_site_condition_is_asked_for(self, small: Model) -> None:
        with pytest.raises(UsageError, match="supply"):
            worlds.evaluate(small, {}, present(small), quiet(small))

    @settings(max_examples=40, phases=[Phase.generate])
    @given(small_models(), st.data())
    def test_against_a_plain_loop(self, model: Model, data: st.DataObject) -> None:
        count = 5
        seed = data.draw(st.integers(0, 10_000))
        chance = np.random.default_rng(seed)
        faults = chance.random((count, len(model.faults))) < 0.5
        site = {
            name: chance.integers(0, len(condition.values), count).astype(np.int8)
            for name, condition in model.site.items()
        }
        noise = {
            name: chance.integers(0, len(chances), count).astype(np.int8)
            for name, chances in worlds.noise_roots(model).items()
        }
        found = worlds.evaluate(model, site, faults, noise)
        for row in range(count):
            known = {
                name: ("absent", "present")[int(faults[row, j])]
                for j, name in enumerate(model.faults)
            }
            known |= {
                name: list(condition.values)[site[name][row]]
                for name, condition in model.site.items()
            }
            for name, mechanism in model.mechanisms.items():  # in the order of the file here
                if mechanism.cases:
                    case = next(c for c in mechanism.cases if met(c.when, known))
                    at = mechanism.states.index(case.then)
                else:
                    brought = [0]
                    if mechanism.leak is not None:
                        brought.append(int(noise[f"{name}__leak"][row]))
                    brought += [
                        int(noise[f"{name}__n{j}"][row])
                        for j, cause in enumerate(mechanism.causes)
                        if met(cause.when, known)
                    ]
                    at = max(brought)
                known[name] = mechanism.states[at]
                assert int(np.broadcast_to(found[name], (count,))[row]) == at


def met(when: Condition, known: dict[str, str]) -> bool:
    """Whether a condition holds."""
    return all(
        known[name] == wanted if isinstance(wanted, str) else known[name] in wanted
        for name, wanted in when.items()
    )


class TestOutcomeChances:
    """P(outcome | row)."""

    def test_misreading_is_mixed_in_evenly(self, small: Model) -> None:
        """(1 - m) row + m / outcomes, from the file: .98 * .97 + .02 / 2 = .9606."""
        states = worlds.evaluate(small, {"supply": "town"}, present(small), quiet(small))
        found = worlds.outcome_chances(
            small, "outlet_hardness", {"supply": "town"}, present(small), states
        )
        np.testing.assert_allclose(found.reshape(-1), [0.9606, 0.0394], atol=1e-12)

    def test_the_proof_follows_whether_it_works(self, small: Model) -> None:
        for loud, passes in ((0, 0.97), (1, 0.04)):
            noise = quiet(small, softening__leak=loud)
            states = worlds.evaluate(small, {"supply": "town"}, present(small), noise)
            found = worlds.outcome_chances(small, "proof", {}, present(small), states)
            np.testing.assert_allclose(found.reshape(-1), [passes, 1 - passes], atol=1e-12)

    def test_unknown_observations_are_refused(self, small: Model) -> None:
        with pytest.raises(UsageError, match="nothing"):
            worlds.outcome_chances(small, "nothing", {}, present(small), {})


class TestWorlds:
    """Weighted rows: what a change would do, in all rows at once."""

    @settings(max_examples=25, phases=[Phase.generate])
    @given(st.data())
    def test_after_a_change_every_row_is_what_evaluate_says(self, data: st.DataObject) -> None:
        model = data.draw(small_models())
        question = data.draw(visits(model, most_repairs=1))
        assume(count_worlds(model, question.done) <= 20_000)
        try:
            odds.base(model)
        except ModelError:
            assume(False)
        world = enumerate_worlds(model, question.site, question.done)
        assume(world.given(question).sum() > 1e-9)
        belief = believe(model, question)
        assert isinstance(belief, Belief)
        table = belief.worlds(40, 3)
        names = tuple(model.faults)
        cleared = [(names[0],), (), tuple(names)]
        added = [(), (names[1],), ()]
        works_after = table.works_after(cleared, added)
        for k in range(3):
            faults = table.faults.copy()
            faults[:, [names.index(n) for n in cleared[k]]] = False
            faults[:, [names.index(n) for n in added[k]]] = True
            states = worlds.evaluate(model, table.site, faults, table.noise)
            expected = np.broadcast_to(worlds.works(model, states), works_after[k].shape)
            np.testing.assert_array_equal(works_after[k], expected)

    def test_rows_hold_together(self, small: Model) -> None:
        table = believe(small, Question(done=("clean_injector",))).worlds(100, 1)
        assert table.weights.sum() == pytest.approx(1.0, abs=1e-12)
        states = worlds.evaluate(small, table.site, table.faults, table.noise)
        for name, at in states.items():
            np.testing.assert_array_equal(at, table.mechanisms[name])
        for name in graph.observations(small):
            found = table.observation_likelihoods(name)
            np.testing.assert_allclose(found.sum(axis=1), 1.0, atol=1e-12)
        assert table.has("injector_clogged").sum() > 0

    def test_only_some_rows(self, small: Model) -> None:
        table = believe(small, Question()).worlds(100, 1)
        rows = np.array([0, 2])
        part = table.only(rows, np.array([0.5, 0.5]), 2.0)
        np.testing.assert_array_equal(part.faults, table.faults[rows])
        np.testing.assert_array_equal(part.works, table.works[rows])


class TestEverySource:
    """Noise by name."""

    def test_every_link_and_leak_has_a_source(self, small: Model) -> None:
        roots = worlds.noise_roots(small)
        expected = set()
        for name, mechanism in small.mechanisms.items():
            expected |= {f"{name}__n{j}" for j in range(len(mechanism.causes))}
            expected |= {f"{name}__leak"} if mechanism.leak else set()
        assert set(roots) == expected
        assert all(chances.sum() == pytest.approx(1.0) for chances in roots.values())
