"""What is open, and what rules hold back."""

from __future__ import annotations

import pytest

from brinebayes.advice.acts import held_later
from brinebayes.advice.problem import problem
from brinebayes.advice.situation import situation
from brinebayes.checking.ready import ready
from brinebayes.knowledge.schema import CheckedModel
from brinebayes.knowledge.shipped import model_folder
from brinebayes.visit.events import Complained, Done, Event, Saw
from brinebayes.visit.state import VisitState, fold

TESTS = {"test_hardness", "test_hardness_points", "test_complained_tap", "test_salt"}


@pytest.fixture(scope="module")
def shipped() -> CheckedModel:
    return ready(model_folder("softener"))


def state(checked: CheckedModel, *events: Event) -> VisitState:
    return fold(checked.model, [Complained("hard_water"), *events])


class TestOpenActs:
    """A bed is as spent after a repair as before it, until it has regenerated (common practice)."""

    @pytest.mark.parametrize(
        ("events", "tested"),
        [
            ((), True),
            ((Done("clean_injector"),), False),
            ((Done("clean_injector"), Saw("proof", "failed")), True),
            ((Done("set_bypass"),), True),
            ((Done("clean_injector"), Saw("proof", "failed"), Done("add_salt")), False),
        ],
    )
    def test_hardness_waits_for_the_short_cycle(
        self, shipped: CheckedModel, events: tuple[Event, ...], tested: bool
    ) -> None:
        found = {act.id for act in situation(shipped, state(shipped, *events)).acts}
        assert (found >= TESTS) is tested


class TestHeldLater:
    """What a repair will hold back is known before it is made."""

    def test_names_the_repairs(self, shipped: CheckedModel) -> None:
        held = held_later(shipped.model, state(shipped))
        assert {one.act for one in held} == TESTS
        assert all("add_salt" in one.after for one in held)
        assert all("set_bypass" not in one.after for one in held)

    def test_a_search_sees_it_coming(self, shipped: CheckedModel) -> None:
        """Nothing is held now; after the repair the test waits for the proof, and for no check."""
        seen = problem(situation(shipped, state(shipped)), 500)
        test = seen.checks.index("test_hardness")
        mends, other = seen.repairs.index("add_salt"), seen.repairs.index("set_bypass")
        assert test not in seen.holds(frozenset())[0]
        assert test not in seen.holds(frozenset({other}))[0]
        assert seen.holds(frozenset({mends}))[0][test] == seen.proven
        assert seen.holds(frozenset({mends, other}))[0][test] == seen.proven
