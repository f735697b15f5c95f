"""Flows of a unit while it stands in service, or wherever it was left."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import lru_cache

from brinebayes.physics import hydraulics
from brinebayes.physics.units import GAL_PER_DAY
from brinebayes.simulation.unit import flows, jet
from brinebayes.simulation.unit.parts import Parts
from brinebayes.simulation.unit.site import BATH_M3_S, TAP_M3_S, Site

#: A valve body in order takes 3 psi at the flow of a bath tap. Judgement.
VALVE_LOSS_PA = 20_000.0

#: The least flow that is seen as running water: a drip a second is about this. Judgement.
SEEN_M3_S = GAL_PER_DAY.to_si(5)


@lru_cache(maxsize=8192)
def passing_m3_s(site: Site, parts: Parts) -> float:
    """What runs to the drain while the unit stands as it was left."""
    match parts.stands:
        case "backwash" | "rinse":
            return flows.backwash_m3_s(site, parts)
        case "brine":
            return jet.brine_draw(site, parts, strength=0.0).drain_m3_s
        case "between":
            return 0.5 * flows.backwash_m3_s(site, parts)  # ports half open: judgement
        case _:
            pass
    area = parts.leaks.drain_m2
    if area == 0:
        return 0.0
    way = replace(flows.drain(site, parts), bed=None)

    def over_pa(flow: float) -> float:
        gap = site.water.density_kg_m3 / 2 * (flow / (hydraulics.ORIFICE_DISCHARGE * area)) ** 2
        return gap + hydraulics.drain_pa(flow, way, site.water) - flows.inlet_pa(site, parts, flow)

    return flows.settled_flow(over_pa, TAP_M3_S)


@lru_cache(maxsize=8192)
def unit_loss_pa(site: Site, parts: Parts, flow_m3_s: float = BATH_M3_S) -> float:
    """Pressure between inlet and outlet of the unit in service."""
    through = hydraulics.bed_pa(flow_m3_s, flows.bed(site, parts), site.water)
    valve = VALVE_LOSS_PA * (flow_m3_s / BATH_M3_S) ** 2
    hose = (
        flows.obstruction_pa(0.05, flows.PIPE_M, flow_m3_s, site)
        if parts.beyond == "collapsed_hose"
        else 0
    )
    return through + valve + hose + flows.screen_pa(site, parts, flow_m3_s)


def bypassed(site: Site, parts: Parts) -> float:
    """Part of the house's water that goes round the unit: two ways side by side.

    Flow through each goes with the root of its conductance; the open bypass is a full pipe, which
    takes a tenth of what the unit takes. Judgement.
    """
    if parts.bypass_handle >= 0.99:
        return 1.0
    part = 0.0
    for gap in (parts.bypass_handle, parts.bypass_leak):
        if gap > 0:
            unit = math.sqrt(unit_loss_pa(site, parts) / VALVE_LOSS_PA)
            open_way = gap * math.sqrt(10.0)
            part = 1 - (1 - part) * (1 - open_way / (open_way + 1 / unit))
    return part
