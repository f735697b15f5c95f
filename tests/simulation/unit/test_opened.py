"""What is found in the hand."""

from __future__ import annotations

import math

import pytest

from brinebayes.simulation.unit import opened
from brinebayes.simulation.unit.parts import SOUND, Leak
from tests.simulation.unit.houses import commonest, scene

WORN = Leak(drain_m2=1e-6)


class TestOpened:
    """One part that is hurt, and how it looks."""

    @pytest.mark.parametrize(
        ("look", "hurt", "wanted"),
        [
            ("motor_winding", {"motor_dead": True}, "open_circuit"),
            ("gears_seen", {"gears_broken": True}, "broken"),
            ("gears_seen", {"steps_off": True}, "out_of_step"),
            ("gears_seen", {"sensor_dead": True}, "sound_gears"),
            ("water_drive_found", {"water_drive_jammed": True}, "jammed"),
            ("injector_found", {"nozzle_clear": 0.2}, "nozzle_dirty"),
            ("injector_found", {"throat_clear": 0.1}, "throat_shut"),
            ("injector_found", {"nozzle_size": 1.5, "throat_size": 1.5}, "worn_or_wrong"),
            ("screen_found", {"screen_clear": 0.01}, "clogged"),
            ("injector_seal_found", {"jet_seal_m2": 1e-6}, "damaged"),
            ("injector_seal_found", {"seals": WORN}, "whole_seals"),
            ("control_found", {"control_clear": 0.1}, "blocked"),
            ("control_found", {"control_size": math.inf}, "missing_or_wrong"),
            ("air_check_found", {"air_check": "early"}, "shut"),
            ("air_check_found", {"air_check": "open"}, "stays_open"),
            ("float_found", {"float_level": 0.0}, "shut_or_low"),
            ("float_found", {"float_level": math.inf}, "open_or_high"),
            ("refill_control_found", {"refill_clear": 0.1}, "blocked"),
            ("refill_control_found", {"refill_size": 2.0}, "missing_or_wrong"),
            ("brine_valve_found", {"brine_valve_m2": 1e-8}, "dirty_or_cut"),
            ("seals_found", {"seals": WORN}, "worn"),
            ("seals_found", {"faces": WORN}, "face_worn"),
            ("piston_found", {"piston": WORN}, "scored_or_stiff"),
            ("upper_found", {"upper_clear": 0.02}, "clogged_screen"),
            ("riser_found", {"riser_gap": 0.2}, "damaged_riser"),
            ("bed_depth", {"resin_there": 0.5}, "low_bed"),
            ("bed_depth", {"channels": 0.2}, "uneven_bed"),
            ("resin_seen", {"soft_beads": True, "resin_capacity": 0.7}, "soft_beads"),
            ("resin_seen", {"resin_capacity": 0.5}, "rusty_beads"),
            ("distributor_found", {"basket_broken": True}, "broken_basket"),
        ],
    )
    def test_seen_by_most(self, look: str, hurt: dict[str, object], wanted: str) -> None:
        at = scene(SOUND.changed(**hurt))
        assert commonest(opened.ANSWERS[look].look, at) == wanted

    @pytest.mark.parametrize("look", opened.ANSWERS)
    def test_the_first_outcome_is_that_of_a_sound_part(self, look: str) -> None:
        question = opened.ANSWERS[look]
        assert commonest(question.look, scene()) == question.outcomes[0]
