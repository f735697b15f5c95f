"""One visit: what is counted, and what the unit is asked."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import pytest

from brinebayes.advice import policies
from brinebayes.advice.acts import Act
from brinebayes.advice.situation import situation
from brinebayes.checking.ready import ready
from brinebayes.knowledge.schema import CheckedModel
from brinebayes.simulation.visits import MOST_ACTS, always, serve
from brinebayes.visit.state import VisitState

SMALL = Path(__file__).resolve().parent.parent / "models" / "small"


@pytest.fixture(scope="module")
def small() -> CheckedModel:
    return ready(SMALL)


class Bench:
    """A unit on the bench: a clogged injector, answers as they should be, luck that holds."""

    site: Mapping[str, str] = {}
    complaints = ("hard_water",)

    def __init__(self, faults: frozenset[str]) -> None:
        self.faults = faults

    @property
    def works(self) -> bool:
        return not self.faults

    def copy(self) -> Bench:
        return Bench(self.faults)

    def works_with(self, faults: frozenset[str]) -> bool:
        return not faults

    def observe(self, check: str) -> dict[str, str]:
        weak = "injector_clogged" in self.faults
        return {
            "ask_salt": {"salt_use": "stopped" if self.faults else "usual"},
            "hardness_test": {"outlet_hardness": "hard" if self.faults else "soft"},
            "draw_test": {
                "suction_felt": "weak" if weak else "strong",
                "level": "static" if weak else "falls",
            },
            "open_injector": {"injector_seen": "dirty" if weak else "clear"},
        }[check]

    def repair(self, repair: str) -> None:
        if repair == "clean_injector":
            self.faults -= {"injector_clogged"}

    def prove(self) -> str:
        return "passed" if self.works else "failed"


def acts_in_turn(*ids: str) -> policies.Policy:
    """Acts in a fixed order, whatever is found; priced as the product prices them."""
    left = list(ids)

    def policy(checked: CheckedModel, state: VisitState) -> Act:
        wanted = left.pop(0)
        return next(act for act in situation(checked, state).acts if act.id == wanted)

    return policy


class TestServe:
    """From door to door."""

    def test_counts_what_was_done(self, small: CheckedModel) -> None:
        turn = acts_in_turn("hardness_test", "clean_injector", "proof", "finish")
        unit = Bench(frozenset({"injector_clogged"}))
        served = serve(small, unit, 7, always("turn", turn), (), {})
        assert served.acts == ("hardness_test", "clean_injector", "proof", "finish")
        assert (served.checks, served.repairs, served.needless) == (1, 1, 0)
        assert served.works
        assert not served.called_back
        money = small.model.about.money
        minutes = served.minutes * money.attention_per_minute.value
        assert served.cost == pytest.approx(
            minutes + served.waiting * money.waiting_per_minute.value
        )

    def test_a_unit_left_broken_costs_a_second_visit(self, small: CheckedModel) -> None:
        sound = serve(small, Bench(frozenset()), 1, always("go", acts_in_turn("finish")), (), {})
        broken = serve(
            small, Bench(frozenset({"x"})), 1, always("go", acts_in_turn("finish")), (), {}
        )
        assert broken.called_back
        assert not sound.called_back
        assert broken.cost - sound.cost == small.model.about.money.second_visit.value

    def test_a_repair_of_what_is_sound_is_needless(self, small: CheckedModel) -> None:
        turn = acts_in_turn("clear_brine_line", "escalate")
        served = serve(small, Bench(frozenset({"seals_worn"})), 1, always("turn", turn), (), {})
        assert served.needless == 1
        assert served.end == "escalate"
        assert not served.called_back

    def test_brine_spent_is_refilled_and_charged_once(self, small: CheckedModel) -> None:
        """The second draw test waits for the salt; a third act does not wait again."""
        turn = acts_in_turn("draw_test", "clean_injector", "draw_test", "proof", "finish")
        unit = Bench(frozenset({"injector_clogged"}))
        served = serve(small, unit, 1, always("turn", turn), (), {})
        brine = small.model.about.brine
        assert brine is not None
        assert served.waiting >= brine.saturation_minutes.value
        assert served.waiting < 2 * brine.saturation_minutes.value

    def test_what_was_chosen_before_is_remembered(self, small: CheckedModel) -> None:
        asked: list[int] = []

        def policy(checked: CheckedModel, state: VisitState) -> Act:
            asked.append(1)
            return policies.flow_chart(checked, state)

        remembered: dict[object, Act] = {}
        first, second = (
            serve(small, Bench(frozenset()), visit, always("chart", policy), (), remembered)
            for visit in (1, 2)
        )
        assert first.acts == second.acts
        assert len(asked) == len(first.acts)

    def test_a_policy_that_never_ends_passes_the_case_on(self, small: CheckedModel) -> None:
        def policy(checked: CheckedModel, state: VisitState) -> Act:
            acts = {act.id: act for act in situation(checked, VisitState()).acts}
            return acts["ask_salt"]

        served = serve(small, Bench(frozenset()), 1, always("stuck", policy), (), {})
        assert served.end == "escalate"
        assert len(served.acts) == MOST_ACTS + 1
