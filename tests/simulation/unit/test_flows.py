"""Flows with damaged parts: laws, and values from outside."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from brinebayes.physics import hydraulics
from brinebayes.physics.hydraulics import FixedOrifice, Tube
from brinebayes.physics.units import FT, GPM, IN, PSI
from brinebayes.simulation.unit import flows
from brinebayes.simulation.unit.parts import SOUND
from tests.simulation.unit.houses import house

CLEAR = (1.0, 0.3, 0.1, 0.03, 0.01, 0.003)


class TestInletPa:
    """Supply, feed and what squeezes them."""

    def test_standing_water_shows_no_restriction(self) -> None:
        site = house()
        assert flows.inlet_pa(site, SOUND.changed(inlet_clear=0.02)) == site.static_pa

    def test_flowing_it_does(self) -> None:
        site, tap = house(), GPM.to_si(4)
        sound, half_shut = SOUND, SOUND.changed(inlet_clear=0.03)
        assert flows.inlet_pa(site, half_shut, tap) < flows.inlet_pa(site, sound, tap) - 1e5


class TestBackwash:
    """The largest flow of the cycle."""

    @pytest.mark.parametrize("part", ["control_clear", "line_clear", "end_clear", "inlet_clear"])
    def test_falls_the_more_is_shut(self, part: str) -> None:
        site = house()
        got = [flows.backwash_m3_s(site, SOUND.changed(**{part: clear})) for clear in CLEAR]
        assert got == sorted(got, reverse=True)
        assert got[-1] < 0.6 * got[0]

    @pytest.mark.parametrize("number", range(8))
    def test_sound_within_a_quarter_of_the_figure(self, number: int) -> None:
        """Common practice: within a quarter of the control's figure is right."""
        site = house(number)
        ratio = flows.backwash_m3_s(site, SOUND) / site.backwash_m3_s
        assert 0.75 < ratio < 1.25

    def test_a_rubber_control_hides_a_mild_loss(self) -> None:
        """Elastomer controls hold nearly constant flow (common practice)."""
        site = replace(house(), rubber_control=True)
        kinked = flows.backwash_m3_s(site, SOUND.changed(line_clear=0.2))
        assert kinked > 0.97 * flows.backwash_m3_s(site, SOUND)

    def test_the_line_off_cures_the_line_and_not_the_control(self) -> None:
        """The trade's separation of line and control, where the control stays in the valve."""
        site = house()
        full = flows.backwash_m3_s(site, SOUND)
        line, control = SOUND.changed(line_clear=0.01), SOUND.changed(control_clear=0.2)
        assert flows.backwash_m3_s(site, line, "off") == pytest.approx(full, rel=0.1)
        assert flows.backwash_m3_s(site, control, "off") < 0.5 * full

    def test_with_the_control_in_the_fitting_it_gushes(self) -> None:
        site = house(control_place="in_fitting")
        off = flows.backwash_m3_s(site, SOUND, "off")
        assert off > 1.7 * site.backwash_m3_s

    def test_fixed_bore_as_tabled(self) -> None:
        """2.0 gpm at 50 psi needs a 0.124 in bore at Cd 0.62 (TRADE section 3, computed from the
        orifice formula); a bore of that size passes it through our drain but for line and bed."""
        area = hydraulics.circle_m2(IN.to_si(0.124))
        site = replace(
            house(),
            rubber_control=False,
            static_pa=PSI.to_si(50),
            feed_pa=0.0,
            backwash_m3_s=GPM.to_si(2.0),
            drain_line=Tube(0.1, IN.to_si(0.75)),
        )
        assert isinstance(site.control, FixedOrifice)
        assert site.control.area_m2 == pytest.approx(area, rel=0.01)
        got = GPM.from_si(flows.backwash_m3_s(site, SOUND))
        assert got == pytest.approx(2.0, rel=0.03)


class TestDrainLine:
    """Tubing as it runs."""

    def test_a_climb_takes_its_head(self) -> None:
        """0.433 psi for each foot of water (TRADE section 3)."""
        site = house()
        higher = SOUND.changed(line_higher_m=FT.to_si(10))
        lines = [flows.drain_line(site, parts) for parts in (SOUND, higher)]
        pa = [hydraulics.line_pa(GPM.to_si(1), line, site.water) for line in lines]
        assert PSI.from_si(pa[1] - pa[0]) == pytest.approx(4.33, rel=0.005)


class TestRefill:
    """Water into the brine tank."""

    @pytest.mark.parametrize("number", range(6))
    def test_sound_at_its_figure(self, number: int) -> None:
        site = house(number)
        assert flows.refill_m3_s(site, SOUND) == pytest.approx(site.refill_m3_s, rel=0.1)

    def test_falls_the_more_is_shut_and_gushes_without_control(self) -> None:
        site = house()
        got = [flows.refill_m3_s(site, SOUND.changed(refill_clear=clear)) for clear in CLEAR]
        assert got == sorted(got, reverse=True)
        missing = flows.refill_m3_s(site, SOUND.changed(refill_size=math.inf))
        assert missing > 2 * site.refill_m3_s


class TestSeep:
    """Past the brine valve."""

    def test_as_through_any_bore(self) -> None:
        """Q = Cd A sqrt(2 dp/rho) by hand: 0.2 mm at 50 psi and 999 kg/m3 is 0.51 mL/s."""
        site = replace(house(), static_pa=PSI.to_si(50))
        leaking = SOUND.changed(brine_valve_m2=hydraulics.circle_m2(0.2e-3))
        assert flows.seep_m3_s(site, leaking) == pytest.approx(0.512e-6, rel=0.01)
