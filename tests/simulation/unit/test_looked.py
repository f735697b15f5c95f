"""What is seen without a tool."""

from __future__ import annotations

import pytest

from brinebayes.physics.hydraulics import circle_m2
from brinebayes.physics.units import FT
from brinebayes.simulation.unit import looked
from brinebayes.simulation.unit.parts import SOUND, Leak
from tests.simulation.unit.houses import commonest, scene


class TestLooks:
    """One part that is not in order, and what it looks like."""

    @pytest.mark.parametrize(
        ("look", "hurt", "wanted"),
        [
            ("salt_seen", {"salt_short": True}, "nearly_none"),
            ("salt_seen", {"salt_contact": 1e-3}, "plenty"),
            ("water_in_tank", {"salt_short": True}, "over_salt"),
            ("salt_probe", {"salt_contact": 1e-3}, "hollow"),
            ("salt_probe", {"mush_m": 0.2}, "mush"),
            ("display", {"power": 0.0}, "dark"),
            ("display", {"board": "frozen"}, "error_or_frozen"),
            ("display", {"gears_broken": True}, "normal"),
            ("clock", {"clock_off_h": 6.0}, "wrong_hour"),
            ("bypass_position", {"bypass_handle": 0.5}, "part_or_full_bypass"),
            ("bypass_position", {"bypass_leak": 0.3}, "at_service_stop"),
            ("valve_mark", {"stands": "brine"}, "away_from_service"),
            ("drain_in_service", {"stands": "brine"}, "runs"),
            ("drain_line_seen", {"line_clear": 0.05}, "kinked"),
            ("drain_line_seen", {"end_clear": 0.05}, "plugged_or_frozen"),
            ("drain_line_seen", {"line_higher_m": FT.to_si(12)}, "long_or_high"),
            ("brine_line_seen", {"brine_line_clear": 0.01}, "kinked_or_plugged"),
            ("ports_seen", {"reversed_ports": True}, "reversed_ports"),
            ("inlet_seen", {"inlet_clear": 0.05}, "shut_or_dirty"),
            ("strainer_found", {"basket_broken": True}, "beads_there"),
            ("glass_seen", {"rust_mg_l": 1.2}, "coloured_soft"),
            ("smell_found", {"slime": True}, "softened_only"),
        ],
    )
    def test_seen_by_most(self, look: str, hurt: dict[str, object], wanted: str) -> None:
        at = scene(SOUND.changed(**hurt))
        assert commonest(looked.ANSWERS[look].look, at) == wanted

    def test_a_drip_of_a_drop_an_hour_is_dry(self) -> None:
        seep = SOUND.changed(seals=Leak(drain_m2=circle_m2(1e-5)))
        steady = SOUND.changed(seals=Leak(drain_m2=circle_m2(5e-4)))
        assert looked.drain_in_service(scene(seep)) == "dry_drain"
        assert looked.drain_in_service(scene(steady)) == "runs"

    def test_the_length_is_told_in_feet(self) -> None:
        at = scene(drain_run="long_half_inch")
        found = looked.drain_line_seen(at)
        feet = FT.from_si(at.site.drain_line.length_m)
        assert float(found.number.split()[0]) == pytest.approx(feet, rel=0.3)
