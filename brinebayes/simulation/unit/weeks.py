"""Weeks of service: water is used, regenerations come due or do not, the tank fills and empties."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

from brinebayes.physics.units import GAL, GPG, LITRE
from brinebayes.simulation.unit import service
from brinebayes.simulation.unit.parts import LEAST_VOLTS, SOUND, Parts
from brinebayes.simulation.unit.regeneration import (
    Run,
    Tanks,
    bed_kg,
    bed_water_m3,
    dissolve,
    regenerate,
    seep,
)
from brinebayes.simulation.unit.site import REGENERATION_HOUR, Site

#: Share of a day's water in each three hours, from midnight. Judgement.
DAY = (0.01, 0.03, 0.24, 0.15, 0.12, 0.13, 0.21, 0.11)
NIGHT_USE = 0.15
STEP_S = 3 * 3600.0

#: A bed breaks through around its end over this part of its charge. Judgement.
FRONT = 0.03

#: A poorly regenerated bed leaks from its first gallon: up to this part of the raw hardness, half
#: of it brined upflow. Judgement.
POOR_LEAK = 0.12

#: Part of the raw water that misses a bed lifted by reversed flow, and a cracked body. Judgement.
LIFTED = 0.25
CRACKED = 0.25

#: Hot water: share of the use, and the heater's size. Judgement.
HOT_SHARE = 0.3
HEATER_M3 = GAL.to_si(45)

#: What is left of the salt where it has run out. Judgement.
CRUST_KG = 0.5

#: First water after a regeneration in which left-over salt is tasted.
FIRST_GLASSES_M3 = LITRE.to_si(75)
CHLORIDE_OF_SALT = 0.607


@dataclass(frozen=True, slots=True)
class State:
    """A unit in its house at one moment; `counted_m3` by the meter, `used_m3` truly, both since
    the last regeneration was started."""

    tanks: Tanks
    counted_m3: float = 0.0
    used_m3: float = 0.0
    days_since: int = 0
    heater_kg_m3: float = 0.0


@dataclass(frozen=True, slots=True)
class Sample:
    """Three hours of water. Hardness in kg/m3 at the unit's outlet, in the house cold and hot."""

    day: int
    water_m3: float
    at_unit: float
    cold: float
    hot: float
    run_part: float


@dataclass(frozen=True, slots=True)
class Cycle:
    """One regeneration as the house met it; `chloride_kg_m3` over raw in the first glasses."""

    day: int
    run: Run
    chloride_kg_m3: float
    used_before_m3: float


@dataclass(frozen=True, slots=True)
class Log:
    """Some weeks of service and where they end."""

    samples: tuple[Sample, ...]
    cycles: tuple[Cycle, ...]
    starts: tuple[int, ...]
    liquid_m3: tuple[float, ...]
    salt_used_kg: float
    removed_kg: float
    overflowed: bool
    days: int
    end: State

    def since(self, day: int) -> tuple[Sample, ...]:
        """Samples from this day on."""
        return tuple(sample for sample in self.samples if sample.day >= day)


def start(site: Site, parts: Parts, charged: float = 1.0) -> State:
    """A unit in order some time after a regeneration: tank as it then stands, bed charged."""
    full = site.saturated
    liquid = site.rest_m3 if site.refill_first else site.full_m3
    left = charged * bed_kg(site, SOUND, site.dose_kg_m3)
    run = (1 - charged) * programmed_m3(site, SOUND)
    days = int(run / site.reckoned_use_m3_day)
    salt = CRUST_KG if parts.salt_short else site.salt_kg
    return State(Tanks(liquid, full, salt, left), run, run, days)


def raw_kg_m3(site: Site, parts: Parts) -> float:
    """Hardness of the raw water today."""
    return site.raw_kg_m3 * parts.raw


def leak_part(site: Site, parts: Parts) -> float:
    """Part of the water that reaches the unit's outlet without meeting resin."""
    if parts.stands != "service":
        return 0.8 if parts.stands == "between" else 1.0
    ways = (
        parts.riser_gap,
        parts.channels,
        parts.leaks.past_resin,
        LIFTED if parts.reversed_ports else 0.0,
        CRACKED if parts.beyond == "cracked_body" else 0.0,
    )
    met = 1.0
    for way in ways:
        met *= 1 - way
    return 1 - met


def bed_lets_through(site: Site, parts: Parts, left_kg: float) -> float:
    """Part of the hardness that a bed with this charge left lets through."""
    poor = POOR_LEAK * (0.5 if site.upflow else 1.0)
    poor *= min(1.0, max(0.0, 1 - left_kg / (0.35 * site.capacity_kg)))
    front = FRONT * site.capacity_kg
    broken = min(max((front - left_kg) / (2 * front), 0.0), 1.0)
    return min(poor + (1 - poor) * broken, 0.98)


def programmed_m3(site: Site, parts: Parts) -> float:
    """Water that the control lets through between regenerations."""
    gross = site.capacity_kg / (site.hardness_set_kg_m3 * parts.hardness_set)
    if site.twin:
        return 0.9 * gross
    return max(gross - site.reckoned_use_m3_day * parts.use_reckoned, 0.3 * gross)


def serve(site: Site, parts: Parts, state: State, days: int) -> Log:
    """Runs the unit for some days."""
    samples: list[Sample] = []
    cycles: list[Cycle] = []
    starts: list[int] = []
    levels: list[float] = []
    removed = dissolved = 0.0
    overflowed = False
    raw = raw_kg_m3(site, parts)
    goes_round = service.bypassed(site, parts)
    past = leak_part(site, parts)
    run = programmed_m3(site, parts)
    ready = parts.automatic and parts.power >= LEAST_VOLTS
    ready = ready and parts.board not in ("frozen", "garbled")
    # A unit driven by water has two tanks as a rule; one with one waits for the night as well.
    hour = (REGENERATION_HOUR + parts.clock_off_h) % 24 if site.electric else REGENERATION_HOUR
    for day in range(days):
        for three, share in enumerate(DAY):
            if ready and _due(site, parts, state, run, three, hour):
                starts.append(day)
                if parts.drive_turns:
                    before = state.tanks.salt_kg
                    cycle, state = _cycle(site, parts, state, day)
                    cycles.append(cycle)
                    dissolved += before - state.tanks.salt_kg
                    raw_now = not site.twin
                else:
                    state = replace(state, counted_m3=0.0, days_since=0)
                    raw_now = False
            else:
                raw_now = False
            night = NIGHT_USE if parts.night_use and three == 0 else 0.0
            water = site.use_m3_day * parts.use * (share + night)
            through = water * (1 - goes_round)
            own = bed_lets_through(site, parts, state.tanks.left_kg)
            # The valve feeds the house raw for about half of these three hours.
            missing = past + (1 - past) * (0.5 if raw_now else 0.0)
            at_unit = raw * (missing + (1 - missing) * own)
            cold = raw * goes_round + at_unit * (1 - goes_round)
            taken = through * (raw - at_unit)
            removed += taken
            hot = state.heater_kg_m3
            mixed = min(1.0, HOT_SHARE * water / HEATER_M3)
            tanks = replace(
                state.tanks,
                left_kg=max(state.tanks.left_kg - taken, -FRONT * site.capacity_kg),
                bed_salt_kg=state.tanks.bed_salt_kg * max(0.0, 1 - through / bed_water_m3(site)),
            )
            tanks, more = _stand(site, parts, tanks)
            dissolved += more
            if tanks.liquid_m3 > site.overflow_m3:
                overflowed, tanks = True, replace(tanks, liquid_m3=site.overflow_m3)
            samples.append(Sample(day, water, at_unit, cold, hot, state.used_m3 / run))
            state = replace(
                state,
                tanks=tanks,
                counted_m3=state.counted_m3 + through * parts.meter_counts,
                used_m3=state.used_m3 + through,
                heater_kg_m3=hot + mixed * (cold - hot),
            )
        levels.append(state.tanks.liquid_m3)
        state = replace(state, days_since=state.days_since + 1)
    return Log(
        tuple(samples),
        tuple(cycles),
        tuple(starts),
        tuple(levels),
        dissolved,
        removed,
        overflowed,
        days,
        state,
    )


def _stand(site: Site, parts: Parts, tanks: Tanks) -> tuple[Tanks, float]:
    """Three hours on the salt: seeping, dissolving, and the household filling salt in."""
    before = tanks.salt_kg
    if parts.brine_valve_m2 > 0 or parts.crack_m3_s > 0:
        tanks = seep(site, parts, tanks, STEP_S)
    tanks = dissolve(site, parts, tanks, STEP_S)
    more = before - tanks.salt_kg
    if tanks.salt_kg < site.fill_at_kg and not parts.salt_short:
        tanks = replace(tanks, salt_kg=site.salt_kg)
    return tanks, more


def _due(site: Site, parts: Parts, state: State, run_m3: float, three: int, hour: float) -> bool:
    if site.twin:
        return state.counted_m3 >= run_m3
    if three != int(hour // 3):
        return False
    if site.metered:
        return state.counted_m3 >= run_m3
    every = run_m3 / (site.reckoned_use_m3_day * parts.use_reckoned) + 1
    return state.days_since >= max(1, int(every))


def _cycle(site: Site, parts: Parts, state: State, day: int) -> tuple[Cycle, State]:
    """A regeneration; with two tanks the house goes over to the one that was done before."""
    run = regenerate(site, parts, state.tanks)
    tanks = run.tanks
    if parts.changeover_stuck:
        tanks = replace(tanks, left_kg=state.tanks.left_kg, bed_salt_kg=0.0)
    chloride = CHLORIDE_OF_SALT * tanks.bed_salt_kg / FIRST_GLASSES_M3
    cycle = Cycle(day, run, chloride, state.used_m3)
    return cycle, replace(state, tanks=tanks, counted_m3=0.0, used_m3=0.0, days_since=0)


#: Water up to here is called soft by those who use it: USGS, soft is 0 to 60 mg/L as CaCO3.
FELT_SOFT_KG_M3 = 0.060

#: A grain at the outlet ends a run by NSF/ANSI 44; kits read to the grain, so two are not soft.
SOFT_KG_M3 = GPG.to_si(1.5)


@dataclass(frozen=True, slots=True)
class Usual:
    """What this house was used to: salt and regenerations a day while all was in order."""

    salt_kg_day: float
    cycles_day: float


@lru_cache(maxsize=1024)
def usual(site: Site) -> Usual:
    """The unit in order over two months."""
    log = serve(site, SOUND, start(site, SOUND), 60)
    return Usual(log.salt_used_kg / log.days, len(log.cycles) / log.days)
