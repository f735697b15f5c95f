"""What each repair changes on the parts. How often it fails or does harm is judged by the trade's
sense of it: what is new holds, what is only cleaned mostly does, what is worn out does not."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from brinebayes.physics.hydraulics import circle_m2
from brinebayes.simulation.unit.chance import Chance
from brinebayes.simulation.unit.parts import SOUND, TIGHT, Leak, Parts


@dataclass(frozen=True, slots=True)
class Luck:
    """`each`: of this try alone; `kind`: what kind of damage it is, the same at every try."""

    each: Chance
    kind: Chance


Work = Callable[[Parts, Luck], Parts]

#: A seal pinched on reassembly opens a gap of this bore. Judgement.
PINCHED_M2 = circle_m2(1.0e-3)


def _all(*works: Work) -> Work:
    def do(parts: Parts, luck: Luck) -> Parts:
        for work in works:
            parts = work(parts, luck)
        return parts

    return do


def _renew(chance: float, *names: str) -> Work:
    """Puts parts back to what they should be, each with this chance at every try."""

    def do(parts: Parts, luck: Luck) -> Parts:
        done = {n: getattr(SOUND, n) for n in names if luck.each.happens(chance, "renew", n)}
        return parts.changed(**done)

    return do


def _clean(chance: float, *names: str) -> Work:
    """The same, but what does not yield to cleaning once does not yield the next time."""

    def do(parts: Parts, luck: Luck) -> Parts:
        done = {n: getattr(SOUND, n) for n in names if luck.kind.happens(chance, "clean", n)}
        return parts.changed(**done)

    return do


def _harm(chance: float, **what: object) -> Work:
    def do(parts: Parts, luck: Luck) -> Parts:
        if not luck.each.happens(chance, "harm", *what):
            return parts
        return parts.changed(**what)

    return do


def _home(parts: Parts, luck: Luck) -> Parts:
    """A drive that runs in step is let run home."""
    if parts.drive_turns and not (parts.steps_off or parts.sensor_dead or parts.piston.there):
        return parts.changed(stands="service")
    return parts


def _power(*kinds: str) -> Work:
    """Power is lost at the plug or switch (6 in 10), in the transformer (3), in the circuit (1)."""

    def do(parts: Parts, luck: Luck) -> Parts:
        drawn = luck.kind.uniform("where power is lost")
        where = "plug" if drawn < 0.6 else "transformer" if drawn < 0.9 else "circuit"
        return parts.changed(power=1.0) if where in kinds else parts

    return do


def _set_hardness(parts: Parts, luck: Luck) -> Parts:
    """By the raw water as tested today and the use as reckoned today."""
    return parts.changed(hardness_set=parts.raw, use_reckoned=max(parts.use, 1.0))


def _crumb_out(parts: Parts, luck: Luck) -> Parts:
    leaves = luck.kind.happens(0.67, "crumb") or luck.each.happens(0.2, "crumb after all")
    return parts.changed(crumb=TIGHT) if leaves else parts


def _teach(parts: Parts, luck: Luck) -> Parts:
    """Brings marks together; a dirty eye wiped clean is one dead sensor in four."""
    wiped = luck.kind.happens(0.25, "wiped")
    return parts.changed(
        steps_off=parts.steps_off and luck.each.happens(0.06, "off again"),
        sensor_dead=parts.sensor_dead and not wiped,
    )


def _ring_or_pipe(which: str) -> Work:
    """Raw water joins through an old ring (6 in 10) or a cross-connection."""

    def do(parts: Parts, luck: Luck) -> Parts:
        ring = luck.kind.happens(0.6, "ring")
        return parts.changed(bypass_leak=0.0) if ring == (which == "ring") else parts

    return do


def _wider_line(parts: Parts, luck: Luck) -> Parts:
    """Three-quarter-inch over the same way; it climbs as before."""
    return parts.changed(line_bore=1.5)


def _resin_cleaner(parts: Parts, luck: Luck) -> Parts:
    """Takes rust off; two beds in three come back to most of their charge."""
    if parts.soft_beads:
        return parts
    back = luck.kind.happens(0.67, "comes back")
    capacity = max(parts.resin_capacity, 0.95) if back else parts.resin_capacity
    return parts.changed(rust_mg_l=0.1 * parts.rust_mg_l, resin_capacity=capacity, resin_drag=1.0)


_JET = ("nozzle_clear", "throat_clear", "screen_clear", "nozzle_size", "throat_size")
_RESIN = (
    "resin_there",
    "resin_capacity",
    "resin_drag",
    "rust_mg_l",
    "soft_beads",
    "channels",
    "slime",
)
_DRIVE_OFF = {"steps_off": True, "stands": "between"}

REPAIRS: Mapping[str, Work] = {
    # salt and brine tank
    "add_salt": _renew(1.0, "salt_short"),
    "break_bridge": _clean(0.93, "salt_contact"),
    "clean_brine_tank": _all(
        _renew(1.0, "salt_short", "salt_contact", "mush_m", "well_clear", "salt_dirt"),
        _renew(0.9, "rust_mg_l"),
        _clean(0.3, "air_check", "float_level"),
    ),
    "replace_brine_tank": _renew(
        0.98, "crack_m3_s", "salt_short", "salt_contact", "mush_m", "well_clear", "salt_dirt"
    ),
    # injector
    "clean_injector": _all(
        _clean(0.9, "nozzle_clear", "throat_clear"),
        _renew(0.98, "screen_clear"),
        _clean(0.25, "jet_seal_m2"),
        _harm(0.02, jet_seal_m2=PINCHED_M2),
    ),
    "replace_injector": _renew(0.97, *_JET, "jet_seal_m2"),
    "replace_injector_seals": _renew(0.94, "jet_seal_m2", "screen_clear"),
    # drain
    "clean_drain_control": _renew(0.92, "control_clear"),
    "fit_drain_control": _renew(0.97, "control_clear", "control_size"),
    "straighten_drain_line": _renew(0.9, "line_clear"),
    "clear_drain_line": _clean(0.82, "end_clear"),
    "rerun_drain_line": _renew(
        0.97, "line_clear", "end_clear", "line_longer_m", "line_higher_m", "line_bore"
    ),
    "enlarge_drain_line": _all(_wider_line, _renew(0.97, "line_clear")),
    # brine line, float and refill
    "remake_joints": _renew(0.9, "air_hole_m2"),
    "replace_brine_line": _all(_renew(0.96, "brine_line_clear"), _renew(0.8, "air_hole_m2")),
    "clean_refill_control": _renew(0.92, "refill_clear"),
    "fit_refill_control": _renew(0.97, "refill_clear", "refill_size"),
    "clean_float": _clean(0.75, "air_check", "float_level"),
    "replace_float": _all(
        _renew(0.97, "air_check", "float_level"), _harm(0.02, air_hole_m2=circle_m2(3e-4))
    ),
    "renew_brine_valve": _renew(0.95, "brine_valve_m2"),
    # valve
    "flush_valve": _all(_crumb_out, _home),
    "replace_seals": _all(
        _renew(0.96, "seals", "crumb"), _harm(0.02, seals=Leak(drain_m2=PINCHED_M2)), _home
    ),
    "replace_piston": _all(
        _renew(0.96, "piston", "seals", "crumb"), _home, _harm(0.02, **_DRIVE_OFF)
    ),
    "replace_faces": _all(_renew(0.96, "faces", "crumb"), _home),
    "wash_out_valve": _all(
        _renew(0.92, "crumb"),
        _clean(0.25, "piston"),
        _harm(0.02, seals=Leak(drain_m2=PINCHED_M2)),
        _home,
    ),
    # drive
    "teach_position": _all(_teach, _home),
    "replace_sensor": _all(_renew(0.97, "sensor_dead"), _renew(0.85, "steps_off"), _home),
    "replace_motor": _all(_renew(0.98, "motor_dead"), _home, _harm(0.02, **_DRIVE_OFF)),
    "replace_gears": _all(_renew(0.96, "gears_broken"), _home, _harm(0.03, **_DRIVE_OFF)),
    "replace_board": _all(
        _renew(0.98, "board", "automatic", "clock_off_h", "draw_set", "rinse_set", "dwell_set"),
        _renew(0.6, "steps_off"),
        _home,
    ),
    "bring_power_back": _all(_power("plug"), _home),
    "replace_transformer": _all(_power("transformer"), _home),
    "call_electrician": _all(_power("plug", "circuit"), _home),
    "clean_water_drive": _all(_clean(0.85, "water_drive_jammed"), _home),
    "replace_water_drive": _all(_renew(0.97, "water_drive_jammed"), _home),
    "free_changeover": _clean(0.8, "changeover_stuck"),
    "replace_changeover": _renew(0.97, "changeover_stuck"),
    # settings and meter
    "set_clock": _renew(1.0, "clock_off_h"),
    "set_hardness": _set_hardness,
    "set_dose": _renew(0.98, "dose_set"),
    "set_step_times": _renew(0.98, "draw_set", "rinse_set", "dwell_set"),
    "move_hour": _renew(0.95, "night_use"),
    "switch_on_regeneration": _renew(1.0, "automatic"),
    "clean_meter": _clean(0.85, "meter_counts"),
    "replace_meter": _renew(0.97, "meter_counts"),
    # plumbing and supply
    "set_bypass": _renew(0.98, "bypass_handle"),
    "replace_bypass_seals": _all(_renew(0.97, "bypass_handle"), _ring_or_pipe("ring")),
    "find_cross_connection": _ring_or_pipe("pipe"),
    "raise_pressure": _renew(0.9, "supply"),
    "open_inlet": _renew(0.96, "inlet_clear"),
    "correct_ports": _renew(0.98, "reversed_ports"),
    "plan_larger_unit": _renew(1.0, "use"),
    # resin and tank
    "rinse_again": _renew(0.98, "salt_left_kg"),
    "long_backwash": _clean(0.5, "channels"),
    "clean_resin": _resin_cleaner,
    "sanitise": _clean(0.85, "slime"),
    "reseat_riser": _all(_renew(0.94, "riser_gap"), _clean(0.4, "upper_clear")),
    "clean_upper_screen": _all(_renew(0.95, "upper_clear"), _clean(0.4, "riser_gap")),
    "top_up_resin": _renew(0.97, "resin_there"),
    "rebed": _all(
        _renew(0.98, *_RESIN, "upper_clear"),
        _renew(0.9, "riser_gap"),
        _harm(0.02, riser_gap=0.15),
    ),
    "replace_distributor": _renew(0.97, *_RESIN, "basket_broken", "upper_clear", "riser_gap"),
    # false alarms
    "show_taps": _renew(0.96, "tap_is_raw", "own_test_wrong"),
    "flush_heater": _clean(0.85, "heater_hard"),
}

#: After these the brine tank holds one refill of good brine; after any repair at most that is left
#: in it, as an overfull tank is bailed out (common practice).
MAKES_BRINE = frozenset({"add_salt", "break_bridge", "clean_brine_tank", "replace_brine_tank"})
