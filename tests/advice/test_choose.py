"""What acts are worth: information, repairs and the choice between them."""

from __future__ import annotations

import numpy as np
import pytest

from brinebayes.advice.advise import advise
from brinebayes.advice.standing import standing
from brinebayes.checking.ready import ready
from brinebayes.knowledge.schema import CheckedModel
from brinebayes.knowledge.shipped import model_folder
from brinebayes.setups.routes import tabulate
from brinebayes.visit.events import Complained, Done, Event, Saw, SetupIs
from brinebayes.visit.state import VisitState, fold

HISTORIES: list[list[Event]] = [
    [],
    [Complained("hard_water")],
    [Complained("hard_water"), Saw("outlet_hardness", "hard"), Saw("level", "static")],
    [Saw("injector_seen", "dirty")],
    [Saw("level", "static"), Done("clear_brine_line"), Saw("level", "static")],
    [Saw("level", "static"), Done("clean_injector"), Saw("proof", "failed")],
]


def state_of(checked: CheckedModel, events: list[Event]) -> VisitState:
    """The state after some events."""
    return fold(checked.model, events)


class TestChoose:
    """The ranking of all open acts."""

    @pytest.mark.parametrize("events", HISTORIES)
    def test_the_best_comes_first_and_every_act_has_a_finite_price(
        self, checked: CheckedModel, events: list[Event]
    ) -> None:
        ranked = advise(checked, state_of(checked, events)).choice.ranked
        costs = [round(item.expected_cost, 2) for item in ranked]
        assert costs == sorted(costs)
        assert all(np.isfinite(costs))
        assert all(item.expected_cost >= item.act.cost - 1e-9 for item in ranked)

    @pytest.mark.parametrize("events", HISTORIES)
    def test_no_act_costs_more_than_its_bounds_say(
        self, checked: CheckedModel, events: list[Event]
    ) -> None:
        ranked = advise(checked, state_of(checked, events)).choice.ranked
        assert all(v.lower - 1e-9 <= v.expected_cost <= v.upper + 1e-9 for v in ranked)
        best, finish = ranked[0], next(v for v in ranked if v.act.kind == "finish")
        assert best.expected_cost <= finish.expected_cost + 0.01

    def test_a_fault_that_was_seen_is_repaired(self, checked: CheckedModel) -> None:
        events: list[Event] = [
            Complained("hard_water"),
            Saw("outlet_hardness", "hard"),
            Saw("level", "static"),
            Saw("injector_seen", "dirty"),
        ]
        best = advise(checked, state_of(checked, events)).next
        assert (best.act.kind, best.act.id) == ("repair", "clean_injector")

    def test_no_check_that_tells_nothing_puts_a_repair_off(self) -> None:
        """A long drain line is the likeliest by far, and much that is left to look at says nothing.

        Hope for what may follow must not make up for that: such a check is worth the plan after it.
        """
        shipped = ready(model_folder("softener"))
        seen = {
            "hardness_pattern": "always_soft",
            "standby_level": "as_after_refill",
            "drain_in_draw": "motive_and_brine",
            "static_pressure": "normal_pressure",
            "flowing_pressure": "holds",
            "drain_in_service": "dry_drain",
            "drain_line_seen": "long_or_high",
            "backwash_at_drain": "full",
        }
        events = [Complained("salty_water"), *(Saw(*one) for one in seen.items())]
        ranked = advise(shipped, state_of(shipped, events)).choice.ranked
        silent = [v for v in ranked if v.act.kind == "check" and v.bits < 1e-3]
        assert len(silent) > 2
        assert all(v.expected_cost == pytest.approx(v.upper, abs=1e-6) for v in silent)
        assert ranked.index(silent[0]) > min(
            at for at, v in enumerate(ranked) if v.act.kind == "repair"
        )

    def test_the_same_question_always_gets_the_same_answer(self, checked: CheckedModel) -> None:
        state = state_of(checked, HISTORIES[2])
        one, two = advise(checked, state), advise(checked, state)
        assert one.choice == two.choice


class TestStanding:
    """What is known of the setup, and what is the worst case."""

    def test_what_is_stated_holds_until_the_next_act(self, checked: CheckedModel) -> None:
        model, routes = checked.model, tabulate(checked.model)
        told = state_of(checked, [SetupIs("flow", "around"), SetupIs("pressure", "none")])
        names = list(model.setups.variables)
        known = dict(zip(names, standing(model, routes, told), strict=True))
        assert (known["flow"], known["pressure"]) == ("around", "none")
        later = fold(model, [Saw("level", "static")], told)
        known = dict(zip(names, standing(model, routes, later), strict=True))
        assert known["pressure"] == model.setups.variables["pressure"].worst

    def test_what_shows_at_a_glance_is_unknown_again_once_an_act_may_have_touched_it(self) -> None:
        """The shipped model: a body seen closed is `unsure` after somebody looked into it."""
        model = ready(model_folder()).model
        routes = tabulate(model)
        place = list(model.setups.variables).index("valve")
        looked = standing(model, routes, fold(model, [Saw("tap_hardness", "soft_tap")]))
        opened = standing(model, routes, fold(model, [Saw("injector_found", "clear")]))
        assert looked[place] == "closed"
        assert opened[place] == "unsure"
        assert routes.way(opened, {"valve": "closed"}).moves
