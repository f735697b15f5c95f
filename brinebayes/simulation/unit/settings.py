"""What the control shows, and the sums that are done with it."""

from __future__ import annotations

from collections.abc import Mapping

from brinebayes.physics.units import GPG, MINUTE
from brinebayes.simulation.unit.scene import LOOKED, MEASURED, Answer, Question, Scene
from brinebayes.simulation.unit.weeks import SOFT_KG_M3, programmed_m3, usual

#: A setting more than a tenth below the water it meets is too low; what is reckoned on top for
#: iron and reserve comes to half as much again at most. Judgement.
TOO_LOW, TOO_HIGH = 0.9, 1.6

#: Salt and times: more than a quarter off the table (the check's own words).
QUARTER = 0.25

#: Raw water is clearly harder from a fifth and two grains on. Judgement.
RISEN, RISEN_KG_M3 = 1.2, GPG.to_si(2)


def hardness_setting(scene: Scene) -> Answer:
    """The setting against the raw hardness by kit, iron reckoned in at four grains a ppm."""
    set_to = scene.site.hardness_set_kg_m3 * scene.parts.hardness_set
    raw = scene.gauge(scene.raw, 0.06) + GPG.to_si(4) * scene.site.iron_mg_l
    ratio = set_to / raw
    word = "too_low" if ratio < TOO_LOW else "too_high" if ratio > TOO_HIGH else "fits"
    return Answer(word, f"{GPG.from_si(set_to):.0f} gpg")


def dose_setting(scene: Scene) -> str:
    off = abs(scene.parts.dose_set * scene.luck.factor(0.05, "table") - 1) > QUARTER
    return "off_the_table" if off else "as_the_table"


def step_times(scene: Scene) -> str:
    """Draw and slow rinse against this injector's table, fast rinse against six minutes or more."""
    draw = scene.parts.draw_set * scene.luck.factor(0.05, "table")
    rinse = scene.parts.rinse_set * scene.luck.factor(0.05, "rinse")
    return "off_times" if min(draw, rinse) < 1 - 1.4 * QUARTER else "as_times"


def wait_set(scene: Scene) -> str:
    """Brine needs an hour or two (common practice); one refilled last stands for days."""
    wait = scene.site.dwell_s * scene.parts.dwell_set
    short = scene.site.refill_first and wait < MINUTE.to_si(50)
    return "too_short" if short else "long_enough"


def cycle_rate(scene: Scene) -> str:
    """Starts on record against the water used and the raw hardness."""
    if not scene.log.starts:
        return "as_reckoned"
    more = scene.parts.use * scene.parts.raw
    wanted = scene.log.days * usual(scene.site).cycles_day * more * scene.luck.factor(0.1, "sum")
    return "too_often" if len(scene.log.starts) > 1.4 * wanted + 1 else "as_reckoned"


def regeneration_setting(scene: Scene) -> str:
    return "switched_on" if scene.parts.automatic else "switched_off"


def last_regeneration(scene: Scene) -> str:
    """By the control's record, which on many units counts starts and not what came of them."""
    log, site = scene.log, scene.site
    if scene.parts.power < 0.7 or scene.parts.board in ("frozen", "garbled"):
        return "none_lately"
    days = log.starts if site.records_starts else tuple(cycle.day for cycle in log.cycles)
    if not days or log.days - days[-1] > 20:
        return "none_lately"
    use = site.use_m3_day * scene.parts.use
    gross = site.capacity_kg / site.hardness_set_kg_m3
    every = max(gross / use - 1, 0.5)
    return "overdue" if log.days - days[-1] > 1.4 * every + 2 else "lately"


def daily_use(scene: Scene) -> str:
    """By the meter's record if it counts, else 75 gallons a person, asked again today."""
    site, parts = scene.site, scene.parts
    use = site.use_m3_day * parts.use * scene.luck.factor(0.12, "record")
    held = site.capacity_kg / scene.gauge(scene.raw, 0.06)
    return "over" if held / use < 2.0 else "within"


def raw_water(scene: Scene) -> str:
    was = scene.site.raw_kg_m3 * scene.luck.factor(0.05, "record")
    now = scene.gauge(scene.raw, 0.05, GPG.to_si(0.5))
    return "risen" if now > RISEN * was and now > was + RISEN_KG_M3 else "as_before"


def run_reached(scene: Scene) -> str:
    """How much of the last whole run was soft at the outlet."""
    site, parts, log = scene.site, scene.parts, scene.log
    ends = [cycle.day for cycle in log.cycles]
    since = ends[-2] if len(ends) > 1 else max(0, log.days - 21)
    until = ends[-1] if len(ends) > 1 else log.days
    run = [s for s in log.samples if since < s.day <= until or (since == until == s.day)]
    if not run:
        run = list(log.samples[-8:])
    water = sum(sample.water_m3 for sample in run)
    soft = sum(sample.water_m3 for sample in run if sample.at_unit < SOFT_KG_M3) / water
    # A run that goes on past its programmed gallons is soft for less of them.
    longer = max(1.0, water / programmed_m3(site, parts))
    part = soft / longer if soft < 0.9 else soft
    return "whole_run" if part > 0.88 else "hard_at_once" if part < 0.08 else "part_of_run"


ANSWERS: Mapping[str, Question] = {
    "hardness_setting": Question(hardness_setting, ("fits", "too_low", "too_high"), LOOKED),
    "dose_setting": Question(dose_setting, ("as_the_table", "off_the_table"), LOOKED),
    "step_times": Question(step_times, ("as_times", "off_times"), LOOKED),
    "wait_set": Question(wait_set, ("long_enough", "too_short"), LOOKED),
    "cycle_rate": Question(cycle_rate, ("as_reckoned", "too_often"), LOOKED),
    "regeneration_setting": Question(regeneration_setting, ("switched_on", "switched_off"), LOOKED),
    "last_regeneration": Question(
        last_regeneration, ("lately", "overdue", "none_lately"), LOOKED, True
    ),
    "daily_use": Question(daily_use, ("within", "over"), LOOKED),
    "raw_water": Question(raw_water, ("as_before", "risen"), MEASURED),
    "run_reached": Question(
        run_reached, ("whole_run", "part_of_run", "hard_at_once"), LOOKED, True
    ),
}
