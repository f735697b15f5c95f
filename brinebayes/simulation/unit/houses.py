"""Two families of houses, and how one of them is drawn.

`A` and `B` share no tank size, no tubing, no refill control and no seed. What is mended is mended
on A; figures are reported on B, which nobody looks at before.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from brinebayes.physics import brine, capacity, hydraulics
from brinebayes.physics.hydraulics import Tube
from brinebayes.physics.injector import Injector
from brinebayes.physics.units import (
    DEG_F,
    FT,
    FT3,
    GPG,
    GPM,
    IN,
    LB_PER_FT3,
    MINUTE,
    PSI,
)
from brinebayes.simulation.unit.chance import Chance
from brinebayes.simulation.unit.site import PERSON_M3, Site


@dataclass(frozen=True, slots=True)
class Family:
    """Sizes that a family of houses is drawn from, in the trade's units."""

    name: str
    resin_tanks_in: tuple[float, ...]
    brine_tanks_in: tuple[float, ...]
    drain_bores_in: tuple[float, ...]
    throat_over_nozzle: tuple[float, float]
    refill_gpm: tuple[float, ...]


A = Family("A", (8, 10, 13), (18, 24), (0.50,), (1.70, 1.75), (0.25, 0.50, 1.00))
B = Family("B", (9, 12, 14), (16, 20, 22), (0.48, 0.54), (1.76, 1.80), (0.30, 0.40, 0.80))


def draw(family: Family, conditions: Mapping[str, str], chance: Chance) -> Site:
    """A house of a family. Ranges are of TRADE practice where a comment says so, else judgement."""
    tank = IN.to_si(chance.one_of(family.resin_tanks_in, "tank"))
    resin = capacity.usual_resin_m3(tank) * chance.factor(0.03, "resin")
    water_k = DEG_F.to_si(chance.between(46, 66, "water"))
    static = PSI.to_si(chance.between(36, 78, "static"))
    iron = (
        chance.between(1.0, 4.0, "iron") if conditions.get("water_source") == "well_iron" else 0.0
    )
    raw = GPG.to_si(chance.evenly_in_ratio(9, 28, "raw"))
    # Three to twelve pounds are published; the capacity curve begins at five.
    dose = LB_PER_FT3.to_si(chance.between(5.5, 10, "dose"))
    per_day = capacity.capacity_kg_m3(dose) * resin / raw
    # A unit is sold so that a charge lasts at least three days.
    people = max(1, min(6, int(chance.between(0.12, 0.28, "people") * per_day / PERSON_M3 + 0.5)))
    use = people * PERSON_M3 * chance.factor(0.08, "use")
    # Five gallons per square foot and minute at 60 °F, in the steps that buttons come in.
    backwash = hydraulics.backwash_m3_s(tank) * chance.factor(0.07, "backwash")
    upflow = conditions.get("brined") == "upflow"
    brining = GPM.to_si(chance.between(0.27, 0.38, "brining")) / FT3.scale * resin
    nozzle = 1.10e-3 * (brining * (0.7 if upflow else 1.0) / GPM.to_si(0.73)) ** 0.5
    ratio = chance.between(*family.throat_over_nozzle, "throat")
    refill_first = conditions.get("refill_order") == "refill_first"
    # 0.40 to 0.50 in salt; some tanks have a grid, or stand low in salt: clear liquid.
    clear = chance.happens(0.3, "clear")
    open_part = brine.CLEAR_LIQUID if clear else chance.between(0.40, 0.50, "porosity")
    brine_tank = _brine_tank(family, brine.brine_m3(dose * resin, water_k), open_part, chance)
    return Site(
        family=family.name,
        conditions=tuple(sorted(conditions.items())),
        water_k=water_k,
        altitude_m=chance.between(0, 1200, "altitude"),
        static_pa=static,
        feed_pa=PSI.to_si(chance.between(2, 6, "feed")),
        raw_kg_m3=raw,
        iron_mg_l=iron,
        people=people,
        use_m3_day=use,
        resin_tank_m=tank,
        resin_m3=resin,
        dose_kg_m3=dose,
        # Four grains for each ppm of iron and a tenth on top: common practice, no source.
        hardness_set_kg_m3=raw * chance.between(1.08, 1.2, "setting") + GPG.to_si(4) * iron,
        backwash_m3_s=backwash,
        rubber_control=chance.happens(0.8, "rubber"),
        drain_line=_drain_line(family, conditions, chance),
        brine_line=Tube(FT.to_si(chance.between(4, 9, "brine line")), IN.to_si(0.30), fittings=6),
        brine_tank_m=brine_tank,
        open_part=open_part,
        lift_m=chance.between(0.5, 1.0, "lift"),
        injector=Injector(nozzle, nozzle * ratio),
        refill_m3_s=_refill(family, brine.refill_m3(dose * resin, water_k)),
        brined_by_float=not refill_first and chance.happens(0.3, "by float"),
        float_over_normal=chance.between(1.5, 2.3, "float"),
        slow_rinse_s=MINUTE.to_si(chance.between(28, 45, "slow rinse")),
        fast_rinse_s=MINUTE.to_si(chance.between(6, 10, "fast rinse")),
        dwell_s=MINUTE.to_si(chance.between(90, 180, "dwell")),
        salt_over_water_m=IN.to_si(chance.between(5, 14, "salt")),
        volts=chance.one_of((12.0, 24.0), "volts"),
        heard_at_night=chance.happens(0.75, "heard"),
        records_starts=chance.happens(0.6, "records"),
        line_in_sight=chance.happens(0.88, "line seen"),
        gap_at_drain=chance.happens(0.88, "gap"),
        smell_elsewhere=_smell(conditions, chance),
        slow_dirt=chance.happens(0.06, "dusty"),
    )


def _brine_tank(family: Family, brine_m3: float, open_part: float, chance: Chance) -> float:
    """One in which a charge of brine stands less than 15 in high, so that salt stands over it."""
    fits = [
        size
        for size in family.brine_tanks_in
        if brine.height_m(brine_m3, IN.to_si(size), open_part) < IN.to_si(15)
    ]
    return IN.to_si(chance.one_of(fits, "brine tank") if fits else family.brine_tanks_in[-1])


def _refill(family: Family, water_m3: float) -> float:
    """The smallest control that brings the water in within a quarter of an hour, 2-16 min being
    common practice."""
    fits = [x for x in family.refill_gpm if water_m3 / GPM.to_si(x) <= MINUTE.to_si(16)]
    return GPM.to_si(fits[0] if fits else family.refill_gpm[-1])


def _drain_line(family: Family, conditions: Mapping[str, str], chance: Chance) -> Tube:
    """Up to 20 ft of half-inch is the trade's limit (common practice); some runs are longer."""
    bore = IN.to_si(chance.one_of(family.drain_bores_in, "drain bore"))
    if conditions.get("drain_run") == "long_half_inch":
        return Tube(
            FT.to_si(chance.between(21, 32, "drain")),
            bore,
            FT.to_si(chance.between(0, 7, "drain rise")),
            fittings=6,
        )
    return Tube(
        FT.to_si(chance.between(5, 18, "drain")),
        bore,
        FT.to_si(chance.between(-3, 5, "drain rise")),
        fittings=5,
    )


def _smell(conditions: Mapping[str, str], chance: Chance) -> str:
    """The rod of a water heater and sulphur in a well smell without any fault of the unit."""
    well = conditions.get("water_source", "").startswith("well")
    if chance.happens(0.06 if well else 0.01, "raw smell"):
        return "raw"
    return "hot" if chance.happens(0.03, "heater smell") else ""
