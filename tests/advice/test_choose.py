"""What acts are worth: information, repairs and the choice between them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from sklearn.metrics import mutual_info_score

from brinebayes.advice.acts import open_acts
from brinebayes.advice.advise import advise
from brinebayes.advice.choose import bits, choose, mends
from brinebayes.advice.outlook import missing_bits
from brinebayes.advice.situation import facts_of
from brinebayes.advice.standing import standing
from brinebayes.checking.ready import ready
from brinebayes.knowledge.rules import fired
from brinebayes.knowledge.schema import CheckedModel
from brinebayes.knowledge.shipped import model_folder
from brinebayes.network.belief import believe
from brinebayes.setups.routes import tabulate
from brinebayes.visit.events import Complained, Done, Event, Saw, SetupIs
from brinebayes.visit.state import VisitState, fold, to_question

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


class TestBits:
    """Mutual information between an outcome and a class."""

    @given(
        counts=st.lists(st.lists(st.integers(0, 9), min_size=4, max_size=4), min_size=2, max_size=3)
    )
    def test_equal_to_scikit_learn(self, counts: list[list[int]]) -> None:
        table = np.asarray(counts, dtype=float)
        if table.sum() == 0.0:
            return
        outcomes, classes = np.indices(table.shape)
        weights = table.ravel().astype(int)
        expected = mutual_info_score(
            np.repeat(outcomes.ravel(), weights), np.repeat(classes.ravel(), weights)
        ) / np.log(2.0)
        assert bits(table / table.sum(), np.arange(4)) == pytest.approx(expected, abs=1e-9)

    def test_the_used_car(self) -> None:
        """Used car [worked example, two tests]: H .881291 bit, T1 .476803, T2 .198022 bits."""
        prior = np.array([0.7, 0.3])
        first = np.array([[0.8, 0.05], [0.05, 0.75], [0.15, 0.2]])
        second = np.array([[0.8, 0.25], [0.2, 0.75]])
        classes = np.arange(2)
        assert missing_bits(prior[None, :], classes)[0] == pytest.approx(0.881291, abs=1e-6)
        assert bits(first * prior, classes) == pytest.approx(0.476803, abs=1e-6)
        assert bits(second * prior, classes) == pytest.approx(0.198022, abs=1e-6)


class TestMends:
    """What a repair does to each row, against the exact engine's next epoch."""

    @pytest.mark.parametrize("events", HISTORIES[1:4])
    @pytest.mark.parametrize("repair", ["clean_injector", "clear_brine_line"])
    def test_the_mean_over_the_rows_is_what_the_exact_engine_says(
        self, checked: CheckedModel, events: list[Event], repair: str
    ) -> None:
        """Within four standard errors of the weighted table (fixed seed)."""
        model, state = checked.model, state_of(checked, events)
        worlds = believe(model, to_question(model, state)).worlds(4000, seed=5)
        chance = mends(model, state, [repair], worlds)[0]
        mean = float(worlds.weights @ chance)
        error = float(np.sqrt((worlds.weights**2) @ (chance - mean) ** 2))
        after = fold(model, [Done(repair)], state)
        exact = believe(model, to_question(model, after)).works
        assert abs(mean - exact) < 4.0 * error + 1e-3

    def test_a_second_try_that_shares_the_luck_brings_nothing(self, checked: CheckedModel) -> None:
        model = checked.model
        state = state_of(checked, [Done("clean_injector"), Saw("proof", "failed")])
        worlds = believe(model, to_question(model, state)).worlds(500, seed=5)
        chance = mends(model, state, ["clean_injector"], worlds)[0]
        assert (chance <= worlds.works).all()


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
    def test_no_check_is_worth_less_than_nothing_when_it_is_free(
        self, checked: CheckedModel, events: list[Event]
    ) -> None:
        """A free check that leaves the setup as it is never costs more than finishing at once."""
        model, state = checked.model, state_of(checked, events)
        routes = tabulate(model)
        start = standing(model, routes, state)
        acts = open_acts(model, state, routes, start, fired(model, facts_of(model, state)))
        free = tuple(
            replace(act, cost=0.0, end=start) if act.kind == "check" else act for act in acts
        )
        worlds = believe(model, to_question(model, state)).worlds(500, seed=2)
        choice = choose(model, state, free, worlds, routes)
        finish = next(item for item in choice.ranked if item.act.kind == "finish")
        for item in choice.ranked:
            if item.act.kind == "check":
                assert item.expected_cost <= finish.expected_cost + 1e-6

    def test_a_fault_that_was_seen_is_repaired(self, checked: CheckedModel) -> None:
        events: list[Event] = [
            Complained("hard_water"),
            Saw("outlet_hardness", "hard"),
            Saw("level", "static"),
            Saw("injector_seen", "dirty"),
        ]
        best = advise(checked, state_of(checked, events)).next
        assert (best.act.kind, best.act.id) == ("repair", "clean_injector")

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
