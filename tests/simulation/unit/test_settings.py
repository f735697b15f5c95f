"""The control's settings and the sums done with them."""

from __future__ import annotations

import pytest

from brinebayes.physics.units import GPG
from brinebayes.simulation.unit import settings
from brinebayes.simulation.unit.parts import SOUND
from tests.simulation.unit.houses import commonest, scene


class TestSettings:
    """One setting that is off."""

    @pytest.mark.parametrize(
        ("look", "hurt", "wanted"),
        [
            ("hardness_setting", {"hardness_set": 0.6}, "too_low"),
            ("hardness_setting", {"hardness_set": 2.5}, "too_high"),
            ("hardness_setting", {"raw": 1.6}, "too_low"),
            ("dose_setting", {"dose_set": 0.5}, "off_the_table"),
            ("dose_setting", {"dose_set": 1.1}, "as_the_table"),
            ("step_times", {"draw_set": 0.3}, "off_times"),
            ("step_times", {"rinse_set": 0.2}, "off_times"),
            ("cycle_rate", {"hardness_set": 3.0}, "too_often"),
            ("cycle_rate", {"use": 3.0}, "as_reckoned"),
            ("regeneration_setting", {"automatic": False}, "switched_off"),
            ("last_regeneration", {"automatic": False}, "none_lately"),
            ("daily_use", {"use": 6.0}, "over"),
            ("raw_water", {"raw": 1.6}, "risen"),
            ("raw_water", {"raw": 1.05}, "as_before"),
            ("run_reached", {"motor_dead": True}, "part_of_run"),
            ("run_reached", {"riser_gap": 0.4}, "hard_at_once"),
            ("run_reached", {"resin_capacity": 0.4}, "part_of_run"),
        ],
    )
    def test_said_by_most(self, look: str, hurt: dict[str, object], wanted: str) -> None:
        at = scene(SOUND.changed(**hurt))
        assert commonest(settings.ANSWERS[look].look, at) == wanted

    def test_only_a_unit_refilled_first_can_wait_too_short(self) -> None:
        """One refilled last stands on its salt for days."""
        hurried = SOUND.changed(dwell_set=0.1)
        assert settings.wait_set(scene(hurried)) == "long_enough"
        assert settings.wait_set(scene(hurried, refill_order="refill_first")) == "too_short"

    def test_the_setting_is_read_off(self) -> None:
        at = scene()
        shown = float(settings.hardness_setting(at).number.split()[0])
        assert shown == pytest.approx(GPG.from_si(at.site.hardness_set_kg_m3), abs=0.5)
