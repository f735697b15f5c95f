"""What a kit, a strip, a tape or a hydrometer reads with the unit in service."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

from brinebayes.physics import brine
from brinebayes.physics.units import GPG, IN, MINUTE, WT_PERCENT
from brinebayes.simulation.unit import flows
from brinebayes.simulation.unit.parts import Parts
from brinebayes.simulation.unit.regeneration import Tanks, bed_water_m3, float_m3, regenerate, seep
from brinebayes.simulation.unit.scene import MEASURED, Answer, Question, Scene
from brinebayes.simulation.unit.weeks import bed_lets_through, leak_part

#: Nearly raw: what a kit of one-grain drops cannot tell from raw water of usual hardness.
#: Judgement.
NEARLY_RAW = 0.8

#: The tank is clearly fuller than one refill, or clearly less. Judgement.
TOO_HIGH, NEARLY_EMPTY = 1.6, 0.4

#: Two pencil marks half an hour apart are told apart from an eighth of an inch on. Judgement.
CREEP_M = IN.to_si(0.125)

#: A tank that stands at its float is bailed to this part of it before creep is looked for.
BAILED = 0.75

#: Brine of less than 22 wt% (1.17 on the hydrometer) carries a fifth less salt. Judgement; about
#: 1.20 is healthy (common practice).
WEAK = 0.22

#: Salt is tasted from the secondary level of chloride on, 250 mg/L over the raw water.
#: Source: 40 CFR 143.3.
SALTY_KG_M3 = 0.250
#: Spread of a strip or pen for salt, as a part of what it reads. Judgement.
READ = 0.15


def _kit(scene: Scene, hardness: float, words: tuple[str, str, str]) -> Answer:
    """One drop is one grain: the count goes on until the colour turns."""
    grains = GPG.from_si(hardness) * (1 + 0.05 * scene.luck.normal("sample"))
    drops = max(0, math.ceil(grains - 0.5 + 0.25 * scene.luck.normal("turn")))
    raw = round(GPG.from_si(scene.raw) * (1 + 0.05 * scene.luck.normal("raw")))
    word = words[0] if drops <= 1 else words[2] if drops >= NEARLY_RAW * raw else words[1]
    return Answer(word, f"{drops} gpg")


def tap_hardness(scene: Scene) -> Answer:
    return _kit(scene, scene.in_house, ("soft_tap", "somewhat_hard", "hard_as_raw"))


def unit_hardness(scene: Scene) -> Answer:
    return _kit(scene, scene.at_unit, ("soft_there", "leaks_there", "hard_there"))


def after_bypass_hardness(scene: Scene) -> Answer:
    return _kit(scene, scene.in_house, ("soft_after", "blended", "raw_after"))


def tap_complained(scene: Scene) -> str:
    hardness = scene.raw if scene.parts.tap_is_raw else scene.in_house
    return _kit(scene, hardness, ("soft_here", "some_here", "hard_here")).outcome


def hot_side(scene: Scene) -> str:
    """A heater holds what came before; hard or clearly harder than cold counts."""
    hot = 0.7 * scene.raw if scene.parts.heater_hard else scene.now.heater_kg_m3
    if scene.parts.tap_is_raw:
        hot = max(hot, 0.0)
    grains = GPG.from_si(hot) * (1 + 0.08 * scene.luck.normal("hot"))
    return "hot_hard" if grains > 2.5 else "hot_soft"


def tests_compared(scene: Scene) -> str:
    soft = scene.in_house < GPG.to_si(2)
    high = scene.parts.own_test_wrong and soft and not scene.misses(0.06)
    return "customers_high" if high or scene.luck.happens(0.02, "old strip") else "tests_agree"


def fresh_bed_hardness(scene: Scene) -> Answer:
    """One whole regeneration with the brine that is there, led by hand where the drive fails."""
    led = scene.parts.changed(steps_off=False, sensor_dead=False)
    return after_regeneration(scene, led, scene.now.tanks)


def after_regeneration(scene: Scene, parts: Parts, tanks: Tanks) -> Answer:
    """Hardness at the outlet at once after a regeneration that begins with these tanks."""
    site, left = scene.site, tanks.left_kg
    if not parts.changeover_stuck:
        left = regenerate(site, parts, tanks).tanks.left_kg
    past = leak_part(site, parts)
    own = bed_lets_through(site, parts, left)
    words = ("soft_fresh", "leaks_fresh", "hard_fresh")
    return Answer(_kit(scene, scene.raw * (past + (1 - past) * own), words).outcome)


def salt_at_tap(scene: Scene) -> str:
    """Salt in the water over the resin now; a valve left in the brine step feeds more of it."""
    left = scene.now.tanks.bed_salt_kg + scene.parts.salt_left_kg
    if scene.parts.stands == "brine":
        left += 0.3
    chloride = 0.607 * left / (2 * bed_water_m3(scene.site))
    return "salty_tap" if scene.gauge(chloride, READ) > SALTY_KG_M3 else "fresh_tap"


def standby_level(scene: Scene) -> Answer:
    """By tape, from the floor of the tank; the floor is not level and the tape gets wet."""
    site = scene.site
    true = brine.height_m(scene.now.tanks.liquid_m3, site.brine_tank_m, site.open_part)
    normal = brine.height_m(site.full_m3, site.brine_tank_m, site.open_part)
    read = max(0.0, scene.gauge(true, 0.03, IN.to_si(0.3)))
    ratio = read / normal
    word = (
        "nearly_empty"
        if ratio < NEARLY_EMPTY
        else "too_high"
        if ratio > TOO_HIGH
        else "as_after_refill"
    )
    return Answer(word, f"{IN.from_si(read):.1f} in")


def level_creep(scene: Scene) -> Answer:
    """Two marks half an hour apart, in a tank bailed below a float that has shut: that stops a
    leaking brine valve as well."""
    site, parts, tanks = scene.site, scene.parts, scene.now.tanks
    tanks = replace(tanks, liquid_m3=min(tanks.liquid_m3, BAILED * float_m3(site, parts)))
    later = seep(site, parts, tanks, MINUTE.to_si(30)).liquid_m3
    rise = brine.height_m(later - tanks.liquid_m3, site.brine_tank_m, site.open_part)
    read = rise + IN.to_si(0.04) * scene.luck.normal("marks")
    if read < -CREEP_M:
        return Answer("falls")
    inches = max(0.0, round(IN.from_si(read) * 16) / 16)
    return Answer("rises" if read > CREEP_M else "steady", f"{inches:g} in")


def brine_sg(scene: Scene) -> Answer:
    read = scene.gauge(scene.now.tanks.strength, 0.01, 0.003)
    read = min(max(read, 0.0), scene.site.saturated)
    word = "weak" if read < WEAK else "full_strength"
    return Answer(word, f"{WT_PERCENT.from_si(read):.0f} wt%")


def static_in_tank_m3(scene: Scene) -> float:
    """Brine that a draw test finds: a unit refilled first is given its refill for the test."""
    liquid = scene.now.tanks.liquid_m3
    if scene.site.refill_first:
        liquid += flows.refill_m3_s(scene.site, scene.parts) * scene.site.refill_s
    return liquid


ANSWERS: Mapping[str, Question] = {
    "tap_hardness": Question(tap_hardness, ("soft_tap", "somewhat_hard", "hard_as_raw"), MEASURED),
    "unit_hardness": Question(unit_hardness, ("soft_there", "leaks_there", "hard_there"), MEASURED),
    "after_bypass_hardness": Question(
        after_bypass_hardness, ("soft_after", "blended", "raw_after"), MEASURED
    ),
    "tap_complained": Question(tap_complained, ("soft_here", "some_here", "hard_here"), MEASURED),
    "hot_side": Question(hot_side, ("hot_soft", "hot_hard"), MEASURED),
    "tests_compared": Question(tests_compared, ("tests_agree", "customers_high"), MEASURED),
    "fresh_bed_hardness": Question(
        fresh_bed_hardness, ("soft_fresh", "leaks_fresh", "hard_fresh"), MEASURED
    ),
    "salt_at_tap": Question(salt_at_tap, ("fresh_tap", "salty_tap"), MEASURED),
    "standby_level": Question(
        standby_level, ("nearly_empty", "as_after_refill", "too_high"), MEASURED
    ),
    "level_creep": Question(level_creep, ("steady", "rises", "falls"), MEASURED),
    "brine_sg": Question(brine_sg, ("full_strength", "weak"), MEASURED),
}
