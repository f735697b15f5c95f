"""Capacity and days between regenerations; values stand in tests/reference."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from brinebayes.errors import UsageError
from brinebayes.physics import capacity
from brinebayes.physics.units import FT3, GPM, IN, LB_PER_FT3


class TestCapacity:
    """More salt gives more capacity, and never more than stoichiometry allows."""

    @given(st.floats(5.001, 11.9), st.floats(0.01, 0.09))
    def test_rises_with_the_dose_at_falling_efficiency(self, dose: float, more: float) -> None:
        low, high = LB_PER_FT3.to_si(dose), LB_PER_FT3.to_si(dose + more)
        first, second = capacity.capacity_kg_m3(low), capacity.capacity_kg_m3(high)
        assert first < second
        assert capacity.efficiency(second, high) < capacity.efficiency(first, low)
        assert capacity.efficiency(first, low) < capacity.STOICHIOMETRIC

    @pytest.mark.parametrize("dose", [4.0, 13.0])
    def test_refuses_outside_the_published_points(self, dose: float) -> None:
        with pytest.raises(UsageError, match=f"not at {dose:g} lb/ft³"):
            capacity.capacity_kg_m3(LB_PER_FT3.to_si(dose))


class TestUsualResin:
    """Resin by the size of the tank [C]."""

    @pytest.mark.parametrize(
        ("inches", "least", "most"),
        [(8, 0.5, 0.75), (9, 1, 1), (10, 1.5, 1.5), (12, 2, 2), (13, 2.5, 2.5), (16, 4, 4)],
    )
    def test_the_usual_sizes(self, inches: float, least: float, most: float) -> None:
        resin = FT3.from_si(capacity.usual_resin_m3(IN.to_si(inches)))
        assert least - 1e-9 <= resin <= most + 1e-9

    @given(st.floats(5, 20), st.floats(0.01, 2))
    def test_a_larger_tank_holds_more(self, inches: float, more: float) -> None:
        small, large = IN.to_si(inches), IN.to_si(inches + more)
        assert capacity.usual_resin_m3(small) < capacity.usual_resin_m3(large)

    def test_brining_lies_within_the_published_range(self) -> None:
        """0.25-0.40 gpm/ft3 [P certification column, January 2014]."""
        assert 0.25 < GPM.from_si(capacity.brining_m3_s(FT3.to_si(1))) < 0.40


class TestDays:
    """Days between regenerations."""

    @given(st.floats(0.5, 4), st.floats(0.05, 0.6), st.floats(0.1, 2), st.floats(0, 2))
    def test_reserve_is_taken_off(
        self, held: float, hard: float, use: float, reserve: float
    ) -> None:
        without = capacity.days_between(held, hard, use, 0.0)
        expected = max(without - reserve, 0.0)
        assert capacity.days_between(held, hard, use, reserve) == pytest.approx(expected, abs=1e-9)
