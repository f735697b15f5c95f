"""What the customer tells of the weeks before."""

from __future__ import annotations

import pytest

from brinebayes.simulation.unit import asked
from brinebayes.simulation.unit.parts import SOUND
from tests.simulation.unit.houses import commonest, scene


class TestPattern:
    """Hardness over a run, by the trade's second table."""

    @pytest.mark.parametrize(
        ("hurt", "wanted"),
        [
            ({}, {"always_soft"}),
            ({"motor_dead": True}, {"soft_then_hard", "always_hard"}),
            ({"hardness_set": 0.5}, {"soft_then_hard"}),
            ({"raw": 2.0}, {"soft_then_hard"}),
            ({"riser_gap": 0.3}, {"constant_blend"}),
            ({"bypass_leak": 0.1}, {"constant_blend"}),
            ({"bypass_handle": 1.0}, {"always_hard"}),
            ({"clock_off_h": 5.0}, {"soft_then_hard"}),
        ],
    )
    def test_what_the_house_meets(self, hurt: dict[str, object], wanted: set[str]) -> None:
        at = scene(SOUND.changed(**hurt))
        assert asked.pattern(at.log, at.site, at.parts) in wanted


class TestSaltTrend:
    """Salt over the weeks."""

    @pytest.mark.parametrize(
        ("hurt", "wanted"),
        [
            ({}, "goes_down"),
            ({"salt_contact": 3e-4}, "stays"),
            ({"automatic": False}, "stays"),
            ({"hardness_set": 3.0}, "goes_fast"),
            ({"salt_short": True}, "goes_down"),
        ],
    )
    def test_what_is_seen(self, hurt: dict[str, object], wanted: str) -> None:
        assert commonest(asked.salt_trend, scene(SOUND.changed(**hurt))) == wanted


class TestRunTrend:
    """Resin goes slowly."""

    def test_slow_and_sudden(self) -> None:
        worn = SOUND.changed(resin_capacity=0.3)
        assert commonest(asked.run_trend, scene(worn)) == "slow_decline"
        assert commonest(asked.run_trend, scene(SOUND.changed(meter_counts=0.0))) == "sudden"
        assert commonest(asked.run_trend, scene()) == "no_change"


class TestCycleHeard:
    """Water at night."""

    def test_not_heard_where_nothing_runs(self) -> None:
        assert commonest(asked.cycle_heard, scene(SOUND.changed(power=0.0))) == "not_heard"


class TestFalseAlarms:
    """What a customer has in mind while the water is soft."""

    def test_each_tells_itself(self) -> None:
        raw, hot, test = (
            scene(SOUND.changed(**{name: True}))
            for name in ("tap_is_raw", "heater_hard", "own_test_wrong")
        )
        assert commonest(asked.which_tap, raw) == "some_taps"
        assert commonest(asked.which_tap, hot) == "hot_only"
        assert commonest(asked.how_noticed, test) == "by_own_test"
