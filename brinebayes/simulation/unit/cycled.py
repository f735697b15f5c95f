"""What is seen and measured while the valve is led through its cycle; the brine step is apart.

A valve whose drive has failed is led through it by hand, as the trade does with the hand knob.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from brinebayes.simulation.unit import flows, pail, service
from brinebayes.simulation.unit.looked import COLOURED_MG_L
from brinebayes.simulation.unit.parts import LEAST_VOLTS
from brinebayes.simulation.unit.scene import LOOKED, MEASURED, Answer, Question, Scene

#: Backwash within a quarter of the tank's figure is right (the check's own words); far more than
#: that, and a mere stream, are judged.
LOW_BACKWASH, HIGH_BACKWASH, STREAM = 0.75, 1.35, 0.15

#: Beads are carried out from about twice the rate that lifts the bed. Judgement.
CARRIES_BEADS = 1.9


def drive_watched(scene: Scene) -> str:
    parts = scene.parts
    dead = parts.motor_dead or parts.board != "sound" or parts.power < LEAST_VOLTS
    if dead or parts.water_drive_jammed:
        return "nothing_turns"
    if parts.gears_broken:
        return "turns_valve_still"
    sticks = parts.piston.there and parts.stands != "service"
    lost = parts.steps_off or parts.sensor_dead or sticks
    return "misses_its_stop" if lost and not scene.misses(0.06) else "right_stops"


def crumb_leaves(scene: Scene) -> bool:
    """Two of three crumbs leave with the first strong flow. Judgement."""
    return scene.person.happens(0.67, "crumb")


def drain_after_recycle(scene: Scene) -> str:
    parts = scene.parts
    if crumb_leaves(scene):
        parts = replace(parts, crumb=replace(parts.crumb, drain_m2=0.0))
    # What was led through by hand is led home by hand; a drive out of step stops off home again.
    if not (parts.steps_off or parts.sensor_dead or parts.piston.there):
        parts = replace(parts, stands="service")
    runs = service.passing_m3_s(scene.site, parts) > service.SEEN_M3_S
    return "still_runs" if runs else "dry_again"


def backwash_at_drain(scene: Scene) -> Answer:
    flow = pail.timed(scene, flows.backwash_m3_s(scene.site, scene.parts))
    ratio = flow / scene.site.backwash_m3_s
    return Answer(
        "hardly_any"
        if ratio < STREAM
        else "low"
        if ratio < LOW_BACKWASH
        else "too_much"
        if ratio > HIGH_BACKWASH
        else "full",
        pail.gpm(flow),
    )


def backwash_look(scene: Scene) -> str:
    """After some minutes a sound bed runs clear."""
    parts = scene.parts
    if parts.soft_beads and scene.luck.happens(0.6, "crumbs"):
        return "crumbs"
    rust = parts.rust_mg_l * scene.luck.factor(0.4, "stirred") * 2
    return "rusty_water" if rust > COLOURED_MG_L else "clears_up"


def beads_in_drain(scene: Scene) -> str:
    flow = flows.backwash_m3_s(scene.site, scene.parts)
    carried = flow > CARRIES_BEADS * scene.site.backwash_m3_s * scene.luck.factor(0.1, "lift")
    return "whole_beads" if carried else "no_beads"


def backwash_line_off(scene: Scene) -> Answer:
    flow = pail.timed(scene, flows.backwash_m3_s(scene.site, scene.parts, "off"))
    ratio = flow / scene.site.backwash_m3_s
    word = "still_low" if ratio < LOW_BACKWASH else "gushes" if ratio > 1.7 else "full"
    return Answer(word, pail.gpm(flow))


def tank_takes_over(scene: Scene) -> str:
    return "stays" if scene.parts.changeover_stuck or not scene.parts.drive_turns else "takes_over"


def refill_rate(scene: Scene) -> Answer:
    flow = pail.timed(scene, flows.refill_m3_s(scene.site, scene.parts), small=True)
    ratio = flow / scene.site.refill_m3_s
    word = "little_or_none" if ratio < 0.6 else "too_fast" if ratio > 1.6 else "right"
    return Answer(word, pail.gpm(flow))


def joints_found(scene: Scene) -> str:
    """Under pressure a hole of a tenth of a millimetre only sweats."""
    there = scene.parts.air_hole_m2 > 0
    small = scene.parts.air_hole_m2 < 3e-8
    found = there and not scene.misses(0.3 if small else 0.08)
    return "wet_or_loose" if found or scene.luck.happens(0.03, "wet") else "dry_joints"


ANSWERS: Mapping[str, Question] = {
    "drive_watched": Question(
        drive_watched,
        ("right_stops", "misses_its_stop", "turns_valve_still", "nothing_turns"),
        MEASURED,
    ),
    "drain_after_recycle": Question(drain_after_recycle, ("dry_again", "still_runs"), MEASURED),
    "backwash_at_drain": Question(
        backwash_at_drain, ("full", "too_much", "low", "hardly_any"), MEASURED
    ),
    "backwash_look": Question(backwash_look, ("clears_up", "rusty_water", "crumbs"), LOOKED),
    "beads_in_drain": Question(beads_in_drain, ("no_beads", "whole_beads"), LOOKED),
    "backwash_line_off": Question(backwash_line_off, ("full", "still_low", "gushes"), MEASURED),
    "tank_takes_over": Question(tank_takes_over, ("takes_over", "stays"), LOOKED),
    "refill_rate": Question(refill_rate, ("right", "little_or_none", "too_fast"), MEASURED),
    "joints_found": Question(joints_found, ("dry_joints", "wet_or_loose"), LOOKED),
}
