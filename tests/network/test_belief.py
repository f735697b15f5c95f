"""Beliefs of a visit against enumeration of every world."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import Phase, assume, given, settings
from hypothesis import strategies as st

from brinebayes.errors import EvidenceConflict, ModelError
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
    """The network, the trees and the two differences give what counting every world gives."""

    @settings(max_examples=150, phases=[Phase.generate])
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
