"""The brine step of a unit: what its jet does with what is in its way."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Literal

from brinebayes.physics import hydraulics, injector, liquids
from brinebayes.physics.hydraulics import Drain, Tube
from brinebayes.physics.injector import BrineSupply, Injector
from brinebayes.physics.roots import crossing
from brinebayes.physics.units import GPM, GRAVITY_M_S2
from brinebayes.simulation.unit import flows
from brinebayes.simulation.unit.parts import Parts
from brinebayes.simulation.unit.site import Site

#: Pressure below which a starved jet is not followed further.
LEAST_JET_PA = 500.0

#: Air through a hole: density of air, and where its speed reaches that of sound.
AIR_KG_M3 = 1.2
CHOKED_PA = 0.47 * liquids.atmosphere_pa()


@dataclass(frozen=True, slots=True)
class Draw:
    """What the brine step settles at; `air`: volume of air sucked in per volume at the drain."""

    brine_m3_s: float
    motive_m3_s: float
    drain_m3_s: float
    suction_pa: float
    tank_pa: float
    air: float


Port = Literal["tank", "pail", "shut"]


@lru_cache(maxsize=8192)
def brine_draw(
    site: Site,
    parts: Parts,
    *,
    strength: float | None = None,
    lift_m: float | None = None,
    port: Port = "tank",
    line: flows.Line = "fitted",
) -> Draw:
    """The brine step. `port`: brine drawn from the tank, water from a pail, or the port shut.

    A clogged screen takes its loss from the jet's inlet; what slips past the seals to the drain
    costs the jet back pressure, found by repeated substitution.
    """
    w = site.saturated if strength is None else strength
    lift = site.lift_m if lift_m is None else lift_m
    jet = _injector(site, parts)
    pressure = flows.inlet_pa(site, parts)

    def settled(leak: float) -> Draw:
        way = _with_leak(site, parts, line, leak)

        def at(motive: float) -> Draw:
            lost = flows.obstruction_pa(parts.screen_clear, flows.SCREEN_PIPE_M, motive, site)
            p1 = max(pressure - lost, LEAST_JET_PA)
            return _settle(site, parts, jet, p1, way, w, lift, port)

        most = at(0.0)
        if parts.screen_clear == 1:
            return most
        motive = crossing(
            lambda x: x - at(x).motive_m3_s, 0.0, max(most.motive_m3_s, 1e-9) * 1.01, rel=1e-5
        )
        return at(motive)

    area, leak = parts.leaks.drain_m2, 0.0
    result = settled(leak)
    for _ in range(8 if area else 0):
        result = settled(leak)
        past = _passing(site, area, pressure - result.tank_pa)
        leak += 0.6 * (past - leak)
    return replace(result, drain_m3_s=result.drain_m3_s + leak)


def _passing(site: Site, area_m2: float, drop_pa: float) -> float:
    return hydraulics.orifice_flow_m3_s(area_m2, drop_pa, site.water, hydraulics.ORIFICE_DISCHARGE)


def _injector(site: Site, parts: Parts) -> Injector:
    sound = site.injector
    made = replace(
        sound,
        nozzle_m=sound.nozzle_m * parts.nozzle_size,
        throat_m=sound.throat_m * parts.throat_size,
        seal_leak_m2=parts.jet_seal_m2 + parts.leaks.jet_m2,
        # Dirt on a nozzle spoils the jet besides narrowing it. Judgement.
        nozzle_loss=sound.nozzle_loss + 0.5 * (1 / parts.nozzle_clear - 1),
    )
    clogged = injector.clogged_nozzle(made, parts.nozzle_clear)
    return injector.plugged_throat(clogged, parts.throat_clear)


def _with_leak(site: Site, parts: Parts, line: flows.Line, leak_m3_s: float) -> Drain:
    """The drain as the jet sees it, with what slips past the seals already in it.

    It leaves through the same control: the pressure it costs is put on as lift.
    """
    way = flows.drain(site, parts, line)
    if leak_m3_s == 0:
        return way
    usual = site.resin_m3 * GPM.to_si(0.2) / 0.0283
    both = hydraulics.drain_pa(usual + leak_m3_s, way, site.water)
    more_pa = both - hydraulics.drain_pa(usual, way, site.water)
    rise = way.line.rise_m + more_pa / (site.water.density_kg_m3 * GRAVITY_M_S2)
    return replace(way, line=replace(way.line, rise_m=rise))


def _settle(
    site: Site,
    parts: Parts,
    jet: Injector,
    p1: float,
    way: Drain,
    strength: float,
    lift_m: float,
    port: Port,
) -> Draw:
    if port == "shut" or parts.air_check == "shut":
        step = injector.closed_step(jet, p1, way, water_k=site.water_k, altitude_m=site.altitude_m)
        return _draw(step, 0.0)
    tube = flows.brine_line(site, parts)
    if port == "tank":
        clog = hydraulics.obstruction(parts.well_clear)
        tube = replace(tube, fittings=tube.fittings + clog)
    else:
        strength, lift_m = 0.0, lift_m * 0.7  # the pail stands higher than the tank's bottom
    supply = BrineSupply(tube, lift_m, strength, site.water_k)
    if parts.air_hole_m2 > 0:
        return _with_air(site, parts, jet, p1, way, supply)
    step = injector.brine_step(
        jet, p1, supply, way, water_k=site.water_k, altitude_m=site.altitude_m
    )
    return _draw(step, 0.0)


def _draw(step: injector.BrineStep, air_m3_s: float) -> Draw:
    air = air_m3_s / step.drain_m3_s if step.drain_m3_s > 0 else 0.0
    return Draw(
        step.brine_m3_s,
        step.motive_m3_s,
        step.drain_m3_s,
        step.suction_pa,
        step.tank_pa,
        air,
    )


def _with_air(
    site: Site, parts: Parts, jet: Injector, p1: float, way: Drain, supply: BrineSupply
) -> Draw:
    """The jet swallows a volume; air through the hole takes its share of it.

    At a suction s the hole passes Cd A sqrt(2 s / rho), and the line what is left of s after the
    lift. The s at which both fill what the jet takes is found with a bracket.
    """
    brine = supply.liquid
    no_line = Tube(0.01, 0.05)

    def air(suction: float) -> float:
        speed = math.sqrt(2 * min(max(suction, 0.0), CHOKED_PA) / AIR_KG_M3)
        return hydraulics.ORIFICE_DISCHARGE * parts.air_hole_m2 * speed

    def liquid(suction: float) -> float:
        return hydraulics.line_flow_m3_s(suction, replace(supply.line, rise_m=supply.lift_m), brine)

    def taken(suction: float) -> injector.BrineStep:
        lift = suction / (brine.density_kg_m3 * GRAVITY_M_S2)
        level = replace(supply, line=no_line, lift_m=lift)
        return injector.brine_step(
            jet, p1, level, way, water_k=site.water_k, altitude_m=site.altitude_m
        )

    def over(suction: float) -> float:
        return air(suction) + liquid(suction) - taken(suction).brine_m3_s

    if over(0.0) >= 0:
        return _draw(taken(0.0), 0.0)
    suction = crossing(over, 0.0, liquids.atmosphere_pa(site.altitude_m) * 0.97, rel=1e-6)
    step = taken(suction)
    drawn = liquid(suction)
    shared = replace(
        step, brine_m3_s=drawn, drain_m3_s=step.motive_m3_s + drawn, suction_pa=-suction
    )
    return _draw(shared, air(suction))
