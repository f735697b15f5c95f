"""What a sound unit on this site should show, and how surely that is known.

Each comparison turns the reading and the measures of the site into two numbers of one kind: what
the reading amounts to and what a sound unit gives. They come from `physics`; the words of the
steps say from what.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping

from brinebayes.knowledge import schema
from brinebayes.knowledge.measuring import COMPARISONS
from brinebayes.knowledge.schema import Model, ReadingMethod
from brinebayes.physics import brine, capacity, hydraulics, liquids, units
from brinebayes.physics.hydraulics import Tube
from brinebayes.physics.units import (
    MINUTE,
    PSI,
    Unit,
)
from brinebayes.readings.site import Known, known
from brinebayes.readings.text import Taken
from brinebayes.record import record

#: A lower inlet pressure is a fault of its own, and what is expected must not sink with it.
#: Judgement: units work from 25 psi on, a good jet from 30.
LEAST_INLET_PA = PSI.to_si(30)

#: A drain line may take this part of the inlet pressure at backwash flow. Judgement: it is what the
#: trade's limit, 20 ft of half-inch, takes of 50 psi on the largest household tanks.
RUN_SHARE = 0.10

#: How far down a ratio is followed when a measure is moved; where a line runs down it is nothing.
LEAST_RATIO = 1e-3

#: A measure that was not told is asked for from this part of the spread on.
WORTH_TELLING = 0.05

Values = Mapping[str, float]


def percent(share: float) -> str:
    """A share as a reader writes it: `22 %`."""
    return f"{100 * share:.0f} %"


def times(ratio: float) -> str:
    """A ratio as a reader writes it: `1.9 times`."""
    return f"{float(f'{ratio:.2g}'):,g} times"


@record
class Sum:
    """What a reading amounts to, what is expected, and how; `unit`: of both.

    Without a unit the quantity is a multiple of a limit and 1 is expected.

    `own`: the expected figure is the unit's own and not computed from its size.
    """

    quantity: float
    expected: float
    unit: Unit | None
    own: bool
    steps: tuple[str, ...]


@record
class Expected:
    """`Sum` with the spread of ln(quantity / expected) from what is known of the site.

    `at_si`: the reading that would be as expected. `looked_at`: the measures that went in, told or
    not. `not_told`: those whose telling would make the answer sharper, the foremost first.
    """

    sum: Sum
    sigma: float
    at_si: float
    looked_at: Mapping[str, Known]
    not_told: tuple[str, ...]


def expect(model: Model, method: ReadingMethod, taken: Taken, told: Mapping[str, str]) -> Expected:
    """Compare a reading with what a sound unit should show, given what was `told` of the site.

    The spread is taken to first order in the logarithms, each measure moved by its own; it is that
    of one reference reading, so that it does not depend on what was read.
    Raises `UsageError` for measures that cannot be.
    """
    looks = COMPARISONS[method.compare]
    names = dict.fromkeys((*looks.needs, *looks.may_use))
    items = known(model, names, told)
    own = [name for name in looks.may_use if name in items]
    unused = _REPLACED.get(method.compare, ()) if own else ()
    items = {name: item for name, item in items.items() if name not in unused}
    if taken.drawn_m3 is not None:
        items["drawn_water"] = Known(
            taken.drawn_m3,
            0.0,
            True,
            f"drawn: {units.system_of(units.unit(method.unit)).volume.show(taken.drawn_m3)}",
        )
    compare = _COMPARISONS[method.compare]
    middle = {name: item.value_si for name, item in items.items()}
    unit = units.unit(method.unit)
    result = compare(unit, taken.value_si, taken.seconds or 1.0, middle)

    def log_ratio(values: Values) -> float:
        reference = compare(unit, _REFERENCE.get(method.compare, 1.0), 1.0, values)
        return math.log(max(reference.quantity / reference.expected, LEAST_RATIO))

    squares = {}
    for name, item in items.items():
        up = log_ratio({**middle, name: item.value_si * math.exp(item.sigma)})
        down = log_ratio({**middle, name: item.value_si * math.exp(-item.sigma)})
        squares[name] = ((up - down) / 2) ** 2
    return Expected(
        sum=result,
        sigma=math.sqrt(math.fsum(squares.values())),
        at_si=_REFERENCE.get(method.compare, result.expected),
        looked_at=items,
        not_told=_sharper(items, squares),
    )


def _sharper(items: Mapping[str, Known], squares: Mapping[str, float]) -> tuple[str, ...]:
    """What was not told and takes a real part of the spread; a tank's size tells its resin."""
    least = WORTH_TELLING * math.fsum(squares.values())
    order = sorted(squares, key=lambda name: -round(squares[name], 9))
    names = [name for name in order if squares[name] > least and not items[name].told]
    tank = items.get("tank_diameter")
    if tank is not None and not tank.told:
        names = ["tank_diameter" if name == "resin_volume" else name for name in names]
    return tuple(dict.fromkeys(names))


# --- one function per comparison ---------------------------------------------------------------
# (unit of the method, reading in SI, seconds it took, measures in SI) -> Sum


def _own(
    value: float, v: Values, figure: str, unit: Unit, else_: Callable[[], tuple[float, str]]
) -> Sum:
    """The unit's own figure if it was told, else what follows from its size."""
    if figure in v:
        steps = (f"its own figure is {unit.show(v[figure])}",)
        return Sum(value, v[figure], unit, True, steps)
    expected, step = else_()
    return Sum(value, expected, unit, False, (step,))


def _one_unit(unit: Unit, value: float, seconds: float, v: Values) -> Sum:
    return Sum(value, unit.scale, unit, True, ())


def _backwash_figure(unit: Unit, v: Values) -> tuple[float, str]:
    shown = units.system_of(unit)
    tank = v["tank_diameter"]
    flow = hydraulics.backwash_m3_s(tank)
    area_ft2 = hydraulics.circle_m2(tank) / units.FOOT_M**2
    return flow, (
        f"a tank of {shown.length.show(tank)} has {area_ft2:.3g} ft² of bed; at 5 gpm per ft² "
        f"(common practice) its backwash is {shown.flow.show(flow)}"
    )


def _backwash(unit: Unit, value: float, seconds: float, v: Values) -> Sum:
    shown = units.system_of(unit)
    return _own(value, v, "backwash_figure", shown.flow, lambda: _backwash_figure(unit, v))


def _brine_step(unit: Unit, value: float, seconds: float, v: Values) -> Sum:
    shown = units.system_of(unit)

    def computed() -> tuple[float, str]:
        resin, inlet = v["resin_volume"], max(v["inlet_pressure"], LEAST_INLET_PA)
        flow = capacity.brining_m3_s(resin, inlet)
        return flow, (
            f"{shown.bed.show(resin)} of resin is brined with "
            f"{shown.flow.show(capacity.brining_m3_s(resin))} at 50 psi (published: 0.25 to 0.40 "
            f"gpm per ft³); at {shown.pressure.show(inlet)}, with the root of the pressure, "
            f"{shown.flow.show(flow)}"
        )

    return _own(value, v, "brine_step_figure", shown.flow, computed)


def _brine_fall(unit: Unit, value: float, seconds: float, v: Values) -> Sum:
    shown = units.system_of(unit)

    def computed() -> tuple[float, str]:
        resin = v["resin_volume"]
        part = brine.brine_part(capacity.BRINED_BED)
        flow = part * capacity.brining_m3_s(resin)
        return flow, (
            f"{shown.bed.show(resin)} of resin is brined with "
            f"{shown.flow.show(capacity.brining_m3_s(resin))}, of which {percent(part)} is brine "
            f"for 10 % in the bed (published): {shown.flow.show(flow)}"
        )

    draw = _own(value, v, "brine_draw_figure", shown.flow, computed)
    tank, open_part = v["brine_tank_diameter"], v["level_zone"]
    fall = brine.height_m(draw.expected * seconds, tank, open_part)
    drawn = brine.draw_m3_s(value, seconds, tank, open_part)
    inch = brine.tank_m3(units.INCH_M, tank, open_part)
    steps = (
        f"{shown.length.show(units.INCH_M)} of a tank of {shown.length.show(tank)}, "
        f"{percent(open_part)} of it open, is {shown.volume.show(inch)}",
        f"the fall means a draw of {shown.flow.show(drawn)}",
        *draw.steps,
        f"that would be {shown.length.show(fall)} in {MINUTE.show(seconds)}",
    )
    return Sum(value, fall, unit, draw.own, steps)


def _standing(unit: Unit, value: float, seconds: float, v: Values) -> Sum:
    shown = units.system_of(unit)
    salt = v["resin_volume"] * v["salt_dose"]
    volume = brine.brine_m3(salt)
    tank, open_part = v["brine_tank_diameter"], v["level_zone"]
    height = brine.height_m(volume, tank, open_part)
    steps = (
        f"{shown.mass.show(salt)} of salt make {shown.volume.show(volume)} of brine",
        f"in a tank of {shown.length.show(tank)}, {percent(open_part)} of it open, that stands "
        f"{shown.length.show(height)} high",
    )
    return Sum(value, height, unit, False, steps)


def _told(name: str) -> Callable[[Unit, float, float, Values], Sum]:
    def compare(unit: Unit, value: float, seconds: float, v: Values) -> Sum:
        return Sum(value, v[name], unit, True, ())

    return compare


def _saturated(unit: Unit, value: float, seconds: float, v: Values) -> Sum:
    full = brine.saturated_mass_fraction()
    steps = (f"brine that has stood on salt holds {unit.show(full)} (published solubility)",)
    return Sum(value, full, unit, True, steps)


def _brined_bed(unit: Unit, value: float, seconds: float, v: Values) -> Sum:
    steps = (f"the bed is brined with about {unit.show(capacity.BRINED_BED)} (published)",)
    return Sum(value, capacity.BRINED_BED, unit, True, steps)


def _full_suction(unit: Unit, value: float, seconds: float, v: Values) -> Sum:
    shown = units.system_of(unit)
    full = liquids.atmosphere_pa() - liquids.vapour_pressure_pa(liquids.COLD_WATER_K)
    steps = (f"a good jet pulls nearly down to boiling, {shown.suction.show(full)} at sea level",)
    return Sum(value, full, unit, True, steps)


def _drain_run(unit: Unit, value: float, seconds: float, v: Values) -> Sum:
    shown = units.system_of(unit)
    backwash = _backwash(unit, 0.0, seconds, v)
    flow = backwash.expected
    bore, inlet, water = v["drain_bore"], v["inlet_pressure"], liquids.water()
    tube = Tube(value, bore, rise_m=v["drain_rise"])
    friction = hydraulics.friction_pa(flow, tube, water)
    lift = hydraulics.elevation_pa(tube.rise_m, water)
    share = hydraulics.run_load(flow, tube, inlet, water)
    load = max(share / RUN_SHARE, 0.0)  # A line that runs down takes nothing.
    steps = [
        *backwash.steps,
        f"{shown.run.show(value)} of {shown.length.show(bore)} tubing take "
        f"{shown.pressure.show(friction)} at that flow, a rise of {shown.run.show(tube.rise_m)} "
        f"takes {shown.pressure.show(lift)}",
        f"together {percent(share)} of {shown.pressure.show(inlet)}; {percent(RUN_SHARE)} is the "
        f"limit (judgement): {times(load)}",
    ]
    if bore < hydraulics.HALF_INCH_M:
        limit = hydraulics.HALF_INCH_LIMIT_M
        rule = value / limit
        steps.append(
            f"half-inch goes up to {shown.run.show(limit)} (common practice): {times(rule)}"
        )
        load = max(load, rule)
    return Sum(load, 1.0, None, True, tuple(steps))


_COMPARISONS: Mapping[schema.Comparison, Callable[[Unit, float, float, Values], Sum]] = {
    "unit": _one_unit,
    "backwash": _backwash,
    "brine_step": _brine_step,
    "brine_fall": _brine_fall,
    "refill": _told("refill_figure"),
    "standing_brine": _standing,
    "saturated_brine": _saturated,
    "brined_bed": _brined_bed,
    "full_suction": _full_suction,
    "raw_hardness": _told("raw_hardness"),
    "inlet_pressure": _told("inlet_pressure"),
    "control_voltage": _told("control_voltage"),
    "drawn_water": _told("drawn_water"),
    "drain_run": _drain_run,
}

#: Measures that say nothing more once the unit's own figure is told.
_REPLACED: Mapping[schema.Comparison, tuple[str, ...]] = {
    "backwash": ("tank_diameter",),
    "brine_step": ("tank_diameter", "resin_volume", "inlet_pressure"),
    "brine_fall": ("tank_diameter", "resin_volume"),
    "drain_run": ("tank_diameter",),
}

#: Where the reading does not scale what it amounts to, the spread is that of this one.
_REFERENCE: Mapping[schema.Comparison, float] = {"drain_run": hydraulics.HALF_INCH_LIMIT_M}
