"""What is physically the matter with a unit: each part, in order unless a number says not."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any, Literal

#: Where a valve stands that was not brought home; `between` lets water pass in several ways.
Stop = Literal["service", "backwash", "brine", "rinse", "refill", "between"]


@dataclass(frozen=True, slots=True)
class Leak:
    """What gets past a seal or a face: openings to the drain and, in the brine step, into the
    suction port (m2), and the part of the house's water that misses the resin."""

    drain_m2: float = 0.0
    jet_m2: float = 0.0
    past_resin: float = 0.0

    @property
    def there(self) -> bool:
        """Something leaks."""
        return self.drain_m2 > 0 or self.jet_m2 > 0 or self.past_resin > 0


TIGHT = Leak()


@dataclass(frozen=True, slots=True)
class Parts:
    """One unit's parts. `*_clear`: part of the bore that is open; `*_size`: size over the right
    one (inf: missing). Areas in m2, levels as a part of the float's right height."""

    # supply and plumbing
    supply: float = 1.0
    inlet_clear: float = 1.0
    reversed_ports: bool = False
    bypass_handle: float = 0.0
    bypass_leak: float = 0.0
    # valve
    seals: Leak = TIGHT
    faces: Leak = TIGHT
    piston: Leak = TIGHT
    crumb: Leak = TIGHT
    stands: Stop = "service"
    # drive and control
    motor_dead: bool = False
    gears_broken: bool = False
    steps_off: bool = False
    sensor_dead: bool = False
    board: Literal["sound", "frozen", "garbled", "silent"] = "sound"
    power: float = 1.0
    water_drive_jammed: bool = False
    changeover_stuck: bool = False
    # settings and meter
    clock_off_h: float = 0.0
    hardness_set: float = 1.0
    use_reckoned: float = 1.0
    dose_set: float = 1.0
    draw_set: float = 1.0
    rinse_set: float = 1.0
    dwell_set: float = 1.0
    automatic: bool = True
    meter_counts: float = 1.0
    # injector
    nozzle_clear: float = 1.0
    throat_clear: float = 1.0
    screen_clear: float = 1.0
    nozzle_size: float = 1.0
    throat_size: float = 1.0
    jet_seal_m2: float = 0.0
    # drain
    control_clear: float = 1.0
    control_size: float = 1.0
    line_clear: float = 1.0
    end_clear: float = 1.0
    line_longer_m: float = 0.0
    line_higher_m: float = 0.0
    line_bore: float = 1.0
    # brine line, air check, float, refill
    brine_line_clear: float = 1.0
    air_hole_m2: float = 0.0
    air_check: Literal["sound", "shut", "early", "open"] = "sound"
    float_level: float = 1.0
    refill_clear: float = 1.0
    refill_size: float = 1.0
    brine_valve_m2: float = 0.0
    # brine tank
    salt_short: bool = False
    salt_contact: float = 1.0
    mush_m: float = 0.0
    well_clear: float = 1.0
    salt_dirt: float = 0.0
    crack_m3_s: float = 0.0
    # resin and tank
    resin_there: float = 1.0
    resin_capacity: float = 1.0
    resin_drag: float = 1.0
    rust_mg_l: float = 0.0
    soft_beads: bool = False
    channels: float = 0.0
    basket_broken: bool = False
    riser_gap: float = 0.0
    upper_clear: float = 1.0
    salt_left_kg: float = 0.0
    slime: bool = False
    # what the house asks of it
    raw: float = 1.0
    use: float = 1.0
    night_use: bool = False
    # false alarms
    tap_is_raw: bool = False
    heater_hard: bool = False
    own_test_wrong: bool = False
    # outside every list: one symptom that nothing in the shop's list of repairs takes away
    beyond: Literal["", "cracked_body", "collapsed_hose", "rusty_pipe", "dead_leg"] = ""

    def changed(self, **parts: Any) -> Parts:
        """The same unit with these parts otherwise."""
        return replace(self, **parts)

    @property
    def leaks(self) -> Leak:
        """All that gets past the moving parts of the valve."""
        all_leaks = (self.seals, self.faces, self.piston, self.crumb)
        return Leak(
            math.fsum(leak.drain_m2 for leak in all_leaks),
            math.fsum(leak.jet_m2 for leak in all_leaks),
            min(1.0, math.fsum(leak.past_resin for leak in all_leaks)),
        )

    @property
    def drive_turns(self) -> bool:
        """The valve moves when a cycle is due."""
        return not (
            self.motor_dead
            or self.gears_broken
            or self.board != "sound"
            or self.power < LEAST_VOLTS
            or self.water_drive_jammed
        )


#: Controls give up below this part of their voltage. Judgement.
LEAST_VOLTS = 0.7

SOUND = Parts()
