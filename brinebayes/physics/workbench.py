"""The sums of the trade on their own, each with its formula, inputs, assumptions and sources.

Nothing is computed here that stands elsewhere in this package; a shell only has to print what
comes back.
"""

from __future__ import annotations

from brinebayes.errors import UsageError
from brinebayes.physics import brine, capacity, hardness, hydraulics, liquids, measurement
from brinebayes.physics.hydraulics import Bed, Tube
from brinebayes.physics.liquids import COLD_WATER_K
from brinebayes.physics.measurement import Estimate
from brinebayes.physics.units import (
    DAY,
    DEG_DH,
    DEG_F,
    DEG_FH,
    FT,
    FT3,
    GAL,
    GAL_PER_DAY,
    GPG,
    GPM,
    GR,
    GR_PER_LB,
    IN,
    LB,
    LB_PER_FT3,
    MG_PER_L,
    MINUTE,
    MMOL_PER_L,
    PSI,
    Unit,
)
from brinebayes.record import record

#: Published ranges, per area or volume of resin. Sources stand in `expected_flows`.
BACKWASH_RANGE_M_S = (12 / 3600, 20 / 3600)
FAST_RINSE_PER_RESIN_1_S = tuple(GPM.to_si(gpm) / FT3.scale for gpm in (1.5, 2.0))

#: A fall read off a tape and a time off a watch are even within these; `TANK_U_M` is the standard
#: uncertainty of a tank's inner diameter. Judgement.
TAPE_M = IN.to_si(0.2)
WATCH_S = 3.0

#: Sizes beyond these, in the unit they are shown in, are slips.
LEAST, MOST = 1e-4, 1e7

FREEZES_K, BOILS_K = 273.15, 373.15
TANK_U_M = IN.to_si(0.05)


@record
class Figure:
    """One value with its name and the unit it is shown in; `u_si`: standard uncertainty."""

    name: str
    value_si: float
    unit: Unit
    u_si: float | None = None

    @property
    def text(self) -> str:
        """The value as a reader writes it: `0.33 gpm ± 0.013`."""
        shown = self.unit.show(self.value_si)
        return shown if self.u_si is None else f"{shown} ± {self.u_si / self.unit.scale:.2g}"


@record
class Worked:
    """A worked sum. `notes`: what follows from it, and the usual caution."""

    title: str
    results: tuple[Figure, ...]
    formula: str
    inputs: tuple[Figure, ...]
    assumptions: tuple[str, ...]
    sources: tuple[str, ...]
    notes: tuple[str, ...] = ()


def drain_tubing(
    flow_m3_s: float, line: Tube, pressure_pa: float, temperature_k: float = COLD_WATER_K
) -> Worked:
    """Pressure that a drain line takes at `flow_m3_s`, and the flow that `pressure_pa` drives.

    `pressure_pa`: gauge pressure at the start of the line, behind the flow control.
    Raises `UsageError` for a length, bore, flow or pressure that is not above zero.
    """
    inputs = (
        Figure("flow", flow_m3_s, GPM),
        Figure("length", line.length_m, FT),
        Figure("bore", line.bore_m, IN),
        Figure("pressure at its start", pressure_pa, PSI),
    )
    _above_zero(*inputs)
    more = (Figure("rise", line.rise_m, FT), _liquid(temperature_k))
    _of_a_house(more[0])
    water = liquids.water(temperature_k)
    friction = hydraulics.friction_pa(flow_m3_s, line, water)
    lift = hydraulics.elevation_pa(line.rise_m, water)
    most = hydraulics.line_flow_m3_s(pressure_pa, line, water)
    notes = []
    limit = hydraulics.HALF_INCH_LIMIT_M
    if line.bore_m < hydraulics.HALF_INCH_M and line.length_m > limit:
        notes.append(
            f"longer than {FT.show(limit)}: take three-quarter inch instead of "
            "half-inch (common practice, no source)"
        )
    if most < flow_m3_s:
        notes.append("the line cannot carry this flow at this pressure")
    notes.append(
        "the end of a drain line needs its air gap and is never sealed or submerged; "
        "the local code decides"
    )
    return Worked(
        "drain tubing",
        (
            Figure("friction", friction, PSI),
            Figure("lift", lift, PSI),
            Figure("back pressure", friction + lift, PSI),
            Figure("flow that the pressure drives", most, GPM),
        ),
        "back pressure = (friction factor x length / bore + fittings) x density x speed² / 2 "
        "+ density x gravity x rise",
        (*inputs, *more),
        (
            f"smooth tube, roughness {line.roughness_m * 1e6:g} µm (from memory)",
            f"fittings and end: loss coefficients of {line.fittings:g} in all",
            "plain water, no kinks, the bore as given and not the nominal size",
        ),
        (
            "Darcy & Weisbach; Churchill, Chemical Engineering 84 (24), 1977, 91",
            "viscosity and density: Laliberté, J. Chem. Eng. Data 52 (2007) 321 and 54 (2009) 1725",
        ),
        tuple(notes),
    )


def expected_flows(
    tank_m: float, resin_m3: float | None = None, temperature_k: float = COLD_WATER_K
) -> Worked:
    """What a bucket at the drain should show on a tank of this size.

    Resin that is not told is taken as usual for the tank, and the answer says so.
    Raises `UsageError` for a size that is not above zero.
    """
    assumed: tuple[str, ...] = ()
    if resin_m3 is None:
        resin_m3 = capacity.usual_resin_m3(tank_m)
        assumed = ("resin as it usually fills such a tank (common practice, no source)",)
    inputs = (Figure("tank diameter", tank_m, IN), Figure("resin", resin_m3, FT3))
    _above_zero(*inputs)
    degrees = _liquid(temperature_k)
    bed, water = Bed(tank_m, resin_m3), liquids.water(temperature_k)
    low, high = BACKWASH_RANGE_M_S
    backwash = hydraulics.backwash_m3_s(tank_m, temperature_k)
    return Worked(
        "expected flows",
        (
            Figure("backwash", backwash, GPM),
            Figure("backwash, least published", low * bed.area_m2, GPM),
            Figure("backwash, most published", high * bed.area_m2, GPM),
            Figure("drain in the brine step, low", capacity.BRINING_1_S[0] * resin_m3, GPM),
            Figure("drain in the brine step, high", capacity.BRINING_1_S[1] * resin_m3, GPM),
            Figure("fast rinse, low", FAST_RINSE_PER_RESIN_1_S[0] * resin_m3, GPM),
            Figure("fast rinse, high", FAST_RINSE_PER_RESIN_1_S[1] * resin_m3, GPM),
            Figure("depth of resin", bed.depth_m, IN),
            Figure("pressure loss at backwash flow", hydraulics.bed_pa(backwash, bed, water), PSI),
        ),
        "backwash = 5 gpm per ft² x area x settling speed at this temperature / at 60 °F; "
        "the others = rate per ft³ x resin",
        (*inputs, degrees),
        (
            "backwash of 5 gpm per ft² at 60 °F (common practice, no source)",
            "bead of 0.6 mm and 1280 kg/m³, voidage 0.38 (judgement)",
            "rinse rates are of industrial units",
            *assumed,
        ),
        (
            "backwash range: Davis, Water and Wastewater Engineering, table 8-2",
            "brine step at about 10 %: trade-association certification column, January 2014",
            "fast rinse: UFC 3-240-13FN",
            "settling: Schiller & Naumann 1933; Richardson & Zaki 1954; bed: Ergun 1952",
        ),
        ("the flow control decides the real flow; a unit for little use has less on purpose",),
    )


def draw_rate(drop_m: Estimate, seconds: Estimate, tank_m: Estimate, open_part: Estimate) -> Worked:
    """Brine drawn, from the fall of the level; `open_part` is 1 in clear liquid, 0.45 in salt.

    Raises `UsageError` for a time, diameter or open part that is not above zero.
    """
    sizes = (
        _figure("time", seconds, MINUTE),
        _figure("tank diameter", tank_m, IN),
    )
    _above_zero(*sizes)
    fall = _figure("fall of the level", drop_m, IN)
    _of_a_house(fall)
    if not 0 < open_part.value <= 1:
        raise UsageError(f"the open part must be above 0 and at most 1, and is {open_part.value:g}")
    notes = ["the level falls about twice as fast in salt as in clear liquid"]
    if drop_m.value < 0:
        notes.insert(0, "the level rises: water is pushed into the brine tank")
    flow = measurement.level_draw_m3_s(drop_m, seconds, tank_m, open_part)
    return Worked(
        "draw rate",
        (_figure("draw", flow, GPM),),
        "draw = open part x pi x diameter² / 4 x fall / time",
        (fall, *sizes),
        (
            f"{open_part.value:g} (u = {open_part.u:g}) of the section is open: 1 in clear liquid, "
            f"in salt about {brine.SALT_POROSITY:g}, between 0.40 and 0.50 (judgement)",
            "round tank; the level moves in one zone, salt or clear liquid, all the time",
            "inputs independent, uncertainty to first order, k = 1",
        ),
        ("JCGM 100:2008 (GUM), section 5.1",),
        tuple(notes),
    )


def draw_by_tape(drop_m: float, seconds: float, tank_m: float, in_salt: bool) -> Worked:
    """`draw_rate` with the usual uncertainty of a tape, a watch and the tank's size.

    Raises as `draw_rate`.
    """
    in_open = Estimate(brine.SALT_POROSITY, brine.SALT_POROSITY_U)
    open_part = in_open if in_salt else Estimate(brine.CLEAR_LIQUID)
    return draw_rate(
        measurement.within(drop_m, TAPE_M),
        measurement.within(seconds, WATCH_S),
        Estimate(tank_m, TANK_U_M),
        open_part,
    )


def salt_dose(
    resin_m3: float,
    dose_kg_m3: float,
    refill_m3_s: float,
    draw_m3_s: float,
    temperature_k: float = COLD_WATER_K,
) -> Worked:
    """Salt, refill and brine of one regeneration. `draw_m3_s`: brine alone, without motive water.

    Raises `UsageError` for an input that is not above zero, or a dose outside 5 to 12 lb/ft3.
    """
    inputs = (
        Figure("resin", resin_m3, FT3),
        Figure("dose", dose_kg_m3, LB_PER_FT3),
        Figure("refill flow", refill_m3_s, GPM),
        Figure("brine draw", draw_m3_s, GPM),
    )
    _above_zero(*inputs)
    _liquid(temperature_k)
    salt = resin_m3 * dose_kg_m3
    held = resin_m3 * capacity.capacity_kg_m3(dose_kg_m3)
    fill, drawn = brine.refill_m3(salt, temperature_k), brine.brine_m3(salt, temperature_k)
    return Worked(
        "salt dose",
        (
            Figure("salt", salt, LB),
            Figure("capacity", held, GR),
            Figure("salt efficiency", capacity.efficiency(held, salt), GR_PER_LB),
            Figure("refill water", fill, GAL),
            Figure("refill time", brine.time_s(fill, refill_m3_s), MINUTE),
            Figure("brine", drawn, GAL),
            Figure("draw time", brine.time_s(drawn, draw_m3_s), MINUTE),
        ),
        "salt = resin x dose; refill = salt / salt that a gallon of water dissolves; "
        "brine = salt / salt in a gallon of brine; time = volume / flow",
        (*inputs, Figure("brine", temperature_k, DEG_F)),
        (
            "brine fully saturated, which takes one to two hours (common practice, no source)",
            "new resin; capacity straight between the published doses",
            "no brine left in the tank from the time before",
        ),
        (
            "solubility: Fluid Phase Equilibria 254 (2007) 158",
            "density: Laliberté, J. Chem. Eng. Data 54 (2009) 1725",
            "capacity by dose: trade journal, February 2015",
        ),
    )


def days_between_regenerations(
    capacity_kg: float, hardness_kg_m3: float, use_m3_day: float, reserve_days: float = 1.0
) -> Worked:
    """How long a charge of resin lasts. `use_m3_day`: people x water per person and day.

    Raises `UsageError` for an input that is not above zero (the reserve may be zero).
    """
    inputs = (
        Figure("capacity", capacity_kg, GR),
        Figure("hardness", hardness_kg_m3, GPG),
        Figure("use", use_m3_day / DAY.scale, GAL_PER_DAY),
    )
    _above_zero(*inputs)
    _of_a_house(Figure("reserve", DAY.to_si(reserve_days), DAY))
    treated = capacity.treated_m3(capacity_kg, hardness_kg_m3, use_m3_day, reserve_days)
    notes = (
        ("the reserve takes all of the capacity: the unit is too small",) if treated <= 0 else ()
    )
    return Worked(
        "days between regenerations",
        (
            Figure(
                "hardness removed a day", capacity.daily_load_kg(hardness_kg_m3, use_m3_day), GR
            ),
            Figure("water between regenerations", treated, GAL),
            Figure(
                "days",
                DAY.to_si(
                    capacity.days_between(capacity_kg, hardness_kg_m3, use_m3_day, reserve_days)
                ),
                DAY,
            ),
        ),
        "days = (capacity - reserve x hardness x daily use) / (hardness x daily use)",
        (*inputs, Figure("reserve", DAY.to_si(reserve_days), DAY)),
        ("use as on the average day", "capacity as set, and as the resin still has it"),
        ("arithmetic; a reserve of one day is common practice, no source",),
        notes,
    )


def hardness_units(hardness_kg_m3: float) -> Worked:
    """A hardness in every unit, and the sodium that softening it away adds.

    Raises `UsageError` for a negative hardness.
    """
    if hardness_kg_m3 < 0:
        raise UsageError("hardness cannot be negative")
    _of_a_house(Figure("hardness", hardness_kg_m3, GPG))
    units = (GPG, MG_PER_L, MMOL_PER_L, DEG_DH, DEG_FH)
    return Worked(
        "hardness",
        (
            *(Figure(f"hardness in {unit.symbol}", hardness_kg_m3, unit) for unit in units),
            Figure("sodium added", hardness.sodium_kg_m3(hardness_kg_m3), MG_PER_L),
        ),
        "1 gpg = 17.118 mg/L as CaCO3; 1 mmol/L = 100.09 mg/L; 1 °dH = 17.848 mg/L; "
        "1 °fH = 10 mg/L; two sodium for each calcium",
        (Figure("hardness", hardness_kg_m3, GPG),),
        ("hardness as CaCO3, softened to nothing; ppm is mg/L",),
        ("definitions of the units; IUPAC standard atomic weights",),
        (
            "EPA guidance for people on a diet of 500 mg of sodium a day is 20 mg/L in the water; "
            "whether it matters for someone is for their physician",
        ),
    )


def _figure(name: str, estimate: Estimate, unit: Unit) -> Figure:
    return Figure(name, estimate.value, unit, estimate.u or None)


def _above_zero(*figures: Figure) -> None:
    for figure in figures:
        if not figure.value_si > 0:
            raise UsageError(f"{figure.name} must be above zero, and is {figure.text}")
    _of_a_house(*figures)


def _of_a_house(*figures: Figure) -> None:
    """Refuses sizes that no household has by far; some would even leave the range of numbers."""
    for figure in figures:
        size = abs(figure.unit.from_si(figure.value_si))
        if size and not LEAST <= size <= MOST:
            raise UsageError(f"{figure.name} of {figure.text} is not found in any house")


def _liquid(temperature_k: float) -> Figure:
    water = Figure("water", temperature_k, DEG_F)
    if not FREEZES_K <= temperature_k <= BOILS_K:
        raise UsageError(f"water of {water.text} is ice or steam")
    return water
