"""What a sound unit should show: against worked values, and spreads against `uncertainties`."""

from __future__ import annotations

import math

import pytest
from uncertainties import ufloat
from uncertainties.umath import log

from brinebayes.knowledge.measuring import COMPARISONS
from brinebayes.physics.units import FT3, GAL, GPM, IN, LB, PSI, WT_PERCENT, unit
from brinebayes.readings.expected import RUN_SHARE, Expected, expect
from brinebayes.readings.text import take
from tests.readings.shipped import METHODS, span, written
from tests.situations.situations import shipped


def expected(name: str, text: str, **told: str) -> Expected:
    method = METHODS[name]
    return expect(shipped(), method, take(method.kind, text), told)


class TestFigures:
    """The expected value itself."""

    @pytest.mark.parametrize(
        ("inches", "gpm"),
        [(8, 1.7), (9, 2.2), (10, 2.7), (12, 3.9), (13, 4.6), (14, 5.3), (16, 7.0)],
    )
    def test_backwash(self, inches: float, gpm: float) -> None:
        """At 5 gpm/ft2 [X]; the 5 gpm/ft2 are common practice, no source."""
        found = expected("backwash_at_drain", "1 gpm", tank_diameter=f"{inches} in")
        assert GPM.from_si(found.sum.expected) == pytest.approx(gpm, abs=0.06)

    def test_its_own_figure_comes_before_the_tank(self) -> None:
        told = {"tank_diameter": "10 in", "backwash_figure": "3.5 gpm"}
        found = expected("backwash_at_drain", "1 gpm", **told)
        assert GPM.from_si(found.sum.expected) == pytest.approx(3.5)
        assert found.sum.own
        assert found.sigma == pytest.approx(math.log(1.1))
        assert found.not_told == ()

    def test_brine_step(self) -> None:
        """0.25-0.40 gpm/ft3 [P certification column 2014] on 1.5 ft3, with the root of pressure."""
        told = {"resin_volume": "1.5 ft3", "inlet_pressure": "50 psi"}
        at_50 = GPM.from_si(expected("drain_in_draw", "1 gpm", **told).sum.expected)
        assert 0.25 * 1.5 < at_50 < 0.40 * 1.5
        told["inlet_pressure"] = "72 psi"
        at_72 = GPM.from_si(expected("drain_in_draw", "1 gpm", **told).sum.expected)
        assert at_72 / at_50 == pytest.approx(1.2)

    def test_a_low_pressure_does_not_hide_itself(self) -> None:
        """Below 30 psi the pressure is the fault, and less must not be expected for it."""
        told = {"resin_volume": "1.5 ft3"}
        low, least = (
            expected("drain_in_draw", "1 gpm", inlet_pressure=f"{psi} psi", **told).sum.expected
            for psi in (18, 30)
        )
        assert low == least

    @pytest.mark.parametrize(("zone", "gpm"), [("clear", 0.330), ("salt", 0.149)])
    def test_fall_and_draw(self, zone: str, gpm: float) -> None:
        """The injector's own draw of 0.330 or 0.149 gpm falls 3.0 in in 10 min in an 18 in tank, in
        clear liquid or in salt [X]."""
        found = expected(
            "level_in_draw",
            "3 in in 10 min",
            brine_tank_diameter="18 in",
            level_zone=zone,
            brine_draw_figure=f"{gpm} gpm",
        )
        assert IN.from_si(found.sum.expected) == pytest.approx(3.0, abs=0.015)
        assert any(f"a draw of {gpm:g} gpm" in step for step in found.sum.steps)

    def test_standing_brine(self) -> None:
        """9 lb make 3.40 gal of brine [X]; an inch of 18 in is 1.102 gal [X]."""
        found = expected(
            "standby_level",
            "3 in",
            resin_volume="1.5 ft3",
            salt_dose="6 lb/ft3",
            brine_tank_diameter="18 in",
            level_zone="clear",
        )
        assert IN.from_si(found.sum.expected) == pytest.approx(3.40 / 1.102, rel=3e-3)
        assert (
            f"{LB.show(LB.to_si(9))} of salt make {GAL.show(GAL.to_si(3.40))}"
            in (found.sum.steps[0])
        )

    def test_saturated_brine(self) -> None:
        """26.395 wt% at 60 °F [P salometer table]."""
        found = expected("brine_sg", "1.1 SG").sum.expected
        assert WT_PERCENT.from_si(found) == pytest.approx(26.395, abs=0.05)

    def test_full_suction(self) -> None:
        """One atmosphere less the vapour pressure at 60 °F, about -14.4 psig at sea level [X]."""
        found = expected("suction_at_valve", "20 inHg").sum.expected
        assert PSI.from_si(found) == pytest.approx(14.4, abs=0.06)

    def test_a_long_high_run(self) -> None:
        """35 ft of half inch, 8 ft up, at 35 psi with 2.7 gpm: 3.1 psi of friction (8.8 psi/100 ft
        by fluids), 3.46 of lift, 19 % of 35 psi against a tenth; and 35 of 20 ft."""
        told = {
            "drain_bore": "1/2 in",
            "drain_rise": "8 ft",
            "inlet_pressure": "35 psi",
            "backwash_figure": "2.7 gpm",
        }
        found = expected("drain_line_seen", "35 ft", **told).sum.quantity
        assert found == pytest.approx((35 * 0.088 + 8 * 0.433) / 35 / RUN_SHARE, rel=0.02)
        told["drain_rise"] = "0 ft"
        assert expected("drain_line_seen", "35 ft", **told).sum.quantity == pytest.approx(35 / 20)
        told |= {"drain_rise": "-20 ft", "drain_bore": "3/4 in"}
        assert expected("drain_line_seen", "35 ft", **told).sum.quantity == 0.0

    def test_what_was_drawn_may_stand_with_the_count(self) -> None:
        found = expected("meter_count", "3 gal of 4 gal")
        assert GAL.from_si(found.sum.expected) == pytest.approx(4)
        assert found.sigma == 0.0
        assert expected("meter_count", "3 gal").not_told == ("drawn_water",)


class TestSpread:
    """First order in the logarithms, against the `uncertainties` library."""

    def test_backwash_goes_with_the_square_of_the_diameter(self) -> None:
        tank = log(ufloat(1.0, math.log(1.03)))
        theirs = (2 * tank).std_dev
        found = expected("backwash_at_drain", "1 gpm", tank_diameter="10 in").sigma
        assert found == pytest.approx(theirs, rel=1e-6)

    def test_fall(self) -> None:
        """ln fall = ln resin - ln open - 2 ln tank + what does not vary."""
        resin, open_part, tank = (log(ufloat(1.0, math.log(f))) for f in (1.08, 1.12, 1.03))
        theirs = (resin - open_part - 2 * tank).std_dev
        found = expected(
            "level_in_draw",
            "1 in in 10 min",
            resin_volume="1.5 ft3",
            level_zone="salt",
            brine_tank_diameter="18 in",
        ).sigma
        assert found == pytest.approx(theirs, rel=1e-6)

    def test_it_does_not_depend_on_what_was_read(self) -> None:
        """Else two readings could not be compared."""
        for name in METHODS:
            _, least, greatest = span(name)
            low, high = (
                expected(name, written(name, number, span(name)[0]))
                for number in (least + 0.3 * (greatest - least), greatest)
            )
            assert low.sigma == high.sigma

    def test_the_foremost_unknown_comes_first(self) -> None:
        found = expected("level_in_draw", "1 in in 10 min", tank_diameter="10 in")
        assert found.not_told[0] == "level_zone"
        assert "tank_diameter" not in found.not_told

    def test_the_tank_is_asked_for_in_the_place_of_its_resin(self) -> None:
        found = expected("drain_in_draw", "1 gpm", inlet_pressure="50 psi")
        assert found.not_told == ("tank_diameter",)


class TestEveryComparison:
    """The table of knowledge and the sums of this room speak of the same things."""

    def test_each_is_used_by_the_shipped_model(self) -> None:
        assert {method.compare for method in METHODS.values()} == set(COMPARISONS)

    @pytest.mark.parametrize("name", METHODS)
    def test_it_looks_at_nothing_that_its_row_does_not_name(self, name: str) -> None:
        looks = COMPARISONS[METHODS[name].compare]
        here, least, greatest = span(name)
        found = expected(name, written(name, (least + greatest) / 2, here))
        assert set(found.looked_at) <= {*looks.needs, *looks.may_use}

    @pytest.mark.parametrize("name", METHODS)
    def test_more_told_is_less_spread(self, name: str) -> None:
        """Telling the usual value of everything leaves the expectation and narrows it."""
        here, least, greatest = span(name)
        text = written(name, least + 0.4 * (greatest - least), here)
        told = {}
        for measure, item in expected(name, text).looked_at.items():
            shipped_measure = shipped().measures[measure]
            if shipped_measure.words:
                continue
            in_unit = unit(shipped_measure.unit)
            told[measure] = f"{in_unit.from_si(item.value_si)!r} {in_unit.symbol}"
        before, after = expected(name, text), expected(name, text, **told)
        assert after.sigma <= before.sigma
        if "resin_volume" not in told:
            assert after.sum.expected == pytest.approx(before.sum.expected)

    def test_resin_in_a_usual_tank(self) -> None:
        """Telling the tank alone tells its resin: 10 in, 1.5 ft3 [common practice, no source]."""
        known = expected("drain_in_draw", "1 gpm", tank_diameter="10 in").looked_at
        assert FT3.from_si(known["resin_volume"].value_si) == pytest.approx(1.5)
