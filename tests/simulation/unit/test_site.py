"""The house as it was put in."""

from __future__ import annotations

from dataclasses import replace

import pytest

from brinebayes.physics import brine, liquids
from brinebayes.physics.units import GAL, IN, WT_PERCENT
from tests.simulation.unit.houses import house


class TestBrineTank:
    """Levels of one charge."""

    def test_gallons_in_an_inch(self) -> None:
        """18 in: 1.102 gal an inch in clear liquid, in salt 0.45 of it (TRADE section 3)."""
        site = replace(house(), brine_tank_m=IN.to_si(18), open_part=0.45)
        inch = site.full_m3 / IN.from_si(site.water_m)
        assert GAL.from_si(inch) == pytest.approx(1.102 * 0.45, rel=1e-3)

    @pytest.mark.parametrize("number", range(8))
    def test_float_between_one_charge_and_the_overflow(self, number: int) -> None:
        site = house(number)
        assert site.full_m3 <= site.float_m3 < site.overflow_m3

    @pytest.mark.parametrize("number", range(8))
    def test_salt_stands_over_the_water(self, number: int) -> None:
        site = house(number)
        assert site.fill_at_kg < site.salt_kg
        heap = brine.height_m(site.salt_kg / 1190.0, site.brine_tank_m)
        assert heap > site.water_m

    def test_saturated_as_tabled(self) -> None:
        """26.36 wt% at 60 °F by the equation (TRADE section 3)."""
        site = replace(house(), water_k=liquids.COLD_WATER_K)
        assert WT_PERCENT.from_si(site.saturated) == pytest.approx(26.36, abs=0.02)


class TestRefill:
    """Time as set."""

    def test_time_and_rate_make_the_charge(self) -> None:
        """About 3 lb of salt dissolve in a gallon of refill (common practice)."""
        site = replace(house(), brined_by_float=False)
        water = site.refill_s * site.refill_m3_s
        salt_lb = site.salt_per_regeneration_kg / 0.45359237
        assert salt_lb / GAL.from_si(water) == pytest.approx(3.0, abs=0.05)
