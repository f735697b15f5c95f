"""A unit in service."""

from __future__ import annotations

import pytest

from brinebayes.physics.hydraulics import circle_m2
from brinebayes.physics.units import PSI
from brinebayes.simulation.unit import flows, service
from brinebayes.simulation.unit.parts import SOUND, Leak
from tests.simulation.unit.houses import house


class TestPassing:
    """The drain must be dry in service (common practice)."""

    def test_dry_when_sound(self) -> None:
        assert service.passing_m3_s(house(), SOUND) == 0

    def test_more_through_a_larger_gap_but_never_more_than_backwash(self) -> None:
        site = house()
        gaps = [SOUND.changed(seals=Leak(drain_m2=circle_m2(d))) for d in (5e-4, 1e-3, 2e-3, 2e-2)]
        got = [service.passing_m3_s(site, parts) for parts in gaps]
        assert got == sorted(got)
        assert got[-1] < 1.2 * flows.backwash_m3_s(site, SOUND)

    def test_a_valve_left_in_backwash_runs_as_backwash(self) -> None:
        site = house()
        left = SOUND.changed(stands="backwash")
        assert service.passing_m3_s(site, left) == flows.backwash_m3_s(site, left)


class TestUnitLoss:
    """Pressure taken in service."""

    @pytest.mark.parametrize("number", range(8))
    def test_sound_within_the_standard(self, number: int) -> None:
        """At most 15 psi at rated flow. Source: NSF/ANSI 44."""
        assert PSI.from_si(service.unit_loss_pa(house(number), SOUND)) < 15

    def test_soft_beads_and_a_clogged_screen_cost_pressure(self) -> None:
        site = house()
        sound = service.unit_loss_pa(site, SOUND)
        assert service.unit_loss_pa(site, SOUND.changed(resin_drag=4.0)) > sound
        assert service.unit_loss_pa(site, SOUND.changed(upper_clear=0.015)) > PSI.to_si(15)


class TestBypassed:
    """Two ways side by side."""

    def test_from_nothing_to_all(self) -> None:
        site = house()
        parts = [service.bypassed(site, SOUND.changed(bypass_handle=h)) for h in HANDLES]
        assert parts == sorted(parts)
        assert (parts[0], parts[-1]) == (0.0, 1.0)

    def test_two_leaks_are_more_than_one(self) -> None:
        site = house()
        one = service.bypassed(site, SOUND.changed(bypass_leak=0.1))
        both = service.bypassed(site, SOUND.changed(bypass_leak=0.1, bypass_handle=0.1))
        assert 0 < one < both < 1


HANDLES = (0.0, 0.05, 0.2, 0.6, 1.0)
