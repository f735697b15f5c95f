"""What is seen and measured while the valve is led through its cycle.

A valve whose drive has failed is led through it by hand, as the trade does with the hand knob.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from brinebayes.physics import brine
from brinebayes.physics.units import GPM, IN, IN_HG, MINUTE, PSI, WT_PERCENT
from brinebayes.simulation.unit import flows, jet, service
from brinebayes.simulation.unit.looked import COLOURED_MG_L
from brinebayes.simulation.unit.parts import LEAST_VOLTS, SOUND
from brinebayes.simulation.unit.regeneration import bed_water_m3, regenerate
from brinebayes.simulation.unit.scene import LOOKED, MEASURED, Answer, Question, Scene
from brinebayes.simulation.unit.tested import static_in_tank_m3

#: A pail that nobody has checked is five to ten per cent off (judged in the trade's notes).
PAIL = 0.06

#: Backwash within a quarter of the tank's figure is right (the check's own words); far more than
#: that, and a mere stream, are judged.
LOW_BACKWASH, HIGH_BACKWASH, STREAM = 0.75, 1.35, 0.15

#: Beads are carried out from about twice the rate that lifts the bed. Judgement.
CARRIES_BEADS = 1.9

#: Of a sound brine step a third to a half is brine; what is missing is told from a fifth on.
#: Judgement on the ranges of the trade.
BOTH, MOTIVE, TRICKLE = 0.82, 0.45, 0.08
FALLS, SLOWLY, RISES = 0.65, 0.12, -0.08
DROPS = 0.2

#: Of the sound unit's suction. Judgement: half of it holds no thumb, an inch or two of mercury
#: is not felt.
STRONG, FELT = 0.5, 0.06

#: Steady bubbles from this part of air in the drain's flow. Judgement.
BUBBLES = 0.03

#: A rinse is at its end when the drain has less than this over the raw water: 1.5 g/L. Judgement.
RINSED_KG_M3 = 1.5

#: Salt at the drain is clear from a fifth of the ten per cent that a bed is brined with. Judgement.
SALTY_DRAIN = 0.02


def _pail(scene: Scene, flow_m3_s: float, *, small: bool = False) -> float:
    """A flow by pail and watch: the pail's own error all visit, the watch's each time."""
    marks = scene.person.factor(0.03 if small else PAIL, "jug" if small else "pail")
    return flow_m3_s * marks * (1 + 0.02 * scene.luck.normal("watch"))


def _gpm(flow_m3_s: float) -> str:
    return f"{max(GPM.from_si(flow_m3_s), 0.0):.2f} gpm"


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
    flow = _pail(scene, flows.backwash_m3_s(scene.site, scene.parts))
    ratio = flow / scene.site.backwash_m3_s
    return Answer(
        "hardly_any"
        if ratio < STREAM
        else "low"
        if ratio < LOW_BACKWASH
        else "too_much"
        if ratio > HIGH_BACKWASH
        else "full",
        _gpm(flow),
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
    flow = _pail(scene, flows.backwash_m3_s(scene.site, scene.parts, "off"))
    ratio = flow / scene.site.backwash_m3_s
    word = "still_low" if ratio < LOW_BACKWASH else "gushes" if ratio > 1.7 else "full"
    return Answer(word, _gpm(flow))


def suction_line_off(scene: Scene) -> str:
    """A fifth more brine, or of the drain's flow, is clearly better."""
    on, off = scene.draw, jet.brine_draw(scene.site, scene.parts, line="off")
    sound = scene.sound_draw
    better = (off.brine_m3_s - on.brine_m3_s) / sound.brine_m3_s > 0.2
    better = better or (off.drain_m3_s - on.drain_m3_s) / sound.drain_m3_s > 0.2
    return "stronger" if better else "unchanged"


def drain_in_draw(scene: Scene) -> Answer:
    flow = _pail(scene, scene.draw.drain_m3_s, small=True)
    ratio = flow / (scene.sound_draw.drain_m3_s * scene.person.factor(0.07, "injector table"))
    return Answer(
        "trickle"
        if ratio < TRICKLE
        else "low"
        if ratio < MOTIVE
        else "motive_only"
        if ratio < BOTH
        else "motive_and_brine",
        _gpm(flow),
    )


def bubbles(scene: Scene) -> str:
    seen = scene.draw.air > BUBBLES or scene.luck.happens(0.03, "first air")
    return "from_the_start" if seen else "none_seen"


def level_in_draw(scene: Scene) -> Answer:
    """Ten minutes by tape; a tank with next to nothing in it has nothing to fall."""
    site, draw = scene.site, scene.draw
    volume = draw.brine_m3_s * MINUTE.to_si(10)
    if volume > 0:
        volume = min(volume, max(static_in_tank_m3(scene) - site.rest_m3, 0.0))
    fall = brine.height_m(volume, site.brine_tank_m, site.open_part)
    wanted = scene.sound_draw.brine_m3_s * scene.person.factor(0.1, "draw table")
    usual = min(wanted * MINUTE.to_si(10), site.normal_brine_m3)
    usual_m = brine.height_m(usual, site.brine_tank_m, site.open_part)
    read = fall + IN.to_si(0.06) * scene.luck.normal("tape")
    ratio = read / usual_m
    return Answer(
        "rises"
        if ratio < RISES
        else "stands_still"
        if ratio < SLOWLY
        else "falls_slowly"
        if ratio < FALLS
        else "falls",
        f"{IN.from_si(read):.2f} in in 10 min",
    )


def _ends(scene: Scene) -> bool:
    """Whether the brine is drawn before the step ends."""
    full = replace(scene.now.tanks, liquid_m3=max(static_in_tank_m3(scene), scene.site.rest_m3))
    ready = replace(scene.site, conditions=(("refill_order", "refill_last"),))
    return regenerate(ready, scene.parts, full).finished and scene.parts.air_check != "shut"


def flow_drop(scene: Scene) -> str:
    if not _ends(scene) or scene.parts.air_check == "open":
        return "same_flow"
    rinse = jet.brine_draw(scene.site, scene.parts, port="shut")
    drop = 1 - rinse.drain_m3_s / max(scene.draw.drain_m3_s, 1e-12)
    return "drops" if scene.gauge(drop, 0.0, 0.05) > DROPS else "same_flow"


def end_of_draw(scene: Scene) -> str:
    if not _ends(scene):
        return "not_reached"
    airy = scene.parts.air_check == "open" or scene.draw.air > BUBBLES
    return "pulls_air" if airy else "air_check_closes"


def suction_at_valve(scene: Scene) -> Answer:
    """The port with the line off: only what is in the valve counts."""
    now = jet.brine_draw(scene.site, scene.parts, port="shut").suction_pa
    full = -jet.brine_draw(scene.site, SOUND, port="shut").suction_pa
    read = -scene.gauge(now, 0.04, IN_HG.to_si(0.3))
    ratio = read / full
    return Answer(
        "pushes_water"
        if read < -PSI.to_si(0.3)
        else "nothing"
        if ratio < FELT
        else "weak"
        if ratio < STRONG
        else "strong",
        f"{IN_HG.from_si(read):.1f} inHg",
    )


def suction_at_tank(scene: Scene) -> str:
    """The pick-up in a pail of water; an air check that closes early stays open there mostly."""
    parts = scene.parts
    if parts.air_check == "early":
        opens = scene.person.happens(0.6, "early check opens")
        parts = parts.changed(air_check="sound" if opens else "shut")
    pulls = jet.brine_draw(scene.site, parts, port="pail")
    sound = jet.brine_draw(scene.site, SOUND, port="pail")
    ratio = pulls.brine_m3_s / sound.brine_m3_s * scene.luck.factor(0.1, "felt")
    if pulls.air > BUBBLES:
        return "nothing" if ratio < 0.02 and scene.luck.happens(0.4, "all air") else "flutters"
    if ratio < -0.05:
        return "pushes_water"
    return "nothing" if ratio < FELT else "weak" if ratio < 0.6 else "strong"


def salt_at_drain(scene: Scene) -> Answer:
    """Eight minutes in, the brine is through the bed; its strength is shared with motive water."""
    draw, strength = scene.draw, scene.now.tanks.strength
    share = max(draw.brine_m3_s, 0.0) / draw.drain_m3_s if draw.drain_m3_s > 0 else 0.0
    if static_in_tank_m3(scene) - scene.site.rest_m3 < 0.1 * scene.site.normal_brine_m3:
        share = 0.0
    wt = scene.gauge(0.85 * share * strength * 1.15, 0.1, 0.001)
    word = "salty" if wt > SALTY_DRAIN else "hardly_salty"
    return Answer(word, f"{max(WT_PERCENT.from_si(wt), 0.0):.1f} wt%")


def rinse_end(scene: Scene) -> str:
    """After a draw of what stands in the tank, with the times as they are set."""
    full = replace(scene.now.tanks, liquid_m3=static_in_tank_m3(scene), bed_salt_kg=0.0)
    ready = replace(scene.site, conditions=(("refill_order", "refill_last"),))
    left = regenerate(ready, scene.parts, full).salt_left_kg / bed_water_m3(scene.site)
    return "still_salty" if scene.gauge(left, 0.15) > RINSED_KG_M3 else "near_raw"


def tank_takes_over(scene: Scene) -> str:
    return "stays" if scene.parts.changeover_stuck or not scene.parts.drive_turns else "takes_over"


def refill_rate(scene: Scene) -> Answer:
    flow = _pail(scene, flows.refill_m3_s(scene.site, scene.parts), small=True)
    ratio = flow / scene.site.refill_m3_s
    word = "little_or_none" if ratio < 0.6 else "too_fast" if ratio > 1.6 else "right"
    return Answer(word, _gpm(flow))


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
    "suction_line_off": Question(suction_line_off, ("stronger", "unchanged"), LOOKED),
    "drain_in_draw": Question(
        drain_in_draw, ("motive_and_brine", "motive_only", "low", "trickle"), MEASURED
    ),
    "bubbles": Question(bubbles, ("none_seen", "from_the_start"), LOOKED),
    "level_in_draw": Question(
        level_in_draw, ("falls", "falls_slowly", "stands_still", "rises"), MEASURED
    ),
    "flow_drop": Question(flow_drop, ("drops", "same_flow"), LOOKED),
    "end_of_draw": Question(end_of_draw, ("air_check_closes", "pulls_air", "not_reached"), LOOKED),
    "suction_at_valve": Question(
        suction_at_valve, ("strong", "weak", "nothing", "pushes_water"), MEASURED
    ),
    "suction_at_tank": Question(
        suction_at_tank, ("strong", "weak", "flutters", "nothing", "pushes_water"), LOOKED
    ),
    "salt_at_drain": Question(salt_at_drain, ("salty", "hardly_salty"), MEASURED),
    "rinse_end": Question(rinse_end, ("near_raw", "still_salty"), MEASURED),
    "tank_takes_over": Question(tank_takes_over, ("takes_over", "stays"), LOOKED),
    "refill_rate": Question(refill_rate, ("right", "little_or_none", "too_fast"), MEASURED),
    "joints_found": Question(joints_found, ("dry_joints", "wet_or_loose"), LOOKED),
}
