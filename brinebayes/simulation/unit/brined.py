"""What is seen and measured in the brine step and at the end of the rinse.

A valve whose drive has failed is led there by hand, as the trade does with the hand knob.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from brinebayes.physics import brine
from brinebayes.physics.units import IN, IN_HG, MINUTE, MS_PER_CM, PSI
from brinebayes.simulation.unit import jet, pail
from brinebayes.simulation.unit.parts import SOUND, Parts
from brinebayes.simulation.unit.regeneration import Tanks, bed_water_m3, regenerate
from brinebayes.simulation.unit.scene import LOOKED, MEASURED, Answer, Question, Scene
from brinebayes.simulation.unit.site import Site
from brinebayes.simulation.unit.tested import READ, static_in_tank_m3

#: Of a sound brine step a third to a half is brine; what is missing is told from a fifth on.
#: Judgement on the ranges of the trade.
BOTH, MOTIVE, TRICKLE = 0.82, 0.45, 0.08
FALLS, SLOWLY, RISES = 0.65, 0.12, -0.15
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


def suction_line_off(scene: Scene) -> str:
    """A fifth more brine, or of the drain's flow, is clearly better."""
    on, off = scene.draw, jet.brine_draw(scene.site, scene.parts, line="off")
    sound = scene.sound_draw
    better = (off.brine_m3_s - on.brine_m3_s) / sound.brine_m3_s > 0.2
    better = better or (off.drain_m3_s - on.drain_m3_s) / sound.drain_m3_s > 0.2
    return "stronger" if better else "unchanged"


def drain_in_draw(scene: Scene) -> Answer:
    flow = pail.timed(scene, scene.draw.drain_m3_s, small=True)
    ratio = flow / (scene.sound_draw.drain_m3_s * scene.person.factor(0.07, "injector table"))
    return Answer(
        "trickle"
        if ratio < TRICKLE
        else "low"
        if ratio < MOTIVE
        else "motive_only"
        if ratio < BOTH
        else "motive_and_brine",
        pail.gpm(flow),
    )


def bubbles(scene: Scene) -> str:
    seen = scene.draw.air > BUBBLES or scene.luck.happens(0.03, "first air")
    return "from_the_start" if seen else "none_seen"


def level_in_draw(scene: Scene) -> Answer:
    """Ten minutes by tape, or as long as there is brine to be drawn; one minute is the least."""
    site, draw = scene.site, scene.draw
    there = max(static_in_tank_m3(scene) - site.rest_m3, 0.0)
    minutes = 10.0
    if draw.brine_m3_s > 0:
        minutes = min(10.0, max(MINUTE.from_si(there / draw.brine_m3_s), 1.0))
    seconds = MINUTE.to_si(minutes)
    fall = brine.height_m(min(draw.brine_m3_s * seconds, there), site.brine_tank_m, site.open_part)
    wanted = scene.sound_draw.brine_m3_s * scene.person.factor(0.1, "draw table")
    usual_m = brine.height_m(wanted * seconds, site.brine_tank_m, site.open_part)
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
        f"{IN.from_si(read):.2f} in in {minutes:.0f} min",
    )


def _ends(scene: Scene) -> bool:
    """Whether the brine is drawn before the step ends."""
    full = replace(scene.now.tanks, liquid_m3=max(static_in_tank_m3(scene), scene.site.rest_m3))
    return regenerate(_filled(scene), _led(scene), full).finished


def _led(scene: Scene) -> Parts:
    """Led from stop to stop by hand, a drive that is out of step cuts nothing short."""
    return scene.parts.changed(steps_off=False, sensor_dead=False)


def _filled(scene: Scene) -> Site:
    """The site with its tank filled by hand before the draw, whenever it fills it itself."""
    others = tuple(item for item in scene.site.conditions if item[0] != "refill_order")
    return replace(scene.site, conditions=(*others, ("refill_order", "refill_last")))


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
    conducts = brine.conductivity_s_m(max(wt, 0.0))
    return Answer(word, f"{MS_PER_CM.from_si(conducts):.0f} mS/cm")


def rinses(site: Site, parts: Parts, tanks: Tanks) -> bool:
    """Whether a regeneration from a full brine tank clearly leaves no brine in the bed."""
    full = replace(tanks, liquid_m3=site.full_m3, bed_salt_kg=0.0)
    left = regenerate(site, parts, full).salt_left_kg / bed_water_m3(site)
    return left * (1 + 2 * READ) < RINSED_KG_M3


def rinse_end(scene: Scene) -> str:
    """After a draw of what stands in the tank, with the times as they are set."""
    full = replace(scene.now.tanks, liquid_m3=static_in_tank_m3(scene), bed_salt_kg=0.0)
    left = regenerate(_filled(scene), _led(scene), full).salt_left_kg / bed_water_m3(scene.site)
    return "still_salty" if scene.gauge(left, READ) > RINSED_KG_M3 else "near_raw"


ANSWERS: Mapping[str, Question] = {
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
}
