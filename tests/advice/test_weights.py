"""Weights of evidence: they add up, and each is what the likelihoods say."""

from __future__ import annotations

from math import log10

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from brinebayes.advice.weights import decibans, evidence, weigh
from brinebayes.knowledge.schema import CheckedModel
from brinebayes.network.belief import Question, Seen, believe
from brinebayes.network.compile import compile_network
from brinebayes.network.propagate import calibrate
from brinebayes.visit.events import Complained, Done, Saw
from brinebayes.visit.state import fold
from tests.reference import asia

ASKED = ("level", "outlet_hardness", "injector_seen")


def seen(checked: CheckedModel, name: str, outcome: str) -> Seen:
    outcomes = list(checked.model.observation(name).outcomes)
    assert outcome in outcomes
    return Seen(0, name, tuple(float(one == outcome) for one in outcomes))


class TestDecibans:
    """Odds on a logarithmic scale."""

    def test_even_odds_are_nothing_and_ten_to_one_is_ten(self) -> None:
        assert decibans(0.5) == 0.0
        assert decibans(10 / 11) == pytest.approx(10.0)

    @pytest.mark.parametrize(
        ("name", "expected"), [("lung", 12.155), ("tub", 9.863), ("either", 12.923)]
    )
    def test_the_chest_clinic(self, name: str, expected: float) -> None:
        """Lauritzen & Spiegelhalter 1988: what a positive X-ray does (Good's weight of evidence;
        factors on the odds 16.4231, 9.6886 and 19.6, recomputed independently)."""
        tree = compile_network(asia.asia())
        before = float(calibrate(tree, {}).marginal(name)[..., 1].item())
        after = float(calibrate(tree, {"xray": [0.0, 1.0]}).marginal(name)[..., 1].item())
        assert decibans(after) - decibans(before) == pytest.approx(expected, abs=5e-4)


class TestWeigh:
    """Weights in the order of events."""

    @settings(deadline=None, max_examples=12)
    @given(st.permutations(ASKED), st.tuples(*(st.integers(0, 1) for _ in ASKED)))
    def test_they_add_up_in_every_order(
        self, checked: CheckedModel, order: list[str], outcomes: tuple[int, ...]
    ) -> None:
        picked = dict(zip(ASKED, outcomes, strict=True))
        named = {n: list(checked.model.observation(n).outcomes)[picked[n]] for n in ASKED}
        told = tuple(seen(checked, name, named[name]) for name in order)
        faults = tuple(checked.model.faults)
        question = Question({}, ("hard_water",), (), told)
        found = weigh(checked.model, question, faults)
        exact = believe(checked.model, question).faults
        for j, fault in enumerate(faults):
            total = sum(one.decibans[j] for one in found.weights)
            assert found.before[j] + total == pytest.approx(decibans(exact[fault]), abs=1e-9)
            assert found.now[j] == pytest.approx(decibans(exact[fault]), abs=1e-9)

    def test_each_is_the_ratio_of_the_likelihoods(self, checked: CheckedModel) -> None:
        """P(outcome | fault) over P(outcome | not), both from the belief before the answer."""
        before = Question({}, ("hard_water",), (), (seen(checked, "level", "static"),))
        after = Question(
            {}, ("hard_water",), (), (*before.seen, seen(checked, "injector_seen", "dirty"))
        )
        faults = tuple(checked.model.faults)
        last = weigh(checked.model, after, faults).weights[-1]
        belief = believe(checked.model, before)
        place = list(checked.model.observation("injector_seen").outcomes).index("dirty")
        chance, joint = (
            belief.outcomes["injector_seen"][place],
            belief.joint["injector_seen"][place],
        )
        for j, fault in enumerate(faults):
            p = belief.faults[fault]
            ratio = (joint[j] / p) / ((chance - joint[j]) / (1.0 - p))
            assert last.decibans[j] == pytest.approx(10.0 * log10(ratio), abs=1e-9)


class TestEvidence:
    """The leading faults of a visit."""

    def test_what_was_done_counts_too(self, checked: CheckedModel) -> None:
        events = [Complained("hard_water"), Saw("level", "static"), Done("clean_injector")]
        found = evidence(checked, fold(checked.model, events))
        assert [one.what for one in found.weights] == ["hard_water", "level", "clean_injector"]
        assert len(found.faults) == 3
