"""One regeneration: what is drawn from the tank, what the bed takes up, what is left in it."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import pairwise

from brinebayes.physics import capacity, liquids
from brinebayes.physics.units import GR_PER_LB, LB_PER_FT3, MINUTE
from brinebayes.simulation.unit import flows, jet
from brinebayes.simulation.unit.parts import SOUND, Parts
from brinebayes.simulation.unit.site import Site

#: Water comes to full strength on salt in an hour or two (common practice): about four of these.
SATURATION_S = MINUTE.to_si(25)

#: Free volume of a tank over its resin: voidage of the bed and half of its depth above it, and
#: how fast a rinse clears it, e-folds for each such volume. Judgement.
FREEBOARD = 0.5
CLEARING = 2.0

#: Above the published doses a pound of salt brings this many grains less and less. Judgement.
BEYOND_GR_LB = 750.0
MOST_DOSE = LB_PER_FT3.to_si(20)

#: A regeneration that misses its stops comes to this part of its times. Judgement.
OUT_OF_STEP = 0.3

#: Air drawn after the brine fills the bed in part: what is then left of the slow rinse, and of
#: the brine's work. Judgement.
RINSE_WITH_AIR, BRINE_WITH_AIR = 0.3, 0.8

#: An air check that closes early leaves this part of the brine. Judgement.
CLOSED_EARLY = 0.55


@dataclass(frozen=True, slots=True)
class Tanks:
    """Brine tank and bed at one moment. `left_kg`: hardness that the bed can still take up;
    `bed_salt_kg`: salt in the water over the resin that should be at the drain."""

    liquid_m3: float
    strength: float
    salt_kg: float
    left_kg: float
    bed_salt_kg: float = 0.0


@dataclass(frozen=True, slots=True)
class Run:
    """What one regeneration did. `finished`: the brine was drawn before the step ended."""

    tanks: Tanks
    salt_to_bed_kg: float
    salt_left_kg: float
    drained_m3_s: float
    finished: bool


def draw_step_s(site: Site) -> float:
    """Brine step as set for this unit: the draw, some spare, the slow rinse."""
    sound = jet.brine_draw(site, SOUND)
    return 1.15 * site.normal_brine_m3 / sound.brine_m3_s + site.slow_rinse_s


def regenerate(site: Site, parts: Parts, tanks: Tanks) -> Run:
    """A whole regeneration with the parts as they are."""
    if site.refill_first:
        tanks = dissolve(site, parts, refill(site, parts, tanks), site.dwell_s * parts.dwell_set)
    run = _draw_and_rinse(site, parts, tanks)
    if not site.refill_first:
        run = replace(run, tanks=refill(site, parts, run.tanks))
    return run


def _draw_and_rinse(site: Site, parts: Parts, tanks: Tanks) -> Run:
    lost = OUT_OF_STEP if parts.steps_off or parts.sensor_dead else 1.0
    step_s = draw_step_s(site) * parts.draw_set * lost
    flow = jet.brine_draw(site, parts)
    before = tanks.liquid_m3
    if flow.brine_m3_s <= 0:
        pushed = -flow.brine_m3_s * step_s
        after = _let_in(site, parts, tanks, pushed)
        drawn, finished, drawing_s = 0.0, False, step_s
    else:
        able = max(before - _lowest_m3(site, parts), 0.0)
        drawn = min(able, flow.brine_m3_s * step_s)
        finished = drawn == able
        drawing_s = drawn / flow.brine_m3_s
        after = replace(tanks, liquid_m3=before - drawn)
    density = liquids.density_kg_m3(tanks.strength, site.water_k)
    salt = drawn * density * tanks.strength
    airy = parts.air_check == "open"
    slow_m3 = flow.motive_m3_s * max(step_s - drawing_s, 0.0) * (RINSE_WITH_AIR if airy else 1.0)
    fast_m3 = flows.backwash_m3_s(site, parts) * site.fast_rinse_s * parts.rinse_set * lost
    volumes = (slow_m3 + fast_m3) / bed_water_m3(site)
    left = (0.6 * salt + tanks.bed_salt_kg) * math.exp(-CLEARING * volumes)
    worked = salt * (BRINE_WITH_AIR if airy else 1.0)
    restored = _restored_kg(site, parts, tanks.left_kg, worked)
    return Run(
        replace(after, left_kg=restored, bed_salt_kg=left),
        salt,
        left,
        flows.backwash_m3_s(site, parts),
        finished,
    )


def _lowest_m3(site: Site, parts: Parts) -> float:
    """Content at which the draw ends."""
    if parts.air_check == "early":
        return site.rest_m3 + CLOSED_EARLY * site.normal_brine_m3
    return site.rest_m3


def refill(site: Site, parts: Parts, tanks: Tanks) -> Tanks:
    """Water let in over the set time; the float may end it."""
    seconds = site.refill_s * parts.dose_set
    return _let_in(site, parts, tanks, flows.refill_m3_s(site, parts) * seconds)


def float_m3(site: Site, parts: Parts) -> float:
    """Content at which the float shuts."""
    return parts.float_level * site.float_m3


def _let_in(site: Site, parts: Parts, tanks: Tanks, water_m3: float) -> Tanks:
    room = max(float_m3(site, parts) - tanks.liquid_m3, 0.0)
    return add_water(site, tanks, min(water_m3, room))


def seep(site: Site, parts: Parts, tanks: Tanks, seconds: float) -> Tanks:
    """What creeps past the brine valve and out of a crack in this time."""
    crept = _let_in(site, parts, tanks, flows.seep_m3_s(site, parts) * seconds)
    out = parts.crack_m3_s * seconds
    return replace(crept, liquid_m3=max(crept.liquid_m3 - out, 0.0))


def add_water(site: Site, tanks: Tanks, water_m3: float) -> Tanks:
    """Water mixes into what stands in the tank."""
    if water_m3 <= 0:
        return tanks
    salt, water = _held(site, tanks)
    return _made(site, tanks, salt, water + water_m3 * site.water.density_kg_m3)


def dissolve(site: Site, parts: Parts, tanks: Tanks, seconds: float) -> Tanks:
    """Brine after standing on the salt; the more of it is wetted, the sooner it is full."""
    full = site.saturated
    if full - tanks.strength < 1e-6:
        return tanks
    nearer = math.exp(-parts.salt_contact * seconds / SATURATION_S)
    wanted = full - (full - tanks.strength) * nearer
    salt, water = _held(site, tanks)
    taken = min(water * wanted / (1 - wanted) - salt, tanks.salt_kg)
    made = _made(site, tanks, salt + taken, water)
    return replace(made, salt_kg=tanks.salt_kg - taken)


def _held(site: Site, tanks: Tanks) -> tuple[float, float]:
    """Salt and water in the tank's liquid, kg."""
    mass = tanks.liquid_m3 * liquids.density_kg_m3(tanks.strength, site.water_k)
    return mass * tanks.strength, mass * (1 - tanks.strength)


def _made(site: Site, tanks: Tanks, salt_kg: float, water_kg: float) -> Tanks:
    """Brine of so much salt and water; 3.01 gal of water make 3.40 of full brine."""
    mass = salt_kg + water_kg
    if mass <= 0:
        return replace(tanks, liquid_m3=0.0)
    strength = salt_kg / mass
    volume = mass / liquids.density_kg_m3(strength, site.water_k)
    return replace(tanks, liquid_m3=volume, strength=strength)


def bed_water_m3(site: Site) -> float:
    """Water in and over the resin."""
    return site.resin_m3 * (0.38 + FREEBOARD)


def bed_kg(site: Site, parts: Parts, dose_kg_m3: float) -> float:
    """Hardness that the bed as it is takes up after a dose on the exhausted bed.

    Below the published doses in proportion, above them less and less: judgement.
    """
    (low, at_low), (high, at_high) = capacity.DOSES[0], capacity.DOSES[-1]
    dose = min(dose_kg_m3, MOST_DOSE)
    if dose < low:
        per_m3 = at_low * dose / low
    elif dose <= high:
        per_m3 = capacity.capacity_kg_m3(dose)
    else:
        per_m3 = at_high + GR_PER_LB.to_si(BEYOND_GR_LB) * (dose - high)
    return per_m3 * resin_m3(site, parts) * parts.resin_capacity


def resin_m3(site: Site, parts: Parts) -> float:
    """Resin that water meets."""
    return site.resin_m3 * parts.resin_there


def _restored_kg(site: Site, parts: Parts, left_kg: float, salt_kg: float) -> float:
    """The bed after a regeneration: the dose comes on top of the one its charge stands for."""
    steps = 60
    doses = [MOST_DOSE * i / steps for i in range(steps + 1)]
    held = [bed_kg(site, parts, dose) for dose in doses]
    had = 0.0
    for (d0, k0), (d1, k1) in pairwise(zip(doses, held, strict=True)):
        if left_kg >= k1:
            had = d1
        elif left_kg > k0:
            had = d0 + (d1 - d0) * (left_kg - k0) / (k1 - k0)
            break
        else:
            break
    reached = salt_kg * (1 - parts.channels) / max(resin_m3(site, parts), 1e-9)
    # What was overdrawn is made good first.
    return bed_kg(site, parts, had + reached) + min(left_kg, 0.0)
