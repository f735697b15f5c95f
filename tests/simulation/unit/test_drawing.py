"""Units about which somebody has called."""

from __future__ import annotations

from collections import Counter

import pytest

from brinebayes.network import odds
from brinebayes.simulation.unit import drawing
from brinebayes.simulation.unit.chance import Chance
from brinebayes.simulation.unit.houses import A, B
from tests.simulation.unit.houses import shipped

DRAWN = 1500


@pytest.fixture(scope="module")
def calls() -> list[tuple[dict[str, str], tuple[str, ...]]]:
    """Site conditions and faults of many calls, without their units."""
    model, many = shipped(), []
    for number in range(DRAWN):
        chance = Chance(f"A/{number}")
        conditions = drawing.draw_conditions(model, chance.part("site"))
        many.append((conditions, drawing.draw_faults(model, conditions, chance.part("faults"))))
    return many


Calls = list[tuple[dict[str, str], tuple[str, ...]]]


class TestFaults:
    """How often each is there. Oracle: the model's own shares, and its counts of faults."""

    def test_shares(self, calls: Calls) -> None:
        """Within five standard errors, and the site's factors averaged."""
        count = Counter(fault for _, faults in calls for fault in faults)
        for fault, item in shipped().faults.items():
            share = item.share.value
            error = (share * (1 - share) / DRAWN) ** 0.5
            assert abs(count[fault] / DRAWN - share) < 5 * error + 0.12 * share, fault

    def test_mostly_one(self, calls: Calls) -> None:
        """Most calls have one cause and about one in eight two (trade)."""
        stated = odds.fault_counts(shipped(), {})
        got = Counter(min(len(faults), 3) for _, faults in calls)
        for number in range(3):
            assert got[number] / DRAWN == pytest.approx(stated[number], abs=0.03)

    def test_only_where_they_can_be(self, calls: Calls) -> None:
        for conditions, faults in calls:
            for fault in faults:
                for name, values in shipped().faults[fault].applies.items():
                    assert conditions[name] in ((values,) if isinstance(values, str) else values)


class TestUnit:
    """One call by its number."""

    def test_the_same_number_gives_the_same_unit(self) -> None:
        first, again = (drawing.unit(shipped(), A, 7) for _ in range(2))
        assert (first.house, first.parts, first.complaints) == (
            again.house,
            again.parts,
            again.complaints,
        )

    def test_families_are_apart(self) -> None:
        ones = {(drawing.unit(shipped(), A, n).house.resin_tank_m) for n in range(12)}
        others = {(drawing.unit(shipped(), B, n).house.resin_tank_m) for n in range(12)}
        assert not ones & others

    def test_every_call_says_something(self) -> None:
        assert all(drawing.unit(shipped(), A, number).complaints for number in range(60))
