"""Which physical change stands for which fault: one row per fault of the model."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from brinebayes.physics.units import GAL_PER_DAY
from brinebayes.simulation.unit import extent
from brinebayes.simulation.unit.chance import Chance
from brinebayes.simulation.unit.parts import Parts
from brinebayes.simulation.unit.site import Site


@dataclass(frozen=True, slots=True)
class Damage:
    """A fault as a change of the parts; `says`: in words."""

    says: str
    change: Callable[[Parts, Site, Chance], Parts]


def damaged(parts: Parts, faults: tuple[str, ...], site: Site, chance: Chance) -> Parts:
    """The parts with these faults in them. Raises `KeyError` for a fault that is not here."""
    for fault in faults:
        parts = DAMAGES[fault].change(parts, site, chance.part("damage", fault))
    return parts


DAMAGES: Mapping[str, Damage] = {
    # salt and brine tank
    "salt_low": Damage("the salt is used up but for a crust", extent.always(salt_short=True)),
    "salt_bridge": Damage(
        "a crust hangs over a hollow; a hundredth of the salt's surface or less is wetted",
        lambda p, s, c: p.changed(salt_contact=c.evenly_in_ratio(2e-4, 4e-3, "wetted")),
    ),
    "salt_mush": Damage("3 to 12 in of sludge round the well, whose slots it shuts", extent.mush),
    "salt_dirty": Damage("the salt carries clay or rust", extent.dirt),
    "tank_cracked": Damage(
        "brine runs out of the tank, 0.4 to 6 gallons a day",
        lambda p, s, c: p.changed(crack_m3_s=GAL_PER_DAY.to_si(c.evenly_in_ratio(0.4, 6, "crack"))),
    ),
    "dwell_short": Damage(
        "brine is drawn 3 to 25 per cent of the set wait after the refill",
        lambda p, s, c: p.changed(dwell_set=c.between(0.03, 0.25, "wait")),
    ),
    # injector
    "nozzle_clogged": Damage("6 to 55 per cent of the nozzle's bore is open", extent.nozzle),
    "throat_plugged": Damage(
        "2 to 25 per cent of the throat's bore is open",
        extent.bore_left(0.02, 0.25, "throat_clear"),
    ),
    "screen_clogged": Damage(
        "the screen passes what 0.3 to 3 per cent of its bore would",
        extent.bore_left(0.003, 0.03, "screen_clear"),
    ),
    "injector_worn": Damage(
        "the nozzle is worn wide, or both are a size off", extent.worn_injector
    ),
    "injector_seal_leak": Damage(
        "a gap of 0.4 to 1.6 mm lets inlet water into the suction port",
        lambda p, s, c: p.changed(jet_seal_m2=extent.bore(0.4, 1.6, c, "gap")),
    ),
    # drain
    "drain_control_blocked": Damage(
        "3 to 45 per cent of the drain control's bore is open",
        extent.bore_left(0.03, 0.45, "control_clear"),
    ),
    "drain_control_wrong": Damage("missing, or of another tank's size", extent.drain_control_wrong),
    "drain_line_kinked": Damage(
        "the line is pinched to 0.4 to 5 per cent of its bore",
        extent.bore_left(0.004, 0.05, "line_clear"),
    ),
    "drain_line_long_high": Damage("a longer, higher or narrower line", extent.long_high),
    "drain_line_blocked": Damage(
        "ice or slime leaves 0.1 to 6 per cent of its end",
        extent.bore_left(0.001, 0.06, "end_clear"),
    ),
    # brine line, float and refill
    "air_leak": Damage(
        "a hole of 0.05 to 0.45 mm above the brine",
        lambda p, s, c: p.changed(air_hole_m2=extent.bore(0.05, 0.45, c, "hole")),
    ),
    "brine_line_blocked": Damage(
        "0.003 to 2 per cent of the brine line's bore is open",
        extent.bore_left(3e-5, 0.02, "brine_line_clear"),
    ),
    "refill_control_blocked": Damage(
        "2 to 45 per cent of the refill control's bore is open",
        extent.bore_left(0.02, 0.45, "refill_clear"),
    ),
    "refill_control_wrong": Damage("missing, or two or three times too large", extent.refill_wrong),
    "air_check_shut": Damage("the ball sits on its seat, or drops on it early", extent.air_check),
    "air_check_open": Damage("the ball does not reach its seat", extent.always(air_check="open")),
    "float_shut": Damage("the float shuts at once, or far too low", extent.float_shut),
    "float_open": Damage("the float never shuts, or far too high", extent.float_open),
    "brine_valve_leaks": Damage(
        "a gap at its seat passes about 0.7 to 35 gallons a day",
        lambda p, s, c: p.changed(brine_valve_m2=extent.bore(0.05, 0.35, c, "seat")),
    ),
    # valve
    "seals_worn": Damage(
        "gaps to the drain, to the brine chamber or past the resin",
        lambda p, s, c: p.changed(seals=extent.worn(c)),
    ),
    "sealing_face_worn": Damage(
        "as worn seals, at the disc or diaphragm", lambda p, s, c: p.changed(faces=extent.worn(c))
    ),
    "piston_scored": Damage("grooves leak; it may stop short of its place", extent.piston),
    "debris_under_seal": Damage("a crumb holds one seal open", extent.crumb),
    # drive
    "motor_failed": Damage("the winding is open", extent.drive("motor_dead", 0.08)),
    "gear_broken": Damage(
        "motor and valve are no longer joined", extent.drive("gears_broken", 0.25)
    ),
    "position_lost": Damage("the control's home is not the valve's", extent.position),
    "board_failed": Damage("the control does not run the motor", extent.board),
    "no_power": Damage("no voltage, or far too little, at the control", extent.power),
    "water_drive_stuck": Damage("the wheel is jammed", extent.drive("water_drive_jammed", 0.2)),
    "changeover_stuck": Damage(
        "the shuttle stays on one tank", extent.always(changeover_stuck=True)
    ),
    # settings and meter
    "clock_wrong": Damage("the clock is 4 to 15 hours off", extent.clock),
    "hardness_set_wrong": Damage(
        "the setting is 30 to 75 per cent of the right one",
        lambda p, s, c: p.changed(hardness_set=c.between(0.3, 0.75, "set")),
    ),
    "hardness_set_high": Damage(
        "the setting is 1.8 to 3.5 times the right one",
        lambda p, s, c: p.changed(hardness_set=c.between(1.8, 3.5, "set")),
    ),
    "salt_dose_wrong": Damage("the refill time is 0.2 to 0.6 or 1.7 to 3 times right", extent.dose),
    "step_times_wrong": Damage("the draw or the rinses end far too early", extent.steps),
    "regeneration_disabled": Damage("automatic start is off", extent.always(automatic=False)),
    "meter_stuck": Damage(
        "the meter counts nothing, or up to a third",
        lambda p, s, c: p.changed(
            meter_counts=0.0 if c.happens(0.7, "still") else c.between(0.03, 0.35, "part")
        ),
    ),
    # plumbing and supply
    "bypass_open": Damage("the bypass stands 5 to 100 per cent open", extent.bypass),
    "bypass_seal_leak": Damage("raw water joins behind the unit", extent.bypass_leak),
    "pressure_low": Damage(
        "the house gets 30 to 55 per cent of its pressure",
        lambda p, s, c: p.changed(supply=c.between(0.3, 0.55, "supply")),
    ),
    "inlet_restricted": Damage(
        "cartridge or stop valve leave 1.5 to 7 per cent of the bore",
        extent.bore_left(0.015, 0.07, "inlet_clear"),
    ),
    "ports_reversed": Damage("service flow lifts the bed towards the house", extent.reversed),
    # what the house asks of it
    "raw_hardness_risen": Damage(
        "the raw water is 1.35 to 2.2 times as hard",
        lambda p, s, c: p.changed(raw=c.between(1.35, 2.2, "raw")),
    ),
    "use_up": Damage(
        "the house uses 2.5 to 6 times the water",
        lambda p, s, c: p.changed(use=c.between(2.5, 6.0, "use")),
    ),
    "use_in_regeneration": Damage(
        "water runs in the house at night", extent.always(night_use=True)
    ),
    # resin and tank
    "resin_fouled": Damage("35 to 80 per cent of the capacity, rust on the beads", extent.fouled),
    "resin_oxidised": Damage(
        "50 to 85 per cent of the capacity, beads pressed flat", extent.oxidised
    ),
    "resin_lost": Damage(
        "20 to 75 per cent of the resin is there",
        lambda p, s, c: p.changed(resin_there=c.between(0.2, 0.75, "resin")),
    ),
    "channelling": Damage(
        "6 to 35 per cent of the water runs past the beads",
        lambda p, s, c: p.changed(channels=c.between(0.06, 0.35, "past")),
    ),
    "distributor_broken": Damage("beads leave with the water", extent.basket),
    "riser_seal_leaks": Damage(
        "6 to 40 per cent of the water goes from above the bed into the riser",
        lambda p, s, c: p.changed(riser_gap=c.between(0.06, 0.4, "gap")),
    ),
    "upper_screen_clogged": Damage(
        "1 to 2.2 per cent of the upper screen's bore is open",
        extent.bore_left(0.01, 0.022, "upper_clear"),
    ),
    "under_rinsed": Damage("0.1 to 0.8 kg of salt were left in the bed", extent.rinse_cut),
    "biofilm": Damage("slime in the bed and the brine tank", extent.always(slime=True)),
    # false alarms
    "raw_tap": Damage("the tap they mean hangs on the raw pipe", extent.always(tap_is_raw=True)),
    "heater_residual": Damage("the heater is full of hard water", extent.always(heater_hard=True)),
    "test_error": Damage("their test does not show hardness", extent.always(own_test_wrong=True)),
    # beyond the model
    "other_cause": Damage(
        "a cracked valve body, a collapsed hose, a rusty pipe or a dead leg of pipe", extent.beyond
    ),
}
