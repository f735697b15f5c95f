"""What would put a unit right, against sums by hand on the small model."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from brinebayes.advice.prepare.remedies import (
    called_for,
    costs,
    fixable,
    needed,
    remedies,
    uses,
)
from brinebayes.knowledge.schema import CheckedModel, Model
from brinebayes.network.belief import Question, believe
from brinebayes.network.worlds import Worlds
from brinebayes.setups.routes import tabulate
from brinebayes.visit.state import VisitState


def worlds(model: Model) -> Worlds:
    """Units of which somebody said that the water is hard."""
    return believe(model, Question({}, ("hard_water",), (), ())).worlds(400, 3)


class TestCosts:
    """Way there, work, part, way to the proof, proof."""

    def test_by_hand(self, checked: CheckedModel) -> None:
        model = checked.model
        found = costs(model, VisitState(), tabulate(model))
        # Bypass 1, relieve 2 and 1 waiting, cover 3; seals 30; cover 3, water 2; proof 6 and 20.
        assert found["replace_seals"] == pytest.approx(47 * 1.2 + 21 * 0.4 + 35)
        # The cover stays on for the line: 1, 2 and 1 waiting; 8; water 2; proof 6 and 20.
        assert found["clear_brine_line"] == pytest.approx(19 * 1.2 + 21 * 0.4)

    def test_what_does_not_exist_on_the_site_has_none(self, checked: CheckedModel) -> None:
        state = VisitState(site={"valve": "disc"})
        assert "replace_seals" not in costs(checked.model, state, tabulate(checked.model))


class TestRemedies:
    """The cheapest way, with another repair to fall back on where that pays."""

    def test_one_and_another(self, checked: CheckedModel) -> None:
        model = checked.model
        plans = remedies(model, VisitState(), tabulate(model))
        # Cleaning is cheaper; new seals take the injector with them, now and then (0.3): at 99.80
        # against 180 x 0.3 saved, falling back on that does not pay.
        assert plans["injector_clogged"].repairs == ("clean_injector",)
        assert plans["injector_clogged"].chances == (0.92,)
        assert plans["brine_line_blocked"].kind == "on_this_visit"

    def test_nobody_knows_the_other_cause(self, checked: CheckedModel) -> None:
        plans = remedies(checked.model, VisitState(), tabulate(checked.model))
        assert plans["other_cause"].kind == "unknown"

    def test_what_costs_more_than_coming_again_is_a_visit_of_its_own(
        self, checked: CheckedModel
    ) -> None:
        model = checked.model
        second = replace(model.about.money.second_visit, value=60.0)
        money = replace(model.about.money, second_visit=second)
        cheap = replace(model, about=replace(model.about, money=money))
        plan = remedies(cheap, VisitState(), tabulate(cheap))["seals_worn"]
        assert (plan.kind, plan.repairs) == ("visit_of_its_own", ("replace_seals",))


class TestNeeded:
    """Which of the faults of a unit keep it from working."""

    def test_clearing_them_makes_it_work_and_clearing_the_others_does_not(
        self, checked: CheckedModel
    ) -> None:
        rows = worlds(checked.model)
        found, names = needed(rows), list(checked.model.faults)
        assert not found[rows.works].any()
        assert (found <= rows.faults).all()
        for row in np.flatnonzero(found.any(axis=1))[:60]:
            one = rows.only(np.array([row]), np.ones(1), 1.0)
            harmful = [name for name, there in zip(names, found[row], strict=True) if there]
            harmless = [name for name in names if name not in harmful]
            assert not one.works_after([harmless])[0, 0]


class TestFixable:
    """Chances that the remedies of a unit work, with the parts at hand."""

    def test_a_product_over_the_faults(self, checked: CheckedModel) -> None:
        model = checked.model
        plans = remedies(model, VisitState(), tabulate(model))
        faults = np.array(
            [[0, 0, 0, 0], [0, 1, 0, 0], [0, 0, 1, 0], [0, 1, 1, 0], [0, 1, 0, 1]], dtype=bool
        )
        found = fixable(model, plans, faults, np.array([0.8]))
        assert found == pytest.approx([1.0, 0.9, 0.95 * 0.8, 0.9 * 0.95 * 0.8, 0.0])

    def test_uses(self, checked: CheckedModel) -> None:
        model = checked.model
        plans = remedies(model, VisitState(), tabulate(model))
        assert uses(model, plans)[:, 0] == pytest.approx([0.0, 0.0, 1.0, 0.0])


class TestCalledFor:
    """The cheapest, or the dearest, of the repairs that a unit needs."""

    def test_cheapest_and_dearest(self, checked: CheckedModel) -> None:
        model, rows = checked.model, worlds(checked.model)
        routes = tabulate(model)
        prices = costs(model, VisitState(), routes)
        order = sorted(prices, key=lambda name: prices[name])
        plans = remedies(model, VisitState(), routes)
        first = called_for(model, plans, order, rows)
        last = called_for(model, plans, order, rows, dearest=True)
        assert (first <= last).all()
        assert (first[rows.works] == len(order) + 1).all()
        two = needed(rows)[:, 1] & needed(rows)[:, 2]
        assert two.any()
        assert set(first[two]) == {order.index("clear_brine_line")}
        assert set(last[two]) <= {order.index("replace_seals"), len(order)}

    def test_what_was_done_is_called_for_again_where_it_may_come_out_otherwise(
        self, checked: CheckedModel
    ) -> None:
        model, rows = checked.model, worlds(checked.model)
        routes = tabulate(model)
        order = sorted(costs(model, VisitState(), routes))
        plans = remedies(model, VisitState(), routes)

        def calls_for(name: str, *done: str) -> bool:
            return order.index(name) in called_for(model, plans, order, rows, done=done)

        assert not model.repairs["clear_brine_line"].same_luck
        assert calls_for("clear_brine_line", "clear_brine_line")
        assert not calls_for("clear_brine_line", "clear_brine_line", "clear_brine_line")
        assert model.repairs["clean_injector"].same_luck
        assert not calls_for("clean_injector", "clean_injector")
