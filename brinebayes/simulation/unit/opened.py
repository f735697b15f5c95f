"""What is found in the hand, with the part taken out. How often it is overlooked is judged."""

from __future__ import annotations

import math
from collections.abc import Mapping

from brinebayes.physics.units import IN
from brinebayes.simulation.unit.scene import OPENED, Question, Scene

#: A bore that is still this much open looks clear. Judgement.
LOOKS_CLEAR = 0.6

#: Where a float shuts, as a part of its mark, so that it is told to hang low or high. Judgement.
FLOAT_LOW, FLOAT_HIGH = 0.6, 1.4


def _found(scene: Scene, there: bool, missed: float, seen_falsely: float) -> bool:
    """A sign that is there and not overlooked, or one that means nothing."""
    return not scene.misses(missed) if there else scene.luck.happens(seen_falsely, "false")


def motor_winding(scene: Scene) -> str:
    return "open_circuit" if _found(scene, scene.parts.motor_dead, 0.03, 0.01) else "whole"


def gears_seen(scene: Scene) -> str:
    if _found(scene, scene.parts.gears_broken, 0.05, 0.01):
        return "broken"
    return "out_of_step" if _found(scene, scene.parts.steps_off, 0.1, 0.02) else "sound_gears"


def water_drive_found(scene: Scene) -> str:
    return "jammed" if _found(scene, scene.parts.water_drive_jammed, 0.05, 0.05) else "turns_free"


def injector_found(scene: Scene) -> str:
    """A wrong size is marked; one worn by a fifth is seen by half."""
    parts = scene.parts
    if _found(scene, parts.throat_clear < LOOKS_CLEAR, 0.04, 0.01):
        return "throat_shut"
    if _found(scene, parts.nozzle_clear < LOOKS_CLEAR, 0.05, 0.05):
        return "nozzle_dirty"
    wrong = parts.nozzle_size != 1
    missed = 0.05 if parts.throat_size != 1 else 0.45
    return "worn_or_wrong" if _found(scene, wrong, missed, 0.02) else "clear"


def screen_found(scene: Scene) -> str:
    return "clogged" if _found(scene, scene.parts.screen_clear < 0.2, 0.03, 0.06) else "clean"


def injector_seal_found(scene: Scene) -> str:
    there = scene.parts.jet_seal_m2 > 0
    return "damaged" if _found(scene, there, 0.12, 0.04) else "whole_seals"


def control_found(scene: Scene) -> str:
    parts = scene.parts
    if _found(scene, parts.control_clear < LOOKS_CLEAR, 0.05, 0.02):
        return "blocked"
    missed = 0.02 if math.isinf(parts.control_size) else 0.1
    wrong = parts.control_size != 1
    return "missing_or_wrong" if _found(scene, wrong, missed, 0.02) else "clear_and_right"


def air_check_found(scene: Scene) -> str:
    """What stuck in its place is often freed by taking it out."""
    check = scene.parts.air_check
    if check in ("shut", "early"):
        return "moves" if scene.misses(0.15) else "shut"
    if _found(scene, check == "open", 0.12, 0.015):
        return "stays_open"
    return "shut" if scene.luck.happens(0.02, "dry") else "moves"


def float_found(scene: Scene) -> str:
    """A float that hangs a little low or high is told from its mark."""
    level = scene.parts.float_level
    if _found(scene, level < FLOAT_LOW, 0.08, 0.015):
        return "shut_or_low"
    return "open_or_high" if _found(scene, level > FLOAT_HIGH, 0.12, 0.03) else "free"


def hangs_right(level: float) -> bool:
    """Whether a float shuts near its mark; `level`: where it shuts, as a part of that."""
    return FLOAT_LOW <= level <= FLOAT_HIGH


def refill_control_found(scene: Scene) -> str:
    parts = scene.parts
    if _found(scene, parts.refill_clear < LOOKS_CLEAR, 0.06, 0.02):
        return "blocked"
    missed = 0.02 if math.isinf(parts.refill_size) else 0.1
    wrong = parts.refill_size != 1
    return "missing_or_wrong" if _found(scene, wrong, missed, 0.01) else "clear_and_right"


def brine_valve_found(scene: Scene) -> str:
    there = scene.parts.brine_valve_m2 > 0
    return "dirty_or_cut" if _found(scene, there, 0.12, 0.06) else "clean_seat"


def seals_found(scene: Scene) -> str:
    """Half of the crumbs fall off while the body is opened."""
    parts = scene.parts
    if _found(scene, parts.seals.there, 0.08, 0.0):
        return "worn"
    if _found(scene, parts.faces.there, 0.1, 0.0):
        return "face_worn"
    if _found(scene, parts.crumb.there, 0.45, 0.03):
        return "crumb"
    over_ten = scene.site.known.get("age") == "over_ten"
    if not scene.luck.happens(0.12 if over_ten else 0.03, "old"):
        return "sound_seals"
    return "worn" if scene.site.known.get("valve_family", "piston") == "piston" else "face_worn"


def piston_found(scene: Scene) -> str:
    there = scene.parts.piston.there or (
        scene.parts.stands == "between" and scene.parts.piston.there
    )
    return "scored_or_stiff" if _found(scene, there, 0.07, 0.03) else "smooth"


def upper_found(scene: Scene) -> str:
    there = scene.parts.upper_clear < 0.3
    return "clogged_screen" if _found(scene, there, 0.04, 0.05) else "clear_screen"


def riser_found(scene: Scene) -> str:
    there = scene.parts.riser_gap > 0
    return "damaged_riser" if _found(scene, there, 0.1, 0.04) else "sound_riser"


def bed_depth(scene: Scene) -> str:
    """By stick, against the depth that the tank was filled to, which few know to an inch."""
    parts = scene.parts
    depth = scene.site.resin_m3 / (math.pi / 4 * scene.site.resin_tank_m**2)
    short_m = depth * (1 - parts.resin_there) + IN.to_si(1.5) * scene.luck.normal("stick")
    if parts.channels > 0 and not scene.misses(0.35):
        return "uneven_bed"
    return "low_bed" if short_m > IN.to_si(4) else "right_depth"


def resin_seen(scene: Scene) -> str:
    parts = scene.parts
    if parts.soft_beads and not scene.misses(0.12):
        return "soft_beads"
    fouled = parts.resin_capacity < 0.9 and not parts.soft_beads
    iron = 0.15 if scene.site.iron_mg_l > 0 else 0.03
    return "rusty_beads" if _found(scene, fouled, 0.1, iron) else "sound_beads"


def distributor_found(scene: Scene) -> str:
    there = scene.parts.basket_broken
    return "broken_basket" if _found(scene, there, 0.04, 0.03) else "whole_basket"


ANSWERS: Mapping[str, Question] = {
    "motor_winding": Question(motor_winding, ("whole", "open_circuit"), OPENED),
    "gears_seen": Question(gears_seen, ("sound_gears", "out_of_step", "broken"), OPENED),
    "water_drive_found": Question(water_drive_found, ("turns_free", "jammed"), OPENED),
    "injector_found": Question(
        injector_found, ("clear", "nozzle_dirty", "throat_shut", "worn_or_wrong"), OPENED
    ),
    "screen_found": Question(screen_found, ("clean", "clogged"), OPENED),
    "injector_seal_found": Question(injector_seal_found, ("whole_seals", "damaged"), OPENED),
    "control_found": Question(
        control_found, ("clear_and_right", "blocked", "missing_or_wrong"), OPENED
    ),
    "air_check_found": Question(air_check_found, ("moves", "shut", "stays_open"), OPENED),
    "float_found": Question(float_found, ("free", "shut_or_low", "open_or_high"), OPENED),
    "refill_control_found": Question(
        refill_control_found, ("clear_and_right", "blocked", "missing_or_wrong"), OPENED
    ),
    "brine_valve_found": Question(brine_valve_found, ("clean_seat", "dirty_or_cut"), OPENED),
    "seals_found": Question(seals_found, ("sound_seals", "worn", "face_worn", "crumb"), OPENED),
    "piston_found": Question(piston_found, ("smooth", "scored_or_stiff"), OPENED),
    "upper_found": Question(upper_found, ("clear_screen", "clogged_screen"), OPENED),
    "riser_found": Question(riser_found, ("sound_riser", "damaged_riser"), OPENED),
    "bed_depth": Question(bed_depth, ("right_depth", "low_bed", "uneven_bed"), OPENED),
    "resin_seen": Question(resin_seen, ("sound_beads", "rusty_beads", "soft_beads"), OPENED),
    "distributor_found": Question(distributor_found, ("whole_basket", "broken_basket"), OPENED),
}
