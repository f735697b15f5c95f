"""Conflict among findings: published values, and what is made of it on a visit."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from brinebayes.errors import EvidenceConflict
from brinebayes.knowledge.reading import read_model
from brinebayes.knowledge.schema import Model
from brinebayes.network import graph
from brinebayes.network.belief import Belief, Question, Seen, believe
from brinebayes.network.compile import compile_network
from brinebayes.network.contradiction import Contradiction, conflict, look
from brinebayes.network.evidence import ground
from tests.network.enumeration import enumerate_worlds
from tests.reference.asia import asia


@pytest.fixture(scope="module")
def small() -> Model:
    return read_model(Path(__file__).resolve().parents[1] / "models" / "small")


def hard(model: Model, epoch: int, name: str, outcome: str) -> Seen:
    """A plain sighting."""
    states = graph.states_of(model, name)
    return Seen(epoch, name, tuple(float(state == outcome) for state in states))


class TestConflict:
    """Asia (Lauritzen & Spiegelhalter 1988, tables from memory): values of REFERENCE_CHECKS 9,
    each recomputed once independently."""

    @pytest.mark.parametrize(
        ("evidence", "bits"),
        [
            ({"asia": "yes", "dysp": "yes"}, -0.04613),
            ({"asia": "yes", "dysp": "yes", "xray": "no"}, 0.14287),
            ({"smoke": "no", "xray": "yes", "dysp": "no"}, 0.68947),
        ],
    )
    def test_asia(self, evidence: dict[str, str], bits: float) -> None:
        network = asia()
        tree = compile_network(network)
        given = {
            name: np.array([float(s == state) for s in network.states(name)])
            for name, state in evidence.items()
        }
        assert conflict(tree, given) == pytest.approx(bits, abs=5e-6)

    def test_one_finding_is_in_conflict_with_nothing(self) -> None:
        tree = compile_network(asia())
        assert conflict(tree, {"xray": np.array([1.0, 0.0])}) == pytest.approx(0.0, abs=1e-12)


def told(model: Model, question: Question) -> Contradiction | None:
    """What is found among the findings of a question."""
    belief = believe(model, question)
    assert isinstance(belief, Belief)
    return look(belief)


class TestLook:
    """On a visit."""

    def test_below_what_matters_nothing_is_looked_for(self, small: Model) -> None:
        seen = (hard(small, 0, "suction_felt", "strong"), hard(small, 0, "level", "static"))
        belief = believe(small, Question(seen=seen))
        assert isinstance(belief, Belief)
        found = look(belief)
        assert found is not None
        assert look(belief, found.bits + 1e-6) is None
        assert look(belief, found.bits - 1e-6) == found

    def test_findings_of_one_cause_are_no_contradiction(self, small: Model) -> None:
        seen = (hard(small, 0, "suction_felt", "weak"), hard(small, 0, "level", "static"))
        assert told(small, Question(seen=seen)) is None

    def test_the_odd_one_out_is_named(self, small: Model) -> None:
        """Everything says that the injector is clogged; the level is said to fall all the same."""
        seen = (
            hard(small, 0, "suction_felt", "pushes"),
            hard(small, 0, "injector_seen", "dirty"),
            hard(small, 0, "level", "falls"),
            hard(small, 0, "outlet_hardness", "hard"),
        )
        found = told(small, Question({"supply": "town"}, ("hard_water",), (), seen))
        assert found is not None
        assert found.bits > 0.0
        assert found.suspects[0][0] == "level"
        assert found.suspects[0][1] < 0.0
        assert [bits for _, bits in found.suspects] == sorted(b for _, b in found.suspects)
        assert "hard_water" not in [name for name, _ in found.suspects]

    def test_bits_against_enumeration(self, small: Model) -> None:
        seen = (
            hard(small, 0, "suction_felt", "strong"),
            hard(small, 0, "injector_seen", "dirty"),
            hard(small, 1, "level", "static"),
            hard(small, 1, "proof", "failed"),
        )
        done = ("clean_injector",)
        world = enumerate_worlds(small, {}, done)
        calls = world.weights.sum()

        def chance(*some: Seen) -> float:
            return float(world.given(Question(done=done, seen=some)).sum() / calls)

        expected = np.log2(np.prod([chance(one) for one in seen]) / chance(*seen))
        found = told(small, Question(done=done, seen=seen))
        assert found is not None
        assert found.bits == pytest.approx(expected, abs=1e-9)
        left = {}
        for name in (one.observation for one in seen):
            rest = [one for one in seen if one.observation != name]
            left[name] = np.log2(np.prod([chance(one) for one in rest]) / chance(*rest))
        smaller = {name: bits for name, bits in left.items() if bits < expected}
        assert dict(found.suspects) == pytest.approx(smaller, abs=1e-9)
        assert 0 < len(smaller) < len(seen)

    def test_a_fault_that_explains_everything_is_offered(self, small: Model) -> None:
        """Strong suction at the valve and a level that stays are rare together, unless the line is
        blocked: then nothing is left to explain."""
        seen = (hard(small, 0, "suction_felt", "strong"), hard(small, 0, "level", "static"))
        found = told(small, Question(seen=seen))
        assert found is not None
        assert found.rare_fault == "brine_line_blocked"

    def test_nothing_seen_is_no_contradiction(self, small: Model) -> None:
        assert told(small, Question()) is None

    def test_what_is_impossible_is_said(self, small: Model) -> None:
        seen = (Seen(0, "draw", (1.0, 0.0)), Seen(0, "brine_line_blocked", (0.0, 1.0)))
        with pytest.raises(EvidenceConflict):
            told(small, Question(seen=seen))

    def test_probabilities_of_several_sets_at_once(self, small: Model) -> None:
        seen = (hard(small, 0, "suction_felt", "strong"), hard(small, 0, "level", "static"))
        known = ground(small, Question(seen=seen))
        world = enumerate_worlds(small, {})
        expected = [
            np.log(world.given(Question(seen=some)).sum() / world.weights.sum())
            for some in ((), seen[:1], seen)
        ]
        found = known.log_probabilities([(), known.findings[:1], known.findings])
        np.testing.assert_allclose(found, expected, atol=1e-9)
