"""One regeneration: balances, and the trade's worked example."""

from __future__ import annotations

from dataclasses import replace

import pytest

from brinebayes.physics import brine, liquids
from brinebayes.physics.units import FT3, GAL, GR, GR_PER_FT3, GR_PER_LB, HOUR, LB, LB_PER_FT3
from brinebayes.simulation.unit import jet
from brinebayes.simulation.unit import regeneration as regen
from brinebayes.simulation.unit.parts import SOUND
from brinebayes.simulation.unit.regeneration import Tanks
from tests.simulation.unit.houses import house

#: TRADE section 3, worked: 1.5 ft3 at 6 lb/ft3 at 60 °F.
WORKED = replace(
    house(),
    resin_m3=FT3.to_si(1.5),
    dose_kg_m3=LB_PER_FT3.to_si(6),
    water_k=liquids.COLD_WATER_K,
)


def ready(site: object = None) -> Tanks:
    """A tank as it stands before a regeneration, on an exhausted bed."""
    at = house() if site is None else site
    return Tanks(at.full_m3, at.saturated, at.salt_kg, 0.0)  # type: ignore[attr-defined]


class TestWorkedExample:
    """9 lb of salt, 3.01 gal of refill, 3.40 gal of brine (TRADE section 3, computed there)."""

    def test_salt_refill_and_brine(self) -> None:
        assert LB.from_si(WORKED.salt_per_regeneration_kg) == pytest.approx(9.0)
        assert GAL.from_si(WORKED.normal_refill_m3) == pytest.approx(3.01, abs=0.01)
        assert GAL.from_si(WORKED.normal_brine_m3) == pytest.approx(3.40, abs=0.01)

    def test_a_sound_draw_brings_that_salt_to_the_bed(self) -> None:
        run = regen.regenerate(WORKED, SOUND, ready(WORKED))
        assert run.finished
        assert LB.from_si(run.salt_to_bed_kg) == pytest.approx(9.0, rel=0.01)


class TestDissolve:
    """Salt into water."""

    def test_salt_is_conserved(self) -> None:
        site = house()
        before = Tanks(GAL.to_si(4), 0.0, 40.0, 0.0)
        after = regen.dissolve(site, SOUND, before, HOUR.to_si(24))
        gone = before.salt_kg - after.salt_kg
        held = (
            after.liquid_m3 * after.strength * liquids.density_kg_m3(after.strength, site.water_k)
        )
        assert held == pytest.approx(gone, rel=0.02)

    def test_full_after_an_hour_or_two(self) -> None:
        """One to two hours (common practice), to 1.20 (salometer table)."""
        site = house()
        half, two = (
            regen.dissolve(site, SOUND, Tanks(GAL.to_si(4), 0.0, 40.0, 0.0), HOUR.to_si(h))
            for h in (0.25, 2.0)
        )
        assert half.strength < 0.6 * site.saturated
        assert two.strength > 0.98 * site.saturated

    def test_volume_grows_as_brine_is_more_than_its_water(self) -> None:
        """3.01 gal of water give 3.40 of brine (TRADE section 3)."""
        site = replace(house(), water_k=liquids.COLD_WATER_K)
        made = regen.dissolve(site, SOUND, Tanks(GAL.to_si(3.01), 0.0, 40.0, 0.0), HOUR.to_si(48))
        assert GAL.from_si(made.liquid_m3) == pytest.approx(3.40, rel=0.01)

    def test_no_more_than_there_is(self) -> None:
        made = regen.dissolve(house(), SOUND, Tanks(GAL.to_si(4), 0.0, 0.3, 0.0), HOUR.to_si(48))
        assert made.salt_kg == 0
        assert made.strength < 0.03

    def test_under_a_bridge_it_stays_weak(self) -> None:
        site, hollow = house(), SOUND.changed(salt_contact=1e-3)
        made = regen.dissolve(site, hollow, Tanks(GAL.to_si(4), 0.0, 40.0, 0.0), HOUR.to_si(72))
        assert made.strength < 0.25 * site.saturated


class TestBedKg:
    """What a dose gives."""

    def test_published_points(self) -> None:
        """20,000 gr/ft3 at 5 lb, 24,000 at 8 (trade journal, February 2015)."""
        site = replace(house(), resin_m3=FT3.to_si(1.0))
        for lb, gr in ((5, 20_000), (8, 24_000)):
            held = regen.bed_kg(site, SOUND, LB_PER_FT3.to_si(lb))
            assert GR.from_si(held) == pytest.approx(gr, rel=1e-3)

    def test_never_better_than_chemistry_and_always_more_for_more(self) -> None:
        """5,994 gr/lb is the stoichiometric limit (TRADE section 3)."""
        site = house()
        doses = [LB_PER_FT3.to_si(lb) for lb in (1, 3, 5, 8, 12, 15, 20)]
        held = [regen.bed_kg(site, SOUND, dose) for dose in doses]
        assert held == sorted(held)
        for dose, kg in zip(doses, held, strict=True):
            assert GR_PER_LB.from_si(kg / (dose * site.resin_m3)) < 5994

    def test_less_resin_holds_less(self) -> None:
        site, dose = house(), house().dose_kg_m3
        half = regen.bed_kg(site, SOUND.changed(resin_there=0.5), dose)
        assert half == pytest.approx(0.5 * regen.bed_kg(site, SOUND, dose))
        assert GR_PER_FT3.from_si(half / site.resin_m3) < 20_000


class TestRegenerate:
    """Draw, rinse, refill."""

    def test_the_tank_is_as_before_when_the_salt_has_dissolved(self) -> None:
        site = house()
        run = regen.regenerate(site, SOUND, ready())
        again = regen.dissolve(site, SOUND, run.tanks, HOUR.to_si(24))
        assert again.liquid_m3 == pytest.approx(site.full_m3, rel=0.12)
        assert again.strength == pytest.approx(site.saturated, rel=0.01)

    def test_refill_first_ends_with_an_empty_tank(self) -> None:
        """The tank stands nearly empty in standby (common practice)."""
        site = house(refill_order="refill_first")
        run = regen.regenerate(site, SOUND, replace(ready(site), liquid_m3=site.rest_m3))
        assert run.tanks.liquid_m3 == pytest.approx(site.rest_m3)
        assert run.salt_to_bed_kg == pytest.approx(site.salt_per_regeneration_kg, rel=0.15)

    def test_what_is_not_drawn_is_added_to(self) -> None:
        site = replace(house(), brined_by_float=False)
        stuck = regen.regenerate(site, SOUND.changed(air_check="shut"), ready(site))
        assert stuck.tanks.liquid_m3 > 1.2 * site.full_m3
        assert not stuck.finished

    def test_the_float_stops_it(self) -> None:
        site = replace(house(), brined_by_float=False)
        tanks = ready(site)
        for _ in range(6):
            run = regen.regenerate(site, SOUND.changed(air_check="shut"), tanks)
            tanks = run.tanks
        assert tanks.liquid_m3 == pytest.approx(site.float_m3)
        open_float = SOUND.changed(air_check="shut", float_level=9.0)
        assert regen.regenerate(site, open_float, tanks).tanks.liquid_m3 > 1.2 * site.float_m3

    def test_salt_left_after_a_sound_rinse_is_not_tasted(self) -> None:
        """250 mg/L of chloride, 40 CFR 143.3, in the first 75 L."""
        run = regen.regenerate(house(), SOUND, ready())
        assert 0.607 * run.salt_left_kg / 0.075 < 0.250

    def test_a_tight_drain_leaves_salt(self) -> None:
        """Salty water: drain restricted (trade)."""
        tight = SOUND.changed(line_clear=0.015)
        sound, left = (regen.regenerate(house(), p, ready()).salt_left_kg for p in (SOUND, tight))
        assert left > 5 * sound

    def test_brine_in_the_bed_is_about_ten_per_cent(self) -> None:
        """About 10 % in the bed (certification column, January 2014)."""
        site = house()
        step = jet.brine_draw(site, SOUND)
        density = liquids.density_kg_m3(site.saturated, site.water_k)
        salt = step.brine_m3_s * density * site.saturated
        mass = step.brine_m3_s * density + step.motive_m3_s * 1000
        assert 0.08 < salt / mass < 0.16
        assert brine.saturated_mass_fraction(site.water_k) == site.saturated
