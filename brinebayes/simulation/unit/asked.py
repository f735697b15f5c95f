"""What the customer answers on the phone, from the weeks before the call."""

from __future__ import annotations

from collections.abc import Mapping

from brinebayes.physics.units import GPM
from brinebayes.simulation.unit import service
from brinebayes.simulation.unit.parts import Parts
from brinebayes.simulation.unit.scene import ASKED, Question, Scene
from brinebayes.simulation.unit.site import Site
from brinebayes.simulation.unit.weeks import FELT_SOFT_KG_M3, SOFT_KG_M3, Log, raw_kg_m3, usual

#: Weeks that people remember.
REMEMBERED_DAYS = 21

#: Salt hardly goes down at all under a third of the usual; over half as much again it goes fast.
#: Judgement.
UNUSED, FAST = 0.33, 1.6


def hard_days(log: Log) -> float:
    """Part of the last days on which a tenth of the water or more was felt to be hard."""
    water: dict[int, float] = {}
    hard: dict[int, float] = {}
    for sample in log.since(log.days - REMEMBERED_DAYS):
        water[sample.day] = water.get(sample.day, 0.0) + sample.water_m3
        if sample.cold > FELT_SOFT_KG_M3:
            hard[sample.day] = hard.get(sample.day, 0.0) + sample.water_m3
    return sum(hard.get(day, 0.0) >= 0.1 * water[day] for day in water) / len(water)


def mean_hardness(log: Log) -> float:
    """Hardness of the last weeks' cold water, by volume."""
    samples = log.since(log.days - REMEMBERED_DAYS)
    water = sum(sample.water_m3 for sample in samples)
    return sum(sample.water_m3 * sample.cold for sample in samples) / water


def pattern(log: Log, site: Site, parts: Parts) -> str:
    """How the hardness in the house went, in the words of `hardness_pattern`.

    Water is felt to be hard from where USGS ends soft water. Up to half of the raw hardness is a
    little hard: judgement.
    """
    hard, mean = hard_days(log), mean_hardness(log)
    if hard < 0.08:
        return "always_soft" if mean < 1.5 * SOFT_KG_M3 else "constant_blend"
    if hard < 0.9:
        return "soft_then_hard"
    return "always_hard" if mean > 0.55 * raw_kg_m3(site, parts) else "constant_blend"


def salt_trend(scene: Scene) -> str:
    if scene.parts.salt_short:
        return "goes_down"
    ratio = scene.log.salt_used_kg / (usual(scene.site).salt_kg_day * scene.log.days)
    seen = ratio * scene.luck.factor(0.25, "seen")
    return "stays" if seen < UNUSED else "goes_fast" if seen > FAST else "goes_down"


def hardness_pattern(scene: Scene) -> str:
    parts = scene.parts
    true = pattern(scene.log, scene.site, parts)
    if true != "always_soft":
        return true
    if parts.tap_is_raw or (parts.own_test_wrong and scene.luck.happens(0.7, "test")):
        return "always_hard"
    return "constant_blend" if parts.heater_hard else "always_soft"


def run_trend(scene: Scene) -> str:
    """Resin goes in years, everything else from one week to the next."""
    if pattern(scene.log, scene.site, scene.parts) == "always_soft":
        return "no_change"
    slow = scene.parts.resin_capacity < 0.9 or scene.parts.resin_there < 0.9
    if slow:
        return "sudden" if scene.misses(0.25) else "slow_decline"
    # Where it was always so, or nobody kept count, there is nothing to tell.
    return "no_change" if scene.luck.happens(0.35, "no count") else "sudden"


def cycle_heard(scene: Scene) -> str:
    """Water at the drain at night, in the last two weeks."""
    lately = [cycle for cycle in scene.log.cycles if cycle.day >= scene.log.days - 14]
    audible = any(cycle.run.drained_m3_s > GPM.to_si(0.5) for cycle in lately)
    running = service.passing_m3_s(scene.site, scene.parts) > GPM.to_si(0.5)
    heard = scene.site.heard_at_night and (audible or (running and scene.luck.happens(0.5, "run")))
    return "heard" if heard else "not_heard"


def which_tap(scene: Scene) -> str:
    hard = hard_days(scene.log)
    if scene.luck.happens(min(1.0, 1.2 * hard), "felt"):
        return "some_taps" if scene.luck.happens(0.12, "one tap") else "every_tap"
    if scene.parts.tap_is_raw:
        return "some_taps"
    if scene.parts.heater_hard:
        return "every_tap" if scene.luck.happens(0.2, "both") else "hot_only"
    if scene.parts.own_test_wrong and scene.luck.happens(0.6, "own test"):
        return "every_tap"
    return "none_hard"


def how_noticed(scene: Scene) -> str:
    hard = hard_days(scene.log)
    if scene.parts.own_test_wrong:
        return "by_own_test"
    if scene.luck.happens(min(0.95, 1.2 * hard), "felt"):
        return "by_own_test" if scene.luck.happens(0.15, "tests") else "by_use"
    # People who have a few grains test sooner than they feel them. Judgement.
    blend = mean_hardness(scene.log) > SOFT_KG_M3
    if blend and scene.luck.happens(0.4, "blend"):
        return "by_own_test"
    if scene.parts.tap_is_raw or scene.parts.heater_hard:
        return "by_use"
    return "not_noticed"


def night_use(scene: Scene) -> str:
    return "used_then" if scene.parts.night_use else "idle_then"


ANSWERS: Mapping[str, Question] = {
    "salt_trend": Question(salt_trend, ("goes_down", "stays", "goes_fast"), ASKED, True),
    "hardness_pattern": Question(
        hardness_pattern,
        ("always_soft", "soft_then_hard", "constant_blend", "always_hard"),
        2 * ASKED,
        True,
    ),
    "run_trend": Question(run_trend, ("no_change", "sudden", "slow_decline"), 2 * ASKED, True),
    "cycle_heard": Question(cycle_heard, ("heard", "not_heard"), ASKED, True),
    "which_tap": Question(
        which_tap, ("every_tap", "hot_only", "some_taps", "none_hard"), ASKED, True
    ),
    "how_noticed": Question(how_noticed, ("by_use", "by_own_test", "not_noticed"), ASKED, True),
    "night_use": Question(night_use, ("idle_then", "used_then"), ASKED, True),
}
