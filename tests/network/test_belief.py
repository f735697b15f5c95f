"""Beliefs of a visit against enumeration of every world."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import Phase, assume, given, settings
from hypothesis import strategies as st

from brinebayes.errors import EvidenceConflict, ModelError, UsageError
from brinebayes.knowledge.reading import read_model
from brinebayes.knowledge.schema import Model
from brinebayes.network import graph, odds
from brinebayes.network.belief import Belief, Question, Seen, believe
from tests.network.enumeration import count_worlds, enumerate_worlds
from tests.strategies import small_models, visits

SMALL = Path(__file__).resolve().parents[1] / "models" / "small"


@pytest.fixture(scope="module")
def small() -> Model:
    return read_model(SMALL)


def hard(model: Model, epoch: int, name: str, outcome: str) -> Seen:
    """A plain sighting."""
    states = graph.states_of(model, name)
    assert outcome in states
    return Seen(epoch, name, tuple(float(state == outcome) for state in states))


def agrees(model: Model, question: Question) -> Belief | None:
    """Hold a belief against enumeration; None when the evidence is impossible in both."""
    world = enumerate_worlds(model, question.site, question.done)
    weights = world.given(question)
    total = weights.sum()
    calls = world.weights.sum()
    if total <= 1e-13 * calls:
        assume(total == 0.0)  # what is merely absurd is left to the tests of the engine
        with pytest.raises(EvidenceConflict):
            believe(model, question)
        return None
    belief = believe(model, question)
    assert isinstance(belief, Belief)
    assert belief.log_evidence == pytest.approx(np.log(total / calls), abs=1e-9)
    now = world.faults[-1]
    expected = weights @ now / total
    assert list(belief.faults) == list(model.faults)
    np.testing.assert_allclose(list(belief.faults.values()), expected, atol=1e-9)
    assert belief.works == pytest.approx(weights @ world.works() / total, abs=1e-9)
    none = weights @ ~world.faults[0].any(axis=1) / total
    assert belief.no_fault == pytest.approx(none, abs=1e-9)
    last = len(question.done)
    answered = {(s.observation, world.copy_of(s.observation, s.epoch)) for s in question.seen}
    for name in (*graph.observations(model), graph.PROOF):
        if (name, world.copy_of(name, last)) in answered:
            continue  # see TestRepeats
        joint = (world.chances(name, last) * weights[:, None]) / total
        np.testing.assert_allclose(belief.outcomes[name], joint.sum(axis=0), atol=1e-9)
        np.testing.assert_allclose(belief.joint[name], joint.T @ now, atol=1e-9)
    return belief


class TestAgainstEnumeration:
    """Trees, differences and sums give what counting every world gives."""

    @settings(max_examples=120, phases=[Phase.generate])
    @given(st.data())
    def test_random_models_and_visits(self, data: st.DataObject) -> None:
        model = data.draw(small_models())
        question = data.draw(visits(model))
        assume(count_worlds(model, question.done) <= 40_000)
        try:
            odds.base(model)
        except ModelError:
            assume(False)
        agrees(model, question)

    @pytest.mark.parametrize(
        "done",
        [
            (),
            ("clean_injector",),
            ("clean_injector", "clean_injector"),
            ("replace_seals", "clean_injector"),
            ("clear_brine_line", "replace_seals", "clear_brine_line"),
        ],
    )
    @pytest.mark.parametrize("site", [{}, {"supply": "well"}, {"valve": "disc"}])
    def test_the_small_model_through_its_repairs(
        self, small: Model, done: tuple[str, ...], site: dict[str, str]
    ) -> None:
        seen = [hard(small, 0, "salt_use", "stopped"), hard(small, 0, "level", "static")]
        for epoch in range(1, len(done) + 1):
            seen.append(hard(small, epoch, "proof", "failed"))
            seen.append(hard(small, epoch, "suction_felt", "weak"))
        question = Question(site, ("hard_water",), done, tuple(seen))
        assert agrees(small, question) is not None

    def test_without_any_evidence_the_shares_come_back(self, small: Model) -> None:
        belief = believe(small, Question())
        for fault_id, fault in small.faults.items():
            assert belief.faults[fault_id] == pytest.approx(fault.share.value, abs=1e-12)
        assert belief.no_fault == pytest.approx(small.about.calls_without_fault.value, abs=1e-12)
        assert belief.log_evidence == pytest.approx(0.0, abs=1e-12)
        assert belief.effective_draws == np.inf

    def test_a_reading_is_virtual_evidence_on_a_mechanism(self, small: Model) -> None:
        """The scale of a likelihood does not matter to the faults."""
        once = believe(small, Question(seen=(Seen(0, "suction", (0.1, 0.6, 0.3)),)))
        scaled = believe(small, Question(seen=(Seen(0, "suction", (1.0, 6.0, 3.0)),)))
        for fault, p in once.faults.items():
            assert scaled.faults[fault] == pytest.approx(p, abs=1e-12)
        assert agrees(small, Question(seen=(Seen(0, "suction", (0.1, 0.6, 0.3)),))) is not None

    def test_what_is_said_not_to_be_is_evidence_too(self, small: Model) -> None:
        denied = Question(seen=(hard(small, 0, "hard_water", "not_said"),))
        belief = agrees(small, denied)
        assert belief is not None
        assert belief.faults["injector_clogged"] < small.faults["injector_clogged"].share.value


class TestTime:
    """What a repair changes and what it leaves alone."""

    def test_an_unrelated_repair_changes_nothing_else(self, small: Model) -> None:
        """Seals do not bear on suction; clearing the brine line leaves everything about the
        injector as it was, with the same noise."""
        seen = (hard(small, 0, "suction_felt", "pushes"), hard(small, 0, "level", "static"))
        before = believe(small, Question(seen=seen))
        after = believe(small, Question(done=("clear_brine_line",), seen=seen))
        for fault in small.faults:
            if fault != "brine_line_blocked":
                assert after.faults[fault] == pytest.approx(before.faults[fault], abs=1e-12)
        np.testing.assert_allclose(
            after.joint["suction_felt"][:, 2], before.joint["suction_felt"][:, 2], atol=1e-12
        )

    def test_works_is_unchanged_by_a_repair_of_nothing(self, small: Model) -> None:
        """The brine line is known to be free, so clearing it neither helps nor hurts."""
        free = (Seen(0, "brine_line_blocked", (1.0, 0.0)), hard(small, 0, "level", "static"))
        before = believe(small, Question(seen=free))
        after = believe(small, Question(done=("clear_brine_line",), seen=free))
        assert after.works == pytest.approx(before.works, abs=1e-12)

    def test_a_second_try_with_the_same_luck_brings_nothing(self, small: Model) -> None:
        """`clean_injector` shares its luck: what failed once fails again. Harm aside (none is
        done to the injector), the chance that it is still clogged does not move."""
        clogged = (Seen(0, "injector_clogged", (0.0, 1.0)),)
        once = believe(small, Question(done=("clean_injector",), seen=clogged))
        twice = believe(small, Question(done=("clean_injector",) * 2, seen=clogged))
        assert once.faults["injector_clogged"] == pytest.approx(1.0 - 0.92, abs=1e-12)
        assert twice.faults["injector_clogged"] == pytest.approx(1.0 - 0.92, abs=1e-12)

    def test_a_second_try_with_fresh_luck_multiplies(self, small: Model) -> None:
        """`clear_brine_line` succeeds with .9 each time: .1 * .1 is left."""
        blocked = (Seen(0, "brine_line_blocked", (0.0, 1.0)),)
        done = ("clear_brine_line",) * 2
        twice = believe(small, Question(done=done, seen=blocked))
        assert twice.faults["brine_line_blocked"] == pytest.approx(0.01, abs=1e-12)

    def test_harm_brings_a_fault_about(self, small: Model) -> None:
        """Seals known to be sound are worn after cleaning the injector with the stated .02."""
        sound = (Seen(0, "seals_worn", (1.0, 0.0)),)
        after = believe(small, Question(done=("clean_injector",), seen=sound))
        assert after.faults["seals_worn"] == pytest.approx(0.02, abs=1e-12)

    def test_history_speaks_of_the_time_before_the_repair(self, small: Model) -> None:
        """Asked after the repair or before it: the weeks before the visit are the same weeks."""
        before = (hard(small, 0, "salt_use", "stopped"),)
        after = (hard(small, 1, "salt_use", "stopped"),)
        first = believe(small, Question(done=("clean_injector",), seen=before))
        second = believe(small, Question(done=("clean_injector",), seen=after))
        assert dict(first.faults) == dict(second.faults)
        assert first.log_evidence == second.log_evidence


class TestRepeats:
    """A repeat about the same state of the unit shares its misreading."""

    def test_the_same_answer_again_adds_nothing(self, small: Model) -> None:
        one = hard(small, 0, "level", "static")
        once, twice = (believe(small, Question(seen=seen)) for seen in ((one,), (one, one)))
        assert dict(once.faults) == dict(twice.faults)
        assert once.log_evidence == twice.log_evidence

    def test_a_later_answer_replaces_the_earlier_one(self, small: Model) -> None:
        first, second = (hard(small, 0, "level", outcome) for outcome in ("static", "falls"))
        corrected = believe(small, Question(seen=(first, second)))
        assert dict(corrected.faults) == dict(believe(small, Question(seen=(second,))).faults)

    def test_after_an_unrelated_repair_it_is_still_the_same_question(self, small: Model) -> None:
        """The look into the injector is not touched by work on the brine line."""
        first = hard(small, 0, "injector_seen", "dirty")
        again = hard(small, 1, "injector_seen", "dirty")
        done = ("clear_brine_line",)
        once, twice = (
            believe(small, Question(done=done, seen=seen)) for seen in ((first,), (first, again))
        )
        assert dict(once.faults) == dict(twice.faults)

    def test_what_was_answered_is_expected_again(self, small: Model) -> None:
        belief = believe(small, Question(seen=(hard(small, 0, "level", "static"),)))
        assert belief.outcomes["level"].tolist() == [0.0, 1.0]
        np.testing.assert_allclose(belief.joint["level"][1], list(belief.faults.values()))

    def test_a_doubtful_answer_is_expected_as_far_as_it_is_believed(self, small: Model) -> None:
        """With likelihood (1, 3): P(outcome) is in proportion to likelihood times the chance
        without the answer, and so is the joint with each fault."""
        without = believe(small, Question())
        doubtful = believe(small, Question(seen=(Seen(0, "level", (1.0, 3.0)),)))
        weighed = without.outcomes["level"] * [1.0, 3.0]
        np.testing.assert_allclose(doubtful.outcomes["level"], weighed / weighed.sum(), atol=1e-12)
        joint = without.joint["level"] * np.array([[1.0], [3.0]]) / weighed.sum()
        np.testing.assert_allclose(doubtful.joint["level"], joint, atol=1e-12)

    def test_after_a_related_repair_it_is_a_new_question(self, small: Model) -> None:
        first, again = (hard(small, epoch, "level", "static") for epoch in (0, 1))
        done = ("clear_brine_line",)
        once, twice = (
            believe(small, Question(done=done, seen=seen)) for seen in ((first,), (first, again))
        )
        assert once.faults["brine_line_blocked"] < twice.faults["brine_line_blocked"]


class TestLaws:
    """What must hold whatever the model."""

    @settings(max_examples=40, phases=[Phase.generate])
    @given(st.data())
    def test_the_order_of_evidence_does_not_matter(self, data: st.DataObject) -> None:
        model = data.draw(small_models(zeros=False))
        question = data.draw(visits(model, most_repairs=1))
        try:
            odds.base(model)
        except ModelError:
            assume(False)
        keys = [(seen.epoch, seen.observation) for seen in question.seen]
        assume(len({name for _, name in keys}) == len(keys))
        shuffled = data.draw(st.permutations(question.seen))
        try:
            one = believe(model, question)
        except EvidenceConflict:
            assume(False)
        other = believe(model, replace(question, seen=tuple(shuffled)))
        np.testing.assert_allclose(
            list(one.faults.values()), list(other.faults.values()), atol=1e-12
        )
        assert one.works == pytest.approx(other.works, abs=1e-12)

    @settings(max_examples=40, phases=[Phase.generate])
    @given(st.data())
    def test_outcomes_and_joints_add_up(self, data: st.DataObject) -> None:
        model = data.draw(small_models(zeros=False))
        question = data.draw(visits(model, most_repairs=1))
        try:
            odds.base(model)
            belief = believe(model, question)
        except (ModelError, EvidenceConflict):
            assume(False)
        for name, outcomes in belief.outcomes.items():
            assert outcomes.sum() == pytest.approx(1.0, abs=1e-9)
            np.testing.assert_allclose(
                belief.joint[name].sum(axis=0), list(belief.faults.values()), atol=1e-9
            )


class TestRefusals:
    """What the model does not have, and what cannot be."""

    @pytest.mark.parametrize(
        ("question", "says"),
        [
            (Question(site={"supply": "sea"}), "value of supply"),
            (Question(complaints=("cold",)), "complaint"),
            (Question(done=("dance",)), "repair"),
            (Question(seen=(Seen(0, "levle", (1.0, 0.0)),)), "did you mean level"),
            (Question(seen=(Seen(1, "level", (1.0, 0.0)),)), "epoch 1, but 0 repairs"),
            (Question(seen=(Seen(0, "level", (1.0, 0.0, 0.0)),)), "3 likelihoods for 2"),
            (Question(seen=(Seen(0, "level", (1.0, -1.0)),)), "negative"),
            (Question(seen=(Seen(0, "level", (1.0, float("nan"))),)), "not a number"),
        ],
    )
    def test_refused_with_its_reason(self, small: Model, question: Question, says: str) -> None:
        with pytest.raises(UsageError, match=says):
            believe(small, question)

    def test_impossible_evidence_names_what_cannot_hold_together(self, small: Model) -> None:
        """Suction known to be high and drawing known to be good rule out a blocked line; the look
        at the salt has nothing to do with it."""
        seen = (
            hard(small, 0, "salt_use", "stopped"),
            Seen(0, "draw", (1.0, 0.0)),
            Seen(0, "brine_line_blocked", (0.0, 1.0)),
            hard(small, 0, "level", "static"),
        )
        with pytest.raises(EvidenceConflict) as caught:
            believe(small, Question(seen=seen))
        assert set(caught.value.between) == {"draw", "brine_line_blocked"}
        assert "draw" in str(caught.value)

    def test_sixty_observations_do_not_underflow(self, small: Model) -> None:
        """The same four looks at likelihoods of 1e-300: only ratios count."""
        tiny = tuple(
            Seen(0, name, (1e-300, 3e-300))
            for name in ("level", "outlet_hardness", "injector_seen", "salt_use")
        )
        plain = tuple(replace(seen, likelihood=(1.0, 3.0)) for seen in tiny)
        small_numbers, usual = (believe(small, Question(seen=seen)) for seen in (tiny, plain))
        for fault, p in usual.faults.items():
            assert small_numbers.faults[fault] == pytest.approx(p, abs=1e-9)


class TestImports:
    """The way to `next` stays light."""

    def test_heavy_modules_are_not_imported(self) -> None:
        heavy = ("pydantic", "yaml", "ruamel", "scipy", "networkx", "pgmpy", "pandas")
        program = (
            "import sys, brinebayes.network.belief, brinebayes.network.contradiction;"
            f"print([m for m in {heavy!r} if m in sys.modules])"
        )
        found = subprocess.run(
            [sys.executable, "-c", program], capture_output=True, text=True, check=True
        )
        assert found.stdout.strip() == "[]"
