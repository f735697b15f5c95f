"""The search against exact dynamic programming, and that it depends on nothing but its input."""

from __future__ import annotations

import threading

import pytest

from brinebayes.advice.advise import advise
from brinebayes.advice.effort import USUAL, Effort
from brinebayes.knowledge.schema import CheckedModel
from brinebayes.visit.events import Complained, Event, SetupIs
from brinebayes.visit.state import VisitState, fold
from tests.decisions import families
from tests.decisions.optimum import Optimum
from tests.decisions.problem import problem

FAR = Effort(rows=600, beam=8, depth=10, expansions=60)


def at_first(family: str, seed: int) -> tuple[CheckedModel, VisitState]:
    """A small model and the beginning of a visit whose setup is known."""
    model = families.model(family, seed)
    found = model.setups.variables["at"].found
    return CheckedModel(model, ()), fold(model, [SetupIs("at", found)])


class TestSearch:
    """Bounds that hold, a choice that is right, an effort that is kept to."""

    @pytest.mark.parametrize("family", families.FAMILIES)
    def test_the_exact_cost_of_every_act_lies_between_its_bounds(self, family: str) -> None:
        checked, state = at_first(family, 1)
        optimum = Optimum(problem(checked.model))
        optimum.improve(optimum.root, 0.05, 1_500)
        ranked = advise(checked, state, FAR).choice.ranked
        best = ranked[0]
        assert min(v.lower for v in ranked) <= optimum.root.high + 0.05
        assert min(v.upper for v in ranked) >= optimum.root.low - 0.05
        assert best.lower <= best.expected_cost <= best.upper

    @pytest.mark.parametrize("family", ["near_ties", "rare", "pairs"])
    def test_more_effort_brings_the_bounds_closer(self, family: str) -> None:
        checked, state = at_first(family, 0)
        little = advise(checked, state, Effort(600, 8, 2, 1)).choice
        much = advise(checked, state, FAR).choice
        gaps = [
            min(v.upper for v in choice.ranked) - min(v.lower for v in choice.ranked)
            for choice in (little, much)
        ]
        assert gaps[1] < gaps[0]
        assert little.expansions < much.expansions

    def test_one_act_deep_is_one_expansion(self, checked: CheckedModel) -> None:
        state = fold(checked.model, [Complained("hard_water")])
        assert advise(checked, state, Effort(600, 6, 1, 100)).choice.expansions == 1

    def test_the_same_act_while_the_machine_is_busy(self, checked: CheckedModel) -> None:
        """The budget is counted in beliefs, so load changes nothing."""
        events: list[Event] = [Complained("hard_water")]
        state = fold(checked.model, events)
        quiet = advise(checked, state, USUAL).choice
        stop = threading.Event()

        def burn() -> None:
            while not stop.is_set():
                sum(i * i for i in range(1_000))

        burners = [threading.Thread(target=burn, daemon=True) for _ in range(3)]
        for one in burners:
            one.start()
        try:
            busy = advise(checked, state, USUAL).choice
        finally:
            stop.set()
            for one in burners:
                one.join()
        assert [(v.act.id, v.expected_cost) for v in busy.ranked] == [
            (v.act.id, v.expected_cost) for v in quiet.ranked
        ]
