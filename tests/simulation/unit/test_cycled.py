"""In the cycle, the brine step apart."""

from __future__ import annotations

import pytest

from brinebayes.simulation.unit import cycled
from brinebayes.simulation.unit.parts import SOUND, Leak
from tests.simulation.unit.houses import commonest, scene


class TestDrive:
    """Watched from stop to stop."""

    @pytest.mark.parametrize(
        ("hurt", "wanted"),
        [
            ({}, "right_stops"),
            ({"motor_dead": True}, "nothing_turns"),
            ({"power": 0.0}, "nothing_turns"),
            ({"board": "garbled"}, "nothing_turns"),
            ({"gears_broken": True}, "turns_valve_still"),
            ({"sensor_dead": True}, "misses_its_stop"),
        ],
    )
    def test_what_it_does(self, hurt: dict[str, object], wanted: str) -> None:
        assert commonest(cycled.drive_watched, scene(SOUND.changed(**hurt))) == wanted

    def test_a_crumb_often_leaves_and_worn_seals_do_not(self) -> None:
        worn = scene(SOUND.changed(seals=Leak(drain_m2=1e-6)))
        crumb = scene(SOUND.changed(crumb=Leak(drain_m2=1e-6)))
        assert commonest(cycled.drain_after_recycle, worn) == "still_runs"
        assert commonest(cycled.drain_after_recycle, crumb) == "dry_again"
