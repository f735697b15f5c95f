"""The brine step with what is in its way."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest

from brinebayes.physics.hydraulics import Tube, circle_m2
from brinebayes.physics.injector import Injector
from brinebayes.physics.units import FT, GPM, IN, IN_HG, PSI
from brinebayes.simulation.unit import flows, jet
from brinebayes.simulation.unit.parts import SOUND, Leak
from brinebayes.simulation.unit.site import Site
from tests.simulation.unit.houses import house


def illustrative(psi: float = 50, higher_ft: float = 0.0) -> Site:
    """The geometry of TRADE section 3: 1.10 and 1.90 mm, fixed 2.0 gpm control, 20 ft of half-inch.

    Its control is sized at 50 psi, as the table's; pressure and climb change afterwards.
    """
    return replace(
        house(),
        rubber_control=False,
        backwash_m3_s=GPM.to_si(2.0),
        static_pa=PSI.to_si(psi),
        feed_pa=0.0,
        injector=Injector(1.10e-3, 1.90e-3),
        drain_line=Tube(FT.to_si(20), IN.to_si(0.5), FT.to_si(higher_ft)),
        altitude_m=0.0,
    )


class TestBrineDraw:
    """Draw, stall, water pushed back."""

    @pytest.mark.parametrize(
        ("higher_ft", "clear", "brine_gpm", "drain_gpm"),
        [(0, 1.0, 0.31, 0.73), (8, 1.0, 0.27, 0.68), (0, 0.5, 0.16, 0.55), (0, 1 / 3, 0.04, 0.42)],
    )
    def test_illustrative_table(
        self, higher_ft: float, clear: float, brine_gpm: float, drain_gpm: float
    ) -> None:
        """TRADE section 3, an illustrative run on a judged geometry, at 50 psi: to 0.05 gpm, as
        resin bed and brine line are another house's."""
        site = illustrative(50, higher_ft)
        # A clear part below 1 is a bore reduced to that area of the control's.
        bore = replace(site, backwash_m3_s=clear * site.backwash_m3_s)
        step = jet.brine_draw(bore, SOUND)
        assert GPM.from_si(step.brine_m3_s) == pytest.approx(brine_gpm, abs=0.05)
        assert GPM.from_si(step.drain_m3_s) == pytest.approx(drain_gpm, abs=0.06)

    @pytest.mark.parametrize("part", ["nozzle_clear", "throat_clear", "screen_clear"])
    def test_drain_flow_falls_the_more_is_shut(self, part: str) -> None:
        site = house()
        clears = (1.0, 0.4, 0.2, 0.1, 0.05, 0.02, 0.005)
        got = [jet.brine_draw(site, SOUND.changed(**{part: c})).drain_m3_s for c in clears]
        # To a thousandth, as the screen is solved for to that.
        assert all(b <= a * 1.001 for a, b in pairwise(got))
        assert got[-1] < 0.5 * got[0]

    def test_a_plugged_throat_pushes_water_and_a_clogged_nozzle_hardly(self) -> None:
        """The trade's two signatures of one injector."""
        site = house()
        throat = jet.brine_draw(site, SOUND.changed(throat_clear=0.05))
        nozzle = jet.brine_draw(site, SOUND.changed(nozzle_clear=0.2))
        assert throat.brine_m3_s < -0.3 * jet.brine_draw(site, SOUND).brine_m3_s
        assert throat.suction_pa > 0 or throat.brine_m3_s < 0
        assert abs(nozzle.brine_m3_s) < abs(throat.brine_m3_s)

    def test_a_leaking_seal_leaves_the_drain_as_it_was(self) -> None:
        """Weak suction at a drain flow near normal (trade)."""
        site, leaking = house(), SOUND.changed(jet_seal_m2=circle_m2(1.0e-3))
        sound, leaks = jet.brine_draw(site, SOUND), jet.brine_draw(site, leaking)
        assert leaks.brine_m3_s < 0.6 * sound.brine_m3_s
        assert leaks.drain_m3_s == pytest.approx(sound.drain_m3_s, rel=0.2)

    def test_a_blocked_brine_line_leaves_motive_only(self) -> None:
        site = house()
        blocked = jet.brine_draw(site, SOUND.changed(brine_line_clear=1e-4))
        shut = jet.brine_draw(site, SOUND, port="shut")
        assert blocked.drain_m3_s == pytest.approx(shut.drain_m3_s, rel=0.03)

    def test_air_takes_the_place_of_brine(self) -> None:
        site = house()
        holes = [jet.brine_draw(site, SOUND.changed(air_hole_m2=circle_m2(d))) for d in BORES]
        drawn = [step.brine_m3_s for step in holes]
        air = [step.air for step in holes]
        assert drawn == sorted(drawn, reverse=True)
        assert air == sorted(air)

    def test_full_suction_is_near_full_vacuum(self) -> None:
        """Dead-head suction is near full vacuum at normal pressure (TRADE section 3)."""
        site = replace(house(), altitude_m=0.0, static_pa=PSI.to_si(60))
        shut = jet.brine_draw(site, SOUND, port="shut")
        assert 26 < IN_HG.from_si(-shut.suction_pa) < 30

    def test_suction_at_the_valve_knows_nothing_of_the_line(self) -> None:
        """Strong at the valve, none at the tank end: the line (trade)."""
        site = house()
        hurt = SOUND.changed(brine_line_clear=1e-4, air_hole_m2=circle_m2(5e-4))
        sound = jet.brine_draw(site, SOUND, port="shut")
        assert jet.brine_draw(site, hurt, port="shut").suction_pa == sound.suction_pa

    def test_what_slips_past_the_seals_comes_out_at_the_drain(self) -> None:
        """Water balance: the drain has the jet's water and the leak's."""
        site = house()
        leaking = SOUND.changed(seals=Leak(drain_m2=circle_m2(1.5e-3)))
        sound, leaks = jet.brine_draw(site, SOUND), jet.brine_draw(site, leaking)
        through = circle_m2(1.5e-3) * 0.62 * (2 * flows.inlet_pa(site, SOUND) / 999) ** 0.5
        assert leaks.drain_m3_s - sound.drain_m3_s == pytest.approx(through, rel=0.15)


#: Holes in the brine line, in m.
BORES = (1e-5, 5e-5, 1e-4, 2e-4, 4e-4, 8e-4)
