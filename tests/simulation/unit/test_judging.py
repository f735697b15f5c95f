"""Works, proof, complaint."""

from __future__ import annotations

import pytest

from brinebayes.physics.hydraulics import circle_m2
from brinebayes.simulation.unit import judging
from brinebayes.simulation.unit.chance import Chance
from brinebayes.simulation.unit.parts import SOUND, Leak
from tests.simulation.unit.houses import scene


def symptoms(**hurt: object) -> set[str]:
    """Names of the symptoms of one house with these parts."""
    at = scene(SOUND.changed(**hurt))
    return {each.name for each in judging.symptoms(at.site, at.parts, at.log, 7)}


class TestSymptoms:
    """What is not as it should be."""

    @pytest.mark.parametrize(
        ("hurt", "wanted"),
        [
            ({"motor_dead": True}, {"hard", "stands_still"}),
            ({"bypass_leak": 0.2}, {"hard"}),
            ({"seals": Leak(drain_m2=circle_m2(1e-3))}, {"runs"}),
            ({"hardness_set": 3.0}, {"eats_salt"}),
            ({"salt_left_kg": 0.4}, {"salty"}),
            ({"control_clear": 0.1}, {"weak_backwash"}),
            ({"supply": 0.35}, {"poor_supply"}),
            ({"upper_clear": 0.012}, {"resists"}),
            ({"basket_broken": True}, {"beads"}),
            ({"rust_mg_l": 1.0}, {"coloured"}),
            ({"slime": True}, {"smells"}),
            ({"sensor_dead": True}, {"out_of_step"}),
            ({"beyond": "dead_leg"}, {"smells"}),
        ],
    )
    def test_each_shows(self, hurt: dict[str, object], wanted: set[str]) -> None:
        assert wanted <= symptoms(**hurt)

    @pytest.mark.parametrize(
        "hurt",
        [{}, {"tap_is_raw": True}, {"nozzle_clear": 0.95}, {"line_clear": 0.5}, {"dose_set": 1.1}],
    )
    def test_a_slight_thing_or_a_false_alarm_leaves_it_working(
        self, hurt: dict[str, object]
    ) -> None:
        """The unit works by what it does, not by the absence of faults."""
        assert symptoms(**hurt) == set()


class TestPassesProof:
    """A short cycle with bucket, tape, jug and kit, and a look at salt, settings and meter.

    Clock and settings are noted before leaving (common practice), and what is written down is read.
    """

    @pytest.mark.parametrize(
        ("hurt", "passes"),
        [
            ({}, True),
            ({"resin_capacity": 0.5}, True),
            ({"brine_valve_m2": 1e-8}, True),
            ({"float_level": 2.5}, False),
            ({"float_level": 0.3}, False),
            ({"crack_m3_s": 1e-8}, False),
            ({"use": 4.0}, True),
            ({"meter_counts": 0.0}, False),
            ({"hardness_set": 0.7}, False),
            ({"salt_contact": 1e-3}, False),
            ({"air_check": "shut"}, False),
            ({"line_clear": 0.005}, False),
            ({"refill_clear": 0.05}, False),
            ({"bypass_handle": 1.0}, False),
            ({"seals": Leak(drain_m2=1e-6)}, False),
            ({"motor_dead": True}, False),
            ({"riser_gap": 0.3}, False),
        ],
    )
    def test_sees_flows_and_not_what_takes_days(
        self, hurt: dict[str, object], passes: bool
    ) -> None:
        passed = [
            judging.passes_proof(scene(SOUND.changed(**hurt), luck=number)) for number in range(5)
        ]
        assert (sum(passed) >= 3) is passes


class TestStillComplainedOf:
    """What they called about is looked at again before leaving (common practice)."""

    @pytest.mark.parametrize(
        ("hurt", "complaint"),
        [
            ({"slime": True}, "smelly_water"),
            ({"rust_mg_l": 1.5}, "coloured_water"),
            ({"basket_broken": True}, "resin_at_taps"),
            ({"upper_clear": 0.012}, "low_pressure"),
            ({"supply": 0.3}, "low_pressure"),
        ],
    )
    def test_only_where_it_was_said(self, hurt: dict[str, object], complaint: str) -> None:
        scenes = [scene(SOUND.changed(**hurt), luck=number) for number in range(5)]
        said = [judging.still_complained_of(one, (complaint, "hard_water")) for one in scenes]
        assert sum(said) >= 3
        assert not any(judging.still_complained_of(one, ("hard_water",)) for one in scenes)

    def test_gone_where_all_is_in_order(self) -> None:
        said = ("smelly_water", "coloured_water", "resin_at_taps", "low_pressure")
        gone = [not judging.still_complained_of(scene(luck=n), said) for n in range(8)]
        assert sum(gone) >= 7


class TestComplaints:
    """What is said."""

    def test_what_there_is_to_notice_is_said_more_often(self) -> None:
        cases = {
            "hard_water": {"bypass_handle": 1.0},
            "salt_unused": {"automatic": False},
            "runs_to_drain": {"seals": Leak(drain_m2=circle_m2(2e-3))},
            "smelly_water": {"slime": True},
            "resin_at_taps": {"basket_broken": True},
            "too_much_salt": {"hardness_set": 3.0},
            "salty_water": {"salt_left_kg": 0.5},
            "coloured_water": {"rust_mg_l": 1.5},
            "low_pressure": {"supply": 0.35},
        }
        sound = scene()
        for complaint, hurt in cases.items():
            at = scene(SOUND.changed(**hurt))

            def said(of: object, name: str) -> int:
                spoken = [
                    judging.complaints(of.site, of.parts, of.log, Chance(f"c{n}"))  # type: ignore[attr-defined]
                    for n in range(60)
                ]
                return sum(name in each for each in spoken)

            assert said(at, complaint) > 20 > 6 > said(sound, complaint), complaint
