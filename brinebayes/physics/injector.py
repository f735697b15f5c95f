"""The injector, a liquid jet pump, between the house's pressure, the brine tank and the drain.

Names of the formula: R nozzle over throat area, M brine over motive flow, C brine over motive
density, q = rho v^2/2 of the jet, and the losses Kp nozzle, Ks suction, Km throat, Kd diffuser.
P1 inlet, P2 suction port, P3 entry of the throat, P5 outlet (the top of the resin). With

    P1 - P3 = (1 + Kp) q                      nozzle
    P2 - P3 = (1 + Ks) rho_s v_s^2 / 2        suction, v_s in the ring round the jet
    P5 - P3 = g q                             mixing and diffuser, g = `pressure_gain`

the ratio N = (P5 - P2)/(P1 - P5) follows as published.
Source: Karassik et al., Pump Handbook, 4th ed. 2007; Winoto, Li & Shah, J. Hydraul. Eng. 126
(2000) 150; both as cited by the documentation of `fluids.jet_pump.liquid_jet_pump`.

All pressures are gauge pressures; suction is negative.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

from brinebayes.errors import UsageError
from brinebayes.physics import liquids
from brinebayes.physics.hydraulics import (
    ORIFICE_DISCHARGE,
    Drain,
    Tube,
    circle_m2,
    drain_pa,
    elevation_pa,
    friction_pa,
    obstruction,
    orifice_flow_m3_s,
)
from brinebayes.physics.liquids import COLD_WATER_K, Liquid
from brinebayes.physics.roots import crossing
from brinebayes.physics.units import SALOMETER_100
from brinebayes.record import record


@record
class Injector:
    """Geometry and losses; the defaults of the losses are judgement.

    `outlet_ratio`: throat over outlet area (alpha), 0 for a wide outlet. `seal_leak_m2`: opening
    of a leaking seal between inlet and suction port, which feeds the jet pump its own water.
    """

    nozzle_m: float
    throat_m: float
    nozzle_loss: float = 0.10
    suction_loss: float = 0.20
    throat_loss: float = 0.25
    diffuser_loss: float = 0.25
    outlet_ratio: float = 0.0
    seal_leak_m2: float = 0.0

    def __post_init__(self) -> None:
        # From half the throat's area on, the momentum of a jet that is turned back would give
        # more pressure than the jet holds.
        if not 0 < self.nozzle_m**2 < self.throat_m**2 / 2:
            raise UsageError(
                "a nozzle takes up less than half the area of its throat; a throat "
                "that is plugged is made with `plugged_throat`"
            )

    @property
    def nozzle_m2(self) -> float:
        """Area of the jet."""
        return circle_m2(self.nozzle_m)

    @property
    def ring_m2(self) -> float:
        """Area of the brine's way into the throat, round the jet."""
        return circle_m2(self.throat_m) - self.nozzle_m2

    @property
    def area_ratio(self) -> float:
        """R, nozzle over throat area."""
        return (self.nozzle_m / self.throat_m) ** 2


@record
class BrineSupply:
    """Brine tank and line. `lift_m`: height of the injector above the brine level (negative if the
    level stands higher); the line's own `rise_m` is not used, as only the levels count."""

    line: Tube
    lift_m: float
    mass_fraction: float = SALOMETER_100
    temperature_k: float = COLD_WATER_K

    @property
    def liquid(self) -> Liquid:
        """Density and viscosity of the brine."""
        return liquids.brine(self.mass_fraction, self.temperature_k)


@record
class BrineStep:
    """What the brine step settles at. `brine_m3_s` is negative where water is pushed into the tank.

    `tank_pa` and `suction_pa` are gauge pressures; `bed_mass_fraction` is NaCl in what enters the
    resin; `cavitating`: the liquid boils at the throat, so that more suction is not to be had.
    """

    brine_m3_s: float
    motive_m3_s: float
    drain_m3_s: float
    tank_pa: float
    suction_pa: float
    bed_mass_fraction: float
    cavitating: bool


def clogged_nozzle(injector: Injector, clear: float) -> Injector:
    """The injector with the part `clear` of its nozzle area left open."""
    return replace(injector, nozzle_m=injector.nozzle_m * math.sqrt(clear))


def plugged_throat(injector: Injector, clear: float) -> Injector:
    """The injector with the part `clear` of its throat area left open, as a loss on the throat."""
    return replace(injector, throat_loss=injector.throat_loss + obstruction(clear))


def pressure_gain(injector: Injector, flow_ratio: float, density_ratio: float) -> float:
    """g = (P5 - P3)/q = 2R + 2a/(1-R) - R^2 (1 + CM)(1 + M)(1 + Km + Kd + alpha^2), a = C M^2 R^2.

    For reverse flow (M < 0) the pushed-back stream is motive water (C = 1) and its momentum is
    taken as lost (a = 0): judgement, continuous with the formula at M = 0.
    """
    r, m = injector.area_ratio, flow_ratio
    c, a = (density_ratio, density_ratio * m**2 * r**2) if m > 0 else (1.0, 0.0)
    losses = 1 + injector.throat_loss + injector.diffuser_loss + injector.outlet_ratio**2
    return 2 * r + 2 * a / (1 - r) - r**2 * (1 + c * m) * (1 + m) * losses


def pressure_ratio(injector: Injector, flow_ratio: float, density_ratio: float) -> float:
    """N = (P5 - P2)/(P1 - P5) = (g - s)/(1 + Kp - g), s = (1 + Ks) C M^2 R^2/(1-R)^2; M >= 0."""
    r = injector.area_ratio
    suction = (1 + injector.suction_loss) * density_ratio * (flow_ratio * r / (1 - r)) ** 2
    gain = pressure_gain(injector, flow_ratio, density_ratio)
    return (gain - suction) / (1 + injector.nozzle_loss - gain)


def motive_m3_s(injector: Injector, drop_pa: float, motive: Liquid) -> float:
    """Q_p = A_n sqrt(2 (P1 - P3)/(rho_p (1 + Kp))); 0 for no drop."""
    discharge = 1 / math.sqrt(1 + injector.nozzle_loss)
    return orifice_flow_m3_s(injector.nozzle_m2, drop_pa, motive, discharge)


@record
class _Jet:
    """The jet pump at one brine flow and one suction pressure."""

    brine_m3_s: float
    motive_m3_s: float
    leak_m3_s: float
    suction_pa: float
    entry_pa: float
    outlet_pa: float

    @property
    def drain_m3_s(self) -> float:
        """All that goes to the drain; below zero the throat would have to flow backwards."""
        return self.brine_m3_s + self.motive_m3_s + self.leak_m3_s


@record
class _Unit:
    """What stays the same while the brine flow is sought."""

    injector: Injector
    inlet_pa: float
    motive: Liquid
    brine: Liquid
    drain: Drain
    drained: Liquid
    boils_pa: float

    def jet(self, brine_m3_s: float, suction_pa: float) -> _Jet:
        """Flows and pressures for a brine flow and the pressure at the suction port."""
        injector = self.injector
        leak = orifice_flow_m3_s(
            injector.seal_leak_m2, self.inlet_pa - suction_pa, self.motive, ORIFICE_DISCHARGE
        )
        density = self._sucked_kg_m3(brine_m3_s, leak)
        speed = (brine_m3_s + leak) / injector.ring_m2
        entry = suction_pa - (1 + injector.suction_loss) * density * speed * abs(speed) / 2
        motive = motive_m3_s(injector, self.inlet_pa - entry, self.motive)
        jet_pa = max(self.inlet_pa - entry, 0.0) / (1 + injector.nozzle_loss)
        ratio = (brine_m3_s + leak) / motive if motive > 0 else -1.0
        gain = pressure_gain(injector, ratio, density / self.motive.density_kg_m3)
        return _Jet(brine_m3_s, motive, leak, suction_pa, entry, entry + gain * jet_pa)

    def _sucked_kg_m3(self, brine_m3_s: float, leak_m3_s: float) -> float:
        """Density of what enters the suction port: brine, thinned by a leaking seal."""
        if brine_m3_s <= 0:
            return self.motive.density_kg_m3
        mass = brine_m3_s * self.brine.density_kg_m3 + leak_m3_s * self.motive.density_kg_m3
        return mass / (brine_m3_s + leak_m3_s)

    def needed_pa(self, jet: _Jet) -> float:
        """Pressure at the outlet that drives the jet pump's flow to the drain."""
        return drain_pa(max(jet.drain_m3_s, 0.0), self.drain, self.drained)

    def settle(
        self, jet: Callable[[float], _Jet], at_rest: float, boiling: float, mass_fraction: float
    ) -> BrineStep:
        """The step at which outlet and drain agree, between no drain flow and boiling.

        Where even the most that the throat can give leaves pressure over, the liquid boils there
        and the outlet falls to what the drain needs.
        """

        def excess_pa(x: float) -> float:
            now = jet(x)
            return now.outlet_pa - self.needed_pa(now)

        if excess_pa(boiling) >= 0:
            limit = jet(boiling)
            return self._step(limit, self.needed_pa(limit), mass_fraction, True)
        settled = jet(at_rest if excess_pa(at_rest) <= 0 else crossing(excess_pa, at_rest, boiling))
        return self._step(settled, settled.outlet_pa, mass_fraction, False)

    def _step(self, jet: _Jet, tank_pa: float, mass_fraction: float, cavitating: bool) -> BrineStep:
        salty = max(jet.brine_m3_s, 0.0) * self.brine.density_kg_m3
        fresh = (jet.motive_m3_s + jet.leak_m3_s) * self.motive.density_kg_m3
        strength = salty * mass_fraction / (salty + fresh) if salty > 0 else 0.0
        return BrineStep(
            jet.brine_m3_s,
            jet.motive_m3_s + jet.leak_m3_s,
            max(jet.drain_m3_s, 0.0),
            tank_pa,
            jet.suction_pa,
            strength,
            cavitating,
        )


def brine_step(
    injector: Injector,
    inlet_pa: float,
    supply: BrineSupply,
    drain: Drain,
    *,
    water_k: float = COLD_WATER_K,
    altitude_m: float = 0.0,
    drained: Liquid | None = None,
) -> BrineStep:
    """The step with the brine line open: draw, stall, or water pushed into the brine tank.

    The brine flow is the one at which the outlet pressure of the injector is what the drain
    needs. More brine lowers the first and raises the second, so a bracket holds exactly one
    answer, from all water pushed back (no flow at the drain) to the liquid boiling at the throat.
    `drained`: the liquid in bed and drain, water unless given; the step begins with the tank full
    of it, and dilute brine later costs a few per cent of flow.
    Raises `UsageError` for an inlet pressure that is not above zero.
    """
    unit = _unit(injector, inlet_pa, supply.liquid, drain, water_k, altitude_m, drained)

    def jet(brine_m3_s: float) -> _Jet:
        lift_pa = elevation_pa(supply.lift_m, unit.brine)
        return unit.jet(brine_m3_s, -lift_pa - friction_pa(brine_m3_s, supply.line, unit.brine))

    still = jet(0.0).drain_m3_s
    at_rest = crossing(lambda flow: jet(flow).drain_m3_s, -still, 0.0)
    most = still
    while jet(most).entry_pa > unit.boils_pa:
        most *= 2
    boiling = crossing(lambda flow: jet(flow).entry_pa - unit.boils_pa, at_rest, most)
    return unit.settle(jet, at_rest, boiling, supply.mass_fraction)


def closed_step(
    injector: Injector,
    inlet_pa: float,
    drain: Drain,
    *,
    water_k: float = COLD_WATER_K,
    altitude_m: float = 0.0,
    drained: Liquid | None = None,
) -> BrineStep:
    """The step with the brine line shut: slow rinse behind a closed air check, or a blocked line.

    Only motive water flows, and `suction_pa` is the dead-head suction that a gauge at the brine
    port reads, down to the vapour pressure of water. Raises as `brine_step`.
    """
    motive = liquids.water(water_k)
    unit = _unit(injector, inlet_pa, motive, drain, water_k, altitude_m, drained)

    def jet(suction_pa: float) -> _Jet:
        return unit.jet(0.0, suction_pa)

    boiling = crossing(lambda pa: jet(pa).entry_pa - unit.boils_pa, unit.boils_pa, inlet_pa)
    return unit.settle(jet, inlet_pa, boiling, 0.0)


def _unit(
    injector: Injector,
    inlet_pa: float,
    brine: Liquid,
    drain: Drain,
    water_k: float,
    altitude_m: float,
    drained: Liquid | None,
) -> _Unit:
    if not inlet_pa > 0:
        raise UsageError(f"the inlet pressure must be above zero, and is {inlet_pa} Pa")
    motive = liquids.water(water_k)
    boils_pa = liquids.vapour_pressure_pa(water_k) - liquids.atmosphere_pa(altitude_m)
    return _Unit(injector, inlet_pa, motive, brine, drain, drained or motive, boils_pa)
