"""Kit, strip, tape and hydrometer."""

from __future__ import annotations

from dataclasses import replace

import pytest

from brinebayes.physics.units import GAL, GPG, IN
from brinebayes.simulation.unit import tested
from brinebayes.simulation.unit.parts import SOUND
from tests.simulation.unit.houses import commonest, scene


class TestHardness:
    """Where the water is hard tells what is wrong (the trade's second table)."""

    def test_bypass_soft_at_the_unit_hard_behind(self) -> None:
        at = scene(SOUND.changed(bypass_handle=1.0))
        assert commonest(tested.unit_hardness, at) == "soft_there"
        assert commonest(tested.after_bypass_hardness, at) == "raw_after"

    def test_a_riser_leaks_from_a_fresh_bed_too(self) -> None:
        at = scene(SOUND.changed(riser_gap=0.3))
        assert commonest(tested.unit_hardness, at) == "leaks_there"
        assert commonest(tested.fresh_bed_hardness, at) == "leaks_fresh"

    def test_a_wrong_setting_is_soft_from_a_fresh_bed(self) -> None:
        at = scene(SOUND.changed(meter_counts=0.0))
        assert commonest(tested.unit_hardness, at) == "hard_there"
        assert commonest(tested.fresh_bed_hardness, at) == "soft_fresh"

    def test_no_draw_stays_hard(self) -> None:
        at = scene(SOUND.changed(throat_clear=0.03))
        spent = replace(at.now, tanks=replace(at.now.tanks, left_kg=-1.0))
        assert commonest(tested.fresh_bed_hardness, replace(at, now=spent)) == "hard_fresh"

    def test_drops_are_grains(self) -> None:
        """One drop, one grain (common kits)."""
        at = scene(SOUND.changed(bypass_handle=1.0))
        drops = float(tested.tap_hardness(at).number.split()[0])
        assert drops == pytest.approx(GPG.from_si(at.raw), rel=0.25)

    def test_a_raw_tap_is_hard_alone(self) -> None:
        at = scene(SOUND.changed(tap_is_raw=True))
        assert commonest(tested.tap_complained, at) == "hard_here"
        assert commonest(tested.tap_hardness, at) == "soft_tap"


class TestLevel:
    """By tape."""

    def test_inches_of_one_charge(self) -> None:
        """18 in tank in clear liquid: 1.102 gal an inch (TRADE section 3)."""
        at = scene()
        site = replace(at.site, brine_tank_m=IN.to_si(18), open_part=1.0)
        tanks = replace(at.now.tanks, liquid_m3=GAL.to_si(8 * 1.102))
        found = tested.standby_level(replace(at, site=site, now=replace(at.now, tanks=tanks)))
        assert float(found.number.split()[0]) == pytest.approx(8.0, abs=1.2)

    @pytest.mark.parametrize(
        ("part", "wanted"), [(0.1, "nearly_empty"), (1.0, "as_after_refill"), (2.2, "too_high")]
    )
    def test_against_one_refill(self, part: float, wanted: str) -> None:
        at = scene()
        tanks = replace(at.now.tanks, liquid_m3=part * at.site.full_m3)
        full = replace(at, now=replace(at.now, tanks=tanks))
        assert commonest(tested.standby_level, full) == wanted

    def test_a_leaking_brine_valve_shows_below_the_float(self) -> None:
        """A float that has shut stops it, so a tank that stands there is bailed first (trade)."""
        for area, wanted in ((1e-7, "rises"), (0.0, "steady")):
            at = scene(SOUND.changed(brine_valve_m2=area))
            for part in (0.3, 1.0):
                tanks = replace(at.now.tanks, liquid_m3=part * at.site.float_m3)
                there = replace(at, now=replace(at.now, tanks=tanks))
                assert commonest(tested.level_creep, there) == wanted


class TestBrine:
    """About 1.20, or 100 on the salometer, is full (salometer table)."""

    def test_full_and_weak(self) -> None:
        assert commonest(tested.brine_sg, scene()) == "full_strength"
        assert commonest(tested.brine_sg, scene(SOUND.changed(salt_contact=5e-4))) == "weak"
        assert tested.brine_sg(scene()).number in ("25 wt%", "26 wt%")


class TestSaltAtTap:
    """More chloride than 250 mg/L over raw (40 CFR 143.3)."""

    def test_brine_left_is_tasted(self) -> None:
        assert commonest(tested.salt_at_tap, scene()) == "fresh_tap"
        assert commonest(tested.salt_at_tap, scene(SOUND.changed(salt_left_kg=0.3))) == "salty_tap"
