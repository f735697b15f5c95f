"""What is physically the matter."""

from __future__ import annotations

import pytest

from brinebayes.simulation.unit.parts import SOUND, TIGHT, Leak


class TestLeaks:
    """All that gets past the moving parts."""

    def test_they_add_up(self) -> None:
        parts = SOUND.changed(seals=Leak(1e-6, 0.0, 0.2), crumb=Leak(2e-6, 0.0, 0.1))
        assert parts.leaks.drain_m2 == pytest.approx(3e-6)
        assert parts.leaks.past_resin == pytest.approx(0.3)

    def test_no_more_than_all_the_water(self) -> None:
        worst = Leak(past_resin=0.7)
        assert SOUND.changed(seals=worst, faces=worst, piston=worst).leaks.past_resin == 1

    def test_tight_when_sound(self) -> None:
        assert SOUND.leaks == TIGHT
        assert not SOUND.leaks.there


class TestDriveTurns:
    """Whether the valve moves when a cycle is due."""

    @pytest.mark.parametrize(
        "hurt",
        [
            {"motor_dead": True},
            {"gears_broken": True},
            {"board": "silent"},
            {"power": 0.4},
            {"water_drive_jammed": True},
        ],
    )
    def test_anything_in_the_chain_stops_it(self, hurt: dict[str, object]) -> None:
        assert SOUND.drive_turns
        assert not SOUND.changed(**hurt).drive_turns

    def test_out_of_step_it_still_turns(self) -> None:
        assert SOUND.changed(steps_off=True, power=0.9).drive_turns
