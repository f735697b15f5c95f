"""Flow through tubing, flow controls and the resin bed.

Pressures are differences or gauge pressures in Pa. Nothing here replaces a local code: what drain
tubing is allowed, and its air gap, is for the authority that has jurisdiction.
"""

from __future__ import annotations

import math
from collections.abc import Callable

from brinebayes.physics import liquids
from brinebayes.physics.liquids import COLD_WATER_K, Liquid
from brinebayes.physics.roots import crossing
from brinebayes.physics.units import FOOT_M, GPM, GRAVITY_M_S2, INCH_M, PSI
from brinebayes.record import record

#: Drawn copper and plastic. Source: common handbook value, from memory.
SMOOTH_M = 1.5e-6

#: Sharp-edged orifice discharging full of water. Source: common handbook value, from memory.
ORIFICE_DISCHARGE = 0.62

#: Half-inch drain tubing up to here, larger beyond; common practice, no source. `HALF_INCH_M` is
#: where half-inch ends, as bores of half-inch tubing differ.
HALF_INCH_LIMIT_M = 20 * FOOT_M
HALF_INCH_M = 0.6 * INCH_M

#: Backwash per area of bed; common practice, no source. Published: 6-8 (MIL-HDBK-1164 §11.5.8)
#: and 4.9-8.2 gpm/ft2 (Davis, Water and Wastewater Engineering, table 8-2).
BACKWASH_M_S = GPM.to_si(5.0) / FOOT_M**2

#: Gel cation resin in the sodium form, as beads in water. Judgement within usual data.
BEAD_M = 0.6e-3
BEAD_KG_M3 = 1280.0
BED_VOIDAGE = 0.38


@record
class Tube:
    """A run of tubing. `rise_m`: height of its end above its start; `fittings`: sum of loss
    coefficients K of elbows, valves and the open end, on the velocity in the bore."""

    length_m: float
    bore_m: float
    rise_m: float = 0.0
    fittings: float = 0.0
    roughness_m: float = SMOOTH_M


@record
class FixedOrifice:
    """A flow control with a fixed bore: Q = Cd A sqrt(2 dp / rho)."""

    area_m2: float
    discharge: float = ORIFICE_DISCHARGE


@record
class ConstantFlow:
    """An elastomer flow control: an orifice up to `knee_pa`, nearly constant flow above it.

    `rated_m3_s`: flow at the knee. `stiffness`: above the knee the flow grows as dp^stiffness.
    That it holds is common practice, no source; knee (15 psi) and stiffness (about 6 % more flow
    at 100 psi) are judgement.
    """

    rated_m3_s: float
    knee_pa: float = PSI.to_si(15.0)
    stiffness: float = 0.03


Control = FixedOrifice | ConstantFlow


@record
class Bed:
    """A bed of resin beads in a round tank."""

    tank_m: float
    resin_m3: float
    bead_m: float = BEAD_M
    voidage: float = BED_VOIDAGE

    @property
    def area_m2(self) -> float:
        """Cross-section of the tank."""
        return circle_m2(self.tank_m)

    @property
    def depth_m(self) -> float:
        """Depth of the settled resin."""
        return self.resin_m3 / self.area_m2


@record
class Drain:
    """The way from the top of the resin to the open air; a missing `control` does not restrict."""

    control: Control | None
    line: Tube
    bed: Bed | None = None


def circle_m2(diameter_m: float) -> float:
    """pi d^2 / 4."""
    return math.pi / 4 * diameter_m**2


def reynolds(flow_m3_s: float, bore_m: float, liquid: Liquid) -> float:
    """Re = rho v D / mu."""
    speed_m_s = abs(flow_m3_s) / circle_m2(bore_m)
    return liquid.density_kg_m3 * speed_m_s * bore_m / liquid.viscosity_pa_s


def friction_factor(reynolds_number: float, relative_roughness: float) -> float:
    """Darcy friction factor, laminar to turbulent in one continuous curve.

    f = 8 ((8/Re)^12 + (A + B)^-1.5)^(1/12), A = (2.457 ln 1/((7/Re)^0.9 + 0.27 e))^16,
    B = (37530/Re)^16. Within 2 % of Colebrook above Re 4000; being continuous at the transition,
    where flow is unsteady anyhow, it lets stall be found with a bracket.
    Source: Churchill, Chemical Engineering 84 (24), 1977, 91.
    """
    if reynolds_number < 100:
        return 64 / reynolds_number
    inner = (7 / reynolds_number) ** 0.9 + 0.27 * relative_roughness
    a = (2.457 * math.log(1 / inner)) ** 16
    b = (37530 / reynolds_number) ** 16
    return 8 * math.pow((8 / reynolds_number) ** 12 + math.pow(a + b, -1.5), 1 / 12)


def friction_pa(flow_m3_s: float, tube: Tube, liquid: Liquid) -> float:
    """Loss (f L/D + K) rho v^2/2, with the sign of the flow. Source: Darcy & Weisbach."""
    if flow_m3_s == 0:
        return 0.0
    speed_m_s = flow_m3_s / circle_m2(tube.bore_m)
    f = friction_factor(reynolds(flow_m3_s, tube.bore_m, liquid), tube.roughness_m / tube.bore_m)
    heads = f * tube.length_m / tube.bore_m + tube.fittings
    return heads * liquid.density_kg_m3 * speed_m_s * abs(speed_m_s) / 2


def elevation_pa(rise_m: float, liquid: Liquid) -> float:
    """Pressure that it takes to lift the liquid by `rise_m`: rho g h."""
    return liquid.density_kg_m3 * GRAVITY_M_S2 * rise_m


def line_pa(flow_m3_s: float, tube: Tube, liquid: Liquid) -> float:
    """Pressure at the start of the tube that drives `flow_m3_s` to its open end."""
    return friction_pa(flow_m3_s, tube, liquid) + elevation_pa(tube.rise_m, liquid)


def line_flow_m3_s(pressure_pa: float, tube: Tube, liquid: Liquid) -> float:
    """Flow that `pressure_pa` drives through the tube; 0 if it cannot lift the liquid."""
    return _flow(lambda flow: line_pa(flow, tube, liquid) - pressure_pa, circle_m2(tube.bore_m))


def run_load(flow_m3_s: float, tube: Tube, inlet_pa: float, liquid: Liquid) -> float:
    """Part of the inlet pressure that a drain line takes at `flow_m3_s`, friction and lift."""
    return line_pa(flow_m3_s, tube, liquid) / inlet_pa


def orifice_flow_m3_s(area_m2: float, drop_pa: float, liquid: Liquid, discharge: float) -> float:
    """Q = Cd A sqrt(2 dp / rho); 0 for no drop. Source: Bernoulli with a discharge coefficient."""
    return discharge * area_m2 * math.sqrt(2 * max(drop_pa, 0.0) / liquid.density_kg_m3)


def orifice_area_m2(flow_m3_s: float, drop_pa: float, liquid: Liquid, discharge: float) -> float:
    """A = Q / (Cd sqrt(2 dp / rho)): the bore that passes `flow_m3_s`."""
    return flow_m3_s / (discharge * math.sqrt(2 * drop_pa / liquid.density_kg_m3))


def control_pa(flow_m3_s: float, control: Control | None, liquid: Liquid) -> float:
    """Pressure that a flow control takes at `flow_m3_s` >= 0."""
    match control:
        case None:
            return 0.0
        case FixedOrifice(area_m2, discharge):
            return liquid.density_kg_m3 / 2 * (flow_m3_s / (discharge * area_m2)) ** 2
        case ConstantFlow(rated_m3_s, knee_pa, stiffness):
            part = flow_m3_s / rated_m3_s
            return knee_pa * math.pow(part, 2 if part < 1 else 1 / stiffness)


def control_flow_m3_s(drop_pa: float, control: Control, liquid: Liquid) -> float:
    """Flow through a control with `drop_pa` across it, the inverse of `control_pa`."""
    match control:
        case FixedOrifice(area_m2, discharge):
            return orifice_flow_m3_s(area_m2, drop_pa, liquid, discharge)
        case ConstantFlow(rated_m3_s, knee_pa, stiffness):
            part = max(drop_pa, 0.0) / knee_pa
            return rated_m3_s * math.pow(part, 0.5 if part < 1 else stiffness)


def bed_pa(flow_m3_s: float, bed: Bed, liquid: Liquid) -> float:
    """Clean bed: dp/L = 150 mu v (1-e)^2/(e^3 d^2) + 1.75 rho v^2 (1-e)/(e^3 d).

    v over the empty tank, e voidage, d bead. Source: Ergun, Chem. Eng. Progress 48 (1952) 89.
    """
    v, e, d = flow_m3_s / bed.area_m2, bed.voidage, bed.bead_m
    viscous = 150 * liquid.viscosity_pa_s * v * (1 - e) ** 2 / (e**3 * d**2)
    inertial = 1.75 * liquid.density_kg_m3 * v * abs(v) * (1 - e) / (e**3 * d)
    return (viscous + inertial) * bed.depth_m


def obstruction(clear: float) -> float:
    """Loss coefficient on the full bore of a kink or clog that leaves the part `clear` of its area.

    K = (1/clear - 1)^2. Source: sudden expansion of Borda & Carnot.
    """
    return (1 / clear - 1) ** 2


def drain_pa(flow_m3_s: float, drain: Drain, liquid: Liquid) -> float:
    """Pressure on the resin that drives `flow_m3_s` >= 0 to the drain: bed, control, line, lift."""
    bed = bed_pa(flow_m3_s, drain.bed, liquid) if drain.bed else 0.0
    control = control_pa(flow_m3_s, drain.control, liquid)
    return bed + control + line_pa(flow_m3_s, drain.line, liquid)


def drain_flow_m3_s(pressure_pa: float, drain: Drain, liquid: Liquid) -> float:
    """Flow to the drain for a pressure ahead of it, as in backwash; 0 if it cannot lift."""
    area_m2 = circle_m2(drain.line.bore_m)
    return _flow(lambda flow: drain_pa(flow, drain, liquid) - pressure_pa, area_m2)


def _flow(excess_pa: Callable[[float], float], area_m2: float) -> float:
    if excess_pa(0.0) >= 0:
        return 0.0
    high = area_m2
    while excess_pa(high) < 0:
        high *= 4
    return crossing(excess_pa, 0.0, high)


def backwash_m3_s(tank_m: float, temperature_k: float = COLD_WATER_K) -> float:
    """Flow that lifts the bed as 5 gpm/ft2 does at 60 °F.

    At the same voidage the speed goes with the settling speed of one bead (Richardson & Zaki,
    Trans. Inst. Chem. Eng. 32 (1954) 35), so that cold, thicker water needs less.
    """
    ratio = settling_m_s(temperature_k) / settling_m_s(COLD_WATER_K)
    return BACKWASH_M_S * ratio * circle_m2(tank_m)


def settling_m_s(
    temperature_k: float, bead_m: float = BEAD_M, bead_kg_m3: float = BEAD_KG_M3
) -> float:
    """Settling speed of one bead, from Cd rho v^2/2 = (rho_s - rho) g 2d/3.

    Cd = 24/Re (1 + 0.15 Re^0.687), Re < 1000. Source: drag of Schiller & Naumann 1933.
    """
    liquid = liquids.water(temperature_k)
    rho, mu = liquid.density_kg_m3, liquid.viscosity_pa_s
    stokes_m_s = (bead_kg_m3 - rho) * GRAVITY_M_S2 * bead_m**2 / (18 * mu)

    def excess(speed_m_s: float) -> float:
        drag = 1 + 0.15 * math.pow(rho * speed_m_s * bead_m / mu, 0.687)
        return speed_m_s * drag - stokes_m_s

    return crossing(excess, 0.0, stokes_m_s)
