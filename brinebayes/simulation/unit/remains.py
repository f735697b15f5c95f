"""Which of the faults put into a unit are left in it, told by the parts that they had changed."""

from __future__ import annotations

from collections.abc import Mapping

from brinebayes.simulation.unit.parts import SOUND, Parts

#: The parts by which each fault is known; a fault is there while any of them is not as it should
#: be. Parts that a fault takes along and another fault owns (resin washed out) are not named.
OWNS: Mapping[str, tuple[str, ...]] = {
    "salt_low": ("salt_short",),
    "salt_bridge": ("salt_contact",),
    "salt_mush": ("mush_m", "well_clear"),
    "salt_dirty": ("salt_dirt",),
    "tank_cracked": ("crack_m3_s",),
    "dwell_short": ("dwell_set",),
    "nozzle_clogged": ("nozzle_clear",),
    "throat_plugged": ("throat_clear",),
    "screen_clogged": ("screen_clear",),
    "injector_worn": ("nozzle_size", "throat_size"),
    "injector_seal_leak": ("jet_seal_m2",),
    "drain_control_blocked": ("control_clear",),
    "drain_control_wrong": ("control_size",),
    "drain_line_kinked": ("line_clear",),
    "drain_line_long_high": ("line_longer_m", "line_higher_m", "line_bore"),
    "drain_line_blocked": ("end_clear",),
    "air_leak": ("air_hole_m2",),
    "brine_line_blocked": ("brine_line_clear",),
    "refill_control_blocked": ("refill_clear",),
    "refill_control_wrong": ("refill_size",),
    "air_check_shut": ("air_check",),
    "air_check_open": ("air_check",),
    "float_shut": ("float_level",),
    "float_open": ("float_level",),
    "brine_valve_leaks": ("brine_valve_m2",),
    "seals_worn": ("seals",),
    "sealing_face_worn": ("faces",),
    "piston_scored": ("piston",),
    "debris_under_seal": ("crumb",),
    "motor_failed": ("motor_dead",),
    "gear_broken": ("gears_broken",),
    "position_lost": ("steps_off", "sensor_dead"),
    "board_failed": ("board",),
    "no_power": ("power",),
    "water_drive_stuck": ("water_drive_jammed",),
    "changeover_stuck": ("changeover_stuck",),
    "clock_wrong": ("clock_off_h",),
    "hardness_set_wrong": ("hardness_set",),
    "hardness_set_high": ("hardness_set",),
    "salt_dose_wrong": ("dose_set",),
    "step_times_wrong": ("draw_set", "rinse_set"),
    "regeneration_disabled": ("automatic",),
    "meter_stuck": ("meter_counts",),
    "bypass_open": ("bypass_handle",),
    "bypass_seal_leak": ("bypass_leak",),
    "pressure_low": ("supply",),
    "inlet_restricted": ("inlet_clear",),
    "ports_reversed": ("reversed_ports",),
    "raw_hardness_risen": ("raw",),
    "use_up": ("use",),
    "use_in_regeneration": ("night_use",),
    "resin_fouled": ("resin_capacity",),
    "resin_oxidised": ("soft_beads",),
    "resin_lost": ("resin_there",),
    "channelling": ("channels",),
    "distributor_broken": ("basket_broken",),
    "riser_seal_leaks": ("riser_gap",),
    "upper_screen_clogged": ("upper_clear",),
    "under_rinsed": ("salt_left_kg",),
    "biofilm": ("slime",),
    "raw_tap": ("tap_is_raw",),
    "heater_residual": ("heater_hard",),
    "test_error": ("own_test_wrong",),
    "other_cause": ("beyond",),
}

#: What a repair may do harm to.
HARMS = ("injector_seal_leak", "air_leak", "seals_worn", "position_lost", "riser_seal_leaks")


def still_there(fault: str, first: Parts, now: Parts) -> bool:
    """Whether a fault that was put in is left. Harder water, and more of it, stay as they are; they
    are no fault once the settings were reckoned for them."""
    if fault == "raw_hardness_risen":
        return now.hardness_set < 0.95 * now.raw
    if fault == "use_up":
        return now.use_reckoned < now.use
    if fault in ("hardness_set_wrong", "hardness_set_high"):
        return now.hardness_set == first.hardness_set
    if fault == "drain_line_long_high" and now.line_bore > 1:
        return now.line_higher_m > 0
    if fault == "resin_fouled":
        return now.resin_capacity < 0.9
    return any(getattr(now, part) != getattr(SOUND, part) for part in OWNS[fault])


def harmed(fault: str, first: Parts, now: Parts) -> bool:
    """Whether a part that was in order at first is not any more."""
    return any(
        getattr(first, part) == getattr(SOUND, part) != getattr(now, part) for part in OWNS[fault]
    )
