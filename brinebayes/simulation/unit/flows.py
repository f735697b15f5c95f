"""Flows and pressures of a unit: the physics of `physics` with the damaged parts in it."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from functools import lru_cache
from typing import Literal

from brinebayes.physics import hydraulics
from brinebayes.physics.hydraulics import ConstantFlow, Control, Drain, FixedOrifice, Tube
from brinebayes.physics.roots import crossing
from brinebayes.physics.units import IN
from brinebayes.simulation.unit.parts import Parts
from brinebayes.simulation.unit.site import KNEE_PA, TAP_M3_S, Site

#: Bores on which obstructions act, and losses of a valve body in order. Judgement.
PIPE_M = IN.to_si(0.75)
SCREEN_PIPE_M = IN.to_si(0.25)
BARE_PORT = 4.0  # drain port without a control: this many times the figure of its control
REFILL_PORT_M = 3.0e-3
SHORT_HOSE = Tube(1.0, IN.to_si(0.5), fittings=2)


Line = Literal["fitted", "off"]


def inlet_pa(site: Site, parts: Parts, flow_m3_s: float = 0.0) -> float:
    """Pressure at the unit while `flow_m3_s` is drawn through the house's inlet."""
    # A weak pump or a worn reducer gives way the more, the less it holds. Judgement.
    feed = site.feed_pa * (flow_m3_s / TAP_M3_S) ** 2 / parts.supply
    squeezed = obstruction_pa(parts.inlet_clear, PIPE_M, flow_m3_s, site)
    return site.static_pa * parts.supply - feed - squeezed


def drain_line(site: Site, parts: Parts, line: Line = "fitted") -> Tube:
    """The drain line as it runs, with kinks and plugs as losses on its bore."""
    if line == "off":
        return SHORT_HOSE
    tube = site.drain_line
    clog = hydraulics.obstruction(parts.line_clear) + hydraulics.obstruction(parts.end_clear)
    return replace(
        tube,
        length_m=tube.length_m + parts.line_longer_m,
        bore_m=tube.bore_m * parts.line_bore,
        rise_m=tube.rise_m + parts.line_higher_m,
        fittings=tube.fittings + clog,
    )


def drain_control(site: Site, parts: Parts, line: Line = "fitted") -> Control | None:
    """The drain control as it is; it goes with the fitting where it sits in the fitting.

    A blocked one is a fixed bore of what is left: dirt does not yield as rubber does.
    """
    in_fitting = site.known.get("control_place") == "in_fitting"
    if math.isinf(parts.control_size) or (line == "off" and in_fitting):
        return FixedOrifice(bore_for(BARE_PORT * site.backwash_m3_s, site))
    size = parts.control_size * parts.control_clear
    match site.control:
        case ConstantFlow(rated, knee, stiffness) if parts.control_clear == 1:
            return ConstantFlow(rated * size, knee, stiffness)
        case ConstantFlow(rated):
            return FixedOrifice(bore_for(rated * size, site))
        case FixedOrifice(area):
            return FixedOrifice(area * size)


def bed(site: Site, parts: Parts) -> hydraulics.Bed:
    """The resin as a packed bed; soft beads drag as if they were finer."""
    bead = hydraulics.BEAD_M / math.sqrt(parts.resin_drag)
    return hydraulics.Bed(site.resin_tank_m, site.resin_m3 * parts.resin_there, bead)


def drain(site: Site, parts: Parts, line: Line = "fitted") -> Drain:
    """All from the top of the resin to the open air."""
    return Drain(drain_control(site, parts, line), drain_line(site, parts, line), bed(site, parts))


@lru_cache(maxsize=8192)
def backwash_m3_s(site: Site, parts: Parts, line: Line = "fitted") -> float:
    """Flow at the drain in backwash or fast rinse."""
    way = drain(site, parts, line)

    def over_pa(flow: float) -> float:
        needed = hydraulics.drain_pa(flow, way, site.water)
        return needed + screen_pa(site, parts, flow) - inlet_pa(site, parts, flow)

    return settled_flow(over_pa, 4 * TAP_M3_S)


@lru_cache(maxsize=8192)
def refill_m3_s(site: Site, parts: Parts, through_line: bool = True) -> float:
    """Flow into the brine tank before the float has a say."""
    if math.isinf(parts.refill_size):
        area = hydraulics.circle_m2(REFILL_PORT_M) * parts.refill_clear
        control: Control = FixedOrifice(area)
    elif parts.refill_clear == 1:
        control = ConstantFlow(site.refill_m3_s * parts.refill_size, KNEE_PA)
    else:
        rated = site.refill_m3_s * parts.refill_size * parts.refill_clear
        control = FixedOrifice(bore_for(rated, site))
    tube = brine_line(site, parts) if through_line else SHORT_HOSE

    def over_pa(flow: float) -> float:
        needed = hydraulics.control_pa(flow, control, site.water)
        needed += hydraulics.friction_pa(flow, tube, site.water)
        return needed - inlet_pa(site, parts, flow)

    return settled_flow(over_pa, TAP_M3_S)


def brine_line(site: Site, parts: Parts) -> Tube:
    """The brine line with what plugs it."""
    clog = hydraulics.obstruction(parts.brine_line_clear)
    return replace(site.brine_line, fittings=site.brine_line.fittings + clog)


def seep_m3_s(site: Site, parts: Parts) -> float:
    """Water that creeps past the brine valve into the tank in service."""
    return hydraulics.orifice_flow_m3_s(
        parts.brine_valve_m2, inlet_pa(site, parts), site.water, hydraulics.ORIFICE_DISCHARGE
    )


def obstruction_pa(clear: float, bore_m: float, flow_m3_s: float, site: Site) -> float:
    """Pressure that an obstruction takes of a bore of which it leaves the part `clear`."""
    if clear >= 1 or flow_m3_s == 0:
        return 0.0
    speed = flow_m3_s / hydraulics.circle_m2(bore_m)
    return hydraulics.obstruction(clear) * site.water.density_kg_m3 * speed**2 / 2


def screen_pa(site: Site, parts: Parts, flow_m3_s: float) -> float:
    """The upper screen lies between the valve and the bed in every step."""
    return obstruction_pa(parts.upper_clear, 2 * PIPE_M, flow_m3_s, site)


def bore_for(flow_m3_s: float, site: Site) -> float:
    """Area of a fixed bore that passes `flow_m3_s` at the pressure of a control's figure."""
    return hydraulics.orifice_area_m2(flow_m3_s, KNEE_PA, site.water, hydraulics.ORIFICE_DISCHARGE)


def settled_flow(over_pa: Callable[[float], float], high: float) -> float:
    """The flow at which `over_pa`, pressure needed less pressure there, is nothing."""
    if over_pa(0.0) >= 0:
        return 0.0
    while over_pa(high) < 0:
        high *= 2
    return crossing(over_pa, 0.0, high, rel=1e-9)
