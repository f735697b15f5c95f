"""Whether the unit works, what a short cycle proves, and what the customer then complains of."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

from brinebayes.physics.units import GAL_PER_DAY, GPM, PSI
from brinebayes.simulation.unit import (
    brined,
    cycled,
    flows,
    gauged,
    opened,
    service,
    settings,
    tested,
)
from brinebayes.simulation.unit.asked import pattern
from brinebayes.simulation.unit.chance import Chance
from brinebayes.simulation.unit.looked import (
    COLOURED_MG_L,
    drain_in_service,
    glass_seen,
    salt_probe,
    smell_found,
    strainer_found,
)
from brinebayes.simulation.unit.parts import Parts
from brinebayes.simulation.unit.regeneration import regenerate
from brinebayes.simulation.unit.scene import Scene
from brinebayes.simulation.unit.site import BATH_M3_S, TAP_M3_S, Site
from brinebayes.simulation.unit.weeks import (
    SOFT_KG_M3,
    Log,
    State,
    serve,
    start,
    usual,
)

#: Days that are run after a visit, and from which on they count: by then a charge that was put in
#: by hand is used up.
WATCHED_DAYS, COUNT_FROM = 30, 10

#: Part of the water that must be soft. Judgement: a sound unit with a day in reserve gives hard
#: water only on days of unusual use.
SOFT_PART = 0.97

#: Judged limits of a unit that does its work, each with a sound unit's usual value well inside.
LEVEL_MOST = 1.75
SALT_MOST = 1.7
BACKWASH_LEAST, BACKWASH_MOST = 0.65, 1.6
SALTY_KG_M3 = tested.SALTY_KG_M3
LOSS_MOST_PA = PSI.to_si(15)
SUPPLY_LEAST_PA = PSI.to_si(25)

#: Settings that are wrong and pass for right at the end of a visit. Judgement.
OVERLOOKED = 0.12
#: What is overlooked of a float that is wrong, lifted in the well and not in the hand, and of a
#: crack that wets the floor. Judgement.
FLOAT_MISSED, CRACK_MISSED = 0.15, 0.12


@dataclass(frozen=True, slots=True)
class Symptom:
    """Something that is not as it should be. `strength`: 1 is where it begins to be a fault."""

    name: str
    strength: float


def coming_weeks(site: Site, parts: Parts, now: State) -> Log:
    """The weeks after a visit that ends with a regeneration started and the tank in order."""
    fresh = start(site, parts)
    salt = fresh.tanks.salt_kg if parts.salt_short else max(now.tanks.salt_kg, site.fill_at_kg)
    state = replace(fresh, tanks=replace(fresh.tanks, salt_kg=salt))
    return serve(site, parts, state, WATCHED_DAYS)


def symptoms(site: Site, parts: Parts, log: Log, count_from: int) -> tuple[Symptom, ...]:
    """Everything about a unit that is not as it should be, from its weeks and its flows."""
    found: list[Symptom] = []

    def note(name: str, strength: float) -> None:
        if strength >= 1:
            found.append(Symptom(name, strength))

    samples = [sample for sample in log.samples if sample.day >= count_from]
    water = sum(sample.water_m3 for sample in samples)
    hard = sum(sample.water_m3 for sample in samples if sample.cold > SOFT_KG_M3) / water
    note("hard", hard / (1 - SOFT_PART))
    note("overfull", max(log.liquid_m3[count_from:]) / site.full_m3 / LEVEL_MOST)
    note("floods", 1.0 if log.overflowed or parts.crack_m3_s > 0 else 0.0)
    note("runs", service.passing_m3_s(site, parts) / service.SEEN_M3_S)
    wanted = usual(site).salt_kg_day * log.days * parts.raw * max(parts.use, 1.0)
    note("eats_salt", log.salt_used_kg / wanted / SALT_MOST)
    salty = [c.chloride_kg_m3 for c in log.cycles if c.day >= count_from]
    note("salty", max(salty, default=0.0) / SALTY_KG_M3)
    note("salty", 2.0 if parts.salt_left_kg > 0 or parts.stands == "brine" else 0.0)
    backwash = flows.backwash_m3_s(site, parts) / site.backwash_m3_s
    note("weak_backwash", BACKWASH_LEAST / max(backwash, 1e-6))
    note("strong_backwash", backwash / BACKWASH_MOST)
    note("resists", service.unit_loss_pa(site, parts) / LOSS_MOST_PA)
    supply = flows.inlet_pa(site, parts, TAP_M3_S)
    note("poor_supply", SUPPLY_LEAST_PA / max(supply, 1.0))
    note("beads", 1.0 if parts.basket_broken or parts.reversed_ports else 0.0)
    rusty = parts.beyond == "rusty_pipe"
    note("coloured", 2.0 if rusty else parts.rust_mg_l / COLOURED_MG_L)
    note("smells", 1.0 if parts.slime or parts.beyond == "dead_leg" else 0.0)
    note("stands_still", 0.0 if parts.drive_turns else 1.0)
    note("out_of_step", 1.0 if parts.steps_off or parts.sensor_dead else 0.0)
    return tuple(found)


def works(site: Site, parts: Parts, now: State) -> bool:
    """Whether the unit does its work in the weeks after the visit."""
    return not symptoms(site, parts, coming_weeks(site, parts, now), COUNT_FROM)


def passes_proof(scene: Scene) -> bool:
    """A short cycle watched on the day: backwash by bucket, level in the draw, refill by jug, the
    float lifted, the drain in service, the floor, and the hardness at the outlet and behind the
    bypass after the rinse; a rod in the salt, clock and settings read, the meter seen to count."""
    if cycled.drive_watched(scene) != "right_stops":
        return False
    seen = {
        "backwash": cycled.backwash_at_drain(scene).outcome == "full",
        "draw": brined.level_in_draw(_ready(scene)).outcome == "falls",
        "float": opened.hangs_right(scene.parts.float_level)
        or scene.luck.happens(FLOAT_MISSED, "float"),
        "floor": scene.parts.crack_m3_s == 0 or scene.luck.happens(CRACK_MISSED, "floor"),
        "refill": cycled.refill_rate(scene).outcome == "right",
        "drain": drain_in_service(scene) == "dry_drain",
        "rinse": brined.rinse_end(_ready(scene)) == "near_raw",
        "soft": tested.after_regeneration(scene, scene.parts, _ready(scene).now.tanks).outcome
        == "soft_fresh",
        "behind": service.bypassed(scene.site, scene.parts) * scene.raw < SOFT_KG_M3,
        "salt": salt_probe(scene) != "hollow",
        "set": not _set_wrong(scene) or scene.luck.happens(OVERLOOKED, "settings"),
        "meter": not scene.site.metered or gauged.meter_count(scene).outcome == "counts",
    }
    return all(seen.values()) and not scene.luck.happens(0.02, "proof spoilt")


def after_proof(scene: Scene) -> State:
    """The unit once the short cycle has run: what brine reached the bed has restored it."""
    if scene.parts.changeover_stuck or not scene.parts.drive_turns:
        return scene.now
    run = regenerate(scene.site, scene.parts, _ready(scene).now.tanks)
    return replace(scene.now, tanks=run.tanks)


def still_complained_of(scene: Scene, complaints: tuple[str, ...]) -> bool:
    """Whether what they called about is still there for eye, nose, strainer or gauge.

    What flows and hardness show is in the short cycle already.
    """
    looks: Mapping[str, Callable[[], bool]] = {
        "smelly_water": lambda: smell_found(scene) == "softened_only",
        "coloured_water": lambda: glass_seen(scene) == "coloured_soft",
        "resin_at_taps": lambda: strainer_found(scene) == "beads_there",
        "low_pressure": lambda: (
            gauged.unit_loss(scene) == "large_loss"
            or gauged.flowing_pressure(scene).outcome == "falls_away"
            or gauged.static_pressure(scene).outcome == "low"
        ),
    }
    return any(looks[complaint]() for complaint in complaints if complaint in looks)


def _set_wrong(scene: Scene) -> bool:
    """Whether clock or settings are clearly not what this unit on this water asks for."""
    parts, site = scene.parts, scene.site
    if not site.electric:
        return False
    hardness = parts.hardness_set / parts.raw
    return (
        abs(parts.clock_off_h) > 1
        or not parts.automatic
        or not settings.TOO_LOW < hardness < settings.TOO_HIGH
        or abs(parts.dose_set - 1) > settings.QUARTER
        or min(parts.draw_set, parts.rinse_set) < 1 - 1.4 * settings.QUARTER
        or settings.wait_set(scene) == "too_short"
    )


def _ready(scene: Scene) -> Scene:
    """The tank filled to one refill for the test, with the brine that stands in it."""
    tanks = replace(scene.now.tanks, liquid_m3=scene.site.full_m3)
    return replace(scene, now=replace(scene.now, tanks=tanks))


# --- what is noticed ---------------------------------------------------------------------------


def _noticed(strength: float, at_limit: float, at_worst: float, worst: float) -> float:
    """Chance that a household notices: from the limit of a symptom to its worst, by ratio."""
    part = min(max((strength - 1) / (worst - 1), 0.0), 1.0)
    return at_limit + (at_worst - at_limit) * part


def complaints(site: Site, parts: Parts, log: Log, chance: Chance) -> tuple[str, ...]:
    """What the customer says, of what there is to notice. How attentive they are is judged."""
    found = {symptom.name: symptom.strength for symptom in symptoms(site, parts, log, 7)}
    said = []
    for complaint, chance_of in COMPLAINTS.items():
        if chance.happens(chance_of(site, parts, log, found), "says", complaint):
            said.append(complaint)
    return tuple(said)


Found = Mapping[str, float]


def _salt_unused(site: Site, parts: Parts, log: Log, found: Found) -> float:
    ratio = log.salt_used_kg / (usual(site).salt_kg_day * log.days)
    if parts.salt_short:
        return 0.02
    return 0.7 if ratio < 0.15 else 0.45 if ratio < 0.45 else 0.02


def _hard(site: Site, parts: Parts, log: Log, found: Found) -> float:
    how = pattern(log, site, parts)
    if how == "always_soft" and (parts.tap_is_raw or parts.heater_hard or parts.own_test_wrong):
        return 0.9
    noticed = {"always_hard": 0.85, "soft_then_hard": 0.65, "constant_blend": 0.5}
    if how in noticed:
        return noticed[how]
    # A few hard hours now and then.
    return 0.25 if "hard" in found else 0.03


def _overfull(site: Site, parts: Parts, log: Log, found: Found) -> float:
    if log.overflowed:
        return 0.9
    return _noticed(found["overfull"], 0.35, 0.75, 2.0) if "overfull" in found else 0.01


def _runs(site: Site, parts: Parts, log: Log, found: Found) -> float:
    flow = service.passing_m3_s(site, parts)
    if flow < service.SEEN_M3_S:
        return 0.01
    return 0.75 if flow > GPM.to_si(0.3) else 0.5 if flow > GAL_PER_DAY.to_si(60) else 0.2


def _eats(site: Site, parts: Parts, log: Log, found: Found) -> float:
    return _noticed(found["eats_salt"], 0.4, 0.75, 2.0) if "eats_salt" in found else 0.012


def _salty(site: Site, parts: Parts, log: Log, found: Found) -> float:
    return _noticed(found["salty"], 0.3, 0.85, 4.0) if "salty" in found else 0.008


def _no_drain(site: Site, parts: Parts, log: Log, found: Found) -> float:
    """Few stand at the drain at that hour."""
    if not log.cycles:
        return 0.07
    return 0.25 if flows.backwash_m3_s(site, parts) < 0.2 * site.backwash_m3_s else 0.003


def _pressure(site: Site, parts: Parts, log: Log, found: Found) -> float:
    worst = max(found.get("resists", 0.0), found.get("poor_supply", 0.0))
    if worst >= 1:
        return _noticed(worst, 0.4, 0.8, 2.0)
    # Even where the loss is within limits a house with little pressure feels it.
    left = flows.inlet_pa(site, parts, BATH_M3_S) - service.unit_loss_pa(site, parts)
    return 0.25 if left < PSI.to_si(20) else 0.02


def _beads(site: Site, parts: Parts, log: Log, found: Found) -> float:
    if "beads" in found:
        return 0.8
    return 0.08 if parts.soft_beads else 0.004


def _colour(site: Site, parts: Parts, log: Log, found: Found) -> float:
    if "coloured" in found:
        return _noticed(found["coloured"], 0.4, 0.85, 3.0)
    return 0.04 if site.iron_mg_l > 0 else 0.012


def _smell(site: Site, parts: Parts, log: Log, found: Found) -> float:
    if "smells" in found:
        return 0.8
    return 0.06 if site.smell_elsewhere else 0.005


COMPLAINTS: Mapping[str, Callable[[Site, Parts, Log, Found], float]] = {
    "salt_unused": _salt_unused,
    "hard_water": _hard,
    "tank_overfull": _overfull,
    "runs_to_drain": _runs,
    "too_much_salt": _eats,
    "salty_water": _salty,
    "no_drain_flow": _no_drain,
    "low_pressure": _pressure,
    "resin_at_taps": _beads,
    "coloured_water": _colour,
    "smelly_water": _smell,
}
