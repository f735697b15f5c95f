"""Need, against carrying."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from brinebayes.advice.prepare.parts import parts
from brinebayes.advice.prepare.remedies import remedies
from brinebayes.knowledge.schema import CheckedModel, Number
from brinebayes.knowledge.shop import NO_SHOP, apply
from brinebayes.setups.routes import tabulate
from brinebayes.visit.state import VisitState

#: Ten units, three of which have worn seals.
PRESENT = np.zeros((10, 4), dtype=bool)
PRESENT[:3, 2] = True
EVEN = np.full(10, 0.1)


class TestParts:
    """On the small model, by hand: seals are worn in three of ten, a trip costs 45."""

    def test_need_and_what_it_is_held_against(self, checked: CheckedModel) -> None:
        model = checked.model
        plans = remedies(model, VisitState(), tabulate(model))
        (kit,) = parts(model, plans, PRESENT, EVEN)
        assert (kit.part, kit.in_van, kit.carrying) == ("seal_kit", 0.8, 0.0)
        assert kit.needed == pytest.approx(0.3)
        assert kit.without == 45.0
        assert kit.carry

    @pytest.mark.parametrize(("carrying", "carry"), [(13.4, True), (13.6, False)])
    def test_carried_where_a_trip_costs_more(
        self, checked: CheckedModel, carrying: float, carry: bool
    ) -> None:
        """0.3 x 45 = 13.5."""
        number = Number(carrying, "judgement", 1.0, "invented cost of carrying")
        part = replace(checked.model.parts["seal_kit"], carrying=number)
        model = replace(checked.model, parts={"seal_kit": part})
        plans = remedies(model, VisitState(), tabulate(model))
        assert parts(model, plans, PRESENT, EVEN)[0].carry is carry

    def test_a_second_visit_where_it_is_cheaper_than_a_trip(self, checked: CheckedModel) -> None:
        second = replace(checked.model.about.money.second_visit, value=40.0)
        money = replace(checked.model.about.money, second_visit=second)
        plans = remedies(checked.model, VisitState(), tabulate(checked.model))
        model = replace(checked.model, about=replace(checked.model.about, money=money))
        assert parts(model, plans, PRESENT, EVEN)[0].without == 40.0

    def test_the_shop_sets_what_carrying_costs(self, checked: CheckedModel) -> None:
        shop = replace(NO_SHOP, carrying={"seal_kit": 20.0}, van=())
        model = apply(checked, shop).model
        plans = remedies(model, VisitState(), tabulate(model))
        (kit,) = parts(model, plans, PRESENT, EVEN)
        assert (kit.carrying, kit.in_van, kit.carry) == (20.0, 0.0, False)
