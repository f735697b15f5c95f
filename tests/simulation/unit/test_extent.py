"""How far damage goes."""

from __future__ import annotations

from brinebayes.simulation.unit import extent
from brinebayes.simulation.unit.chance import Chance
from brinebayes.simulation.unit.parts import SOUND
from tests.simulation.unit.houses import house

MANY = [Chance(f"extent {number}") for number in range(60)]


class TestWorn:
    """Seals leak in one way at least, and not always in the same."""

    def test_at_least_one_way(self) -> None:
        leaks = [extent.worn(chance) for chance in MANY]
        assert all(leak.there for leak in leaks)
        for way in ("drain_m2", "jet_m2", "past_resin"):
            there = sum(getattr(leak, way) > 0 for leak in leaks)
            assert 15 < there < 58, way


class TestLongHigh:
    """A line too long, too high or too narrow."""

    def test_on_a_short_run_it_is_not_longer(self) -> None:
        hurt = [extent.long_high(SOUND, house(), chance) for chance in MANY]
        assert all(parts.line_longer_m == 0 for parts in hurt)
        assert all(parts.line_bore < 1 or parts.line_higher_m > 0 for parts in hurt)

    def test_on_a_long_run_it_is(self) -> None:
        site = house(drain_run="long_half_inch")
        assert all(extent.long_high(SOUND, site, chance).line_longer_m > 0 for chance in MANY)


class TestInjector:
    """Every one that is drawn can be computed."""

    def test_worn_or_wrong_stays_a_jet_pump(self) -> None:
        """A nozzle takes up less than half the area of its throat."""
        site = house()
        for chance in MANY:
            parts = extent.worn_injector(SOUND, site, chance)
            nozzle = site.injector.nozzle_m * parts.nozzle_size
            throat = site.injector.throat_m * parts.throat_size
            assert (nozzle / throat) ** 2 < 0.5
