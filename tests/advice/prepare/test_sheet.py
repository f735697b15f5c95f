"""The sheet as a whole."""

from __future__ import annotations

from dataclasses import replace

from brinebayes.advice.prepare.sheet import prepare
from brinebayes.knowledge.schema import CheckedModel
from brinebayes.knowledge.shop import NO_SHOP, apply
from brinebayes.visit.events import Complained, Saw, SiteKnown
from brinebayes.visit.state import fold


class TestPrepare:
    """On the small model."""

    def test_the_same_call_gives_the_same_sheet(self, checked: CheckedModel) -> None:
        state = fold(checked.model, [Complained("hard_water")])
        assert prepare(checked, state, 40) == prepare(checked, state, 40)

    def test_the_order_of_what_was_told_does_not_matter(self, checked: CheckedModel) -> None:
        told = [Saw("salt_use", "stopped"), Saw("outlet_hardness", "hard")]
        one = prepare(checked, fold(checked.model, told), 40)
        two = prepare(checked, fold(checked.model, told[::-1]), 40)
        assert (one.chances, one.minutes, one.parts) == (two.chances, two.minutes, two.parts)

    def test_more_parts_never_mend_less(self, checked: CheckedModel) -> None:
        found = prepare(checked, fold(checked.model, [Complained("hard_water")]), 200)
        chances = found.chances
        assert 0.0 < chances.van_as_is <= chances.carrying <= chances.fetching <= 1.0
        assert chances.fetching <= chances.known + 3 * chances.error

    def test_a_van_with_everything_needs_no_trip(self, checked: CheckedModel) -> None:
        full = apply(checked, replace(NO_SHOP, van=tuple(checked.model.parts)))
        found = prepare(full, fold(full.model, [Complained("hard_water")]), 60).chances
        assert found.van_as_is == found.carrying == found.fetching

    def test_a_disc_valve_takes_no_seal_kit(self, checked: CheckedModel) -> None:
        told = [SiteKnown("valve", "disc"), Complained("hard_water")]
        found = prepare(checked, fold(checked.model, told), 40)
        assert not any(part.carry for part in found.parts)
        assert found.chances.van_as_is == found.chances.fetching

    def test_the_cautious_minutes_are_no_fewer(self, checked: CheckedModel) -> None:
        median, cautious = prepare(checked, fold(checked.model, []), 60).minutes
        assert 0.0 <= median <= cautious

    def test_what_is_not_for_this_visit_is_named(self, checked: CheckedModel) -> None:
        found = prepare(checked, fold(checked.model, [Complained("hard_water")]), 40)
        assert [kind for kind, _, _ in found.elsewhere] == ["unknown"]
