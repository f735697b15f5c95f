"""The house and the softener as it was put in: sizes, pressures, lines, settings and habits."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

from brinebayes.physics import brine, capacity, hydraulics, liquids
from brinebayes.physics.hydraulics import ConstantFlow, Control, FixedOrifice, Tube
from brinebayes.physics.injector import Injector
from brinebayes.physics.liquids import Liquid
from brinebayes.physics.units import (
    GAL,
    GPM,
    IN,
    PSI,
)

#: Water of a person and day; common practice, no source.
PERSON_M3 = GAL.to_si(75)

#: A rubber control takes this pressure at its figure; the fixed bores are sized at the same.
#: Judgement.
KNEE_PA = PSI.to_si(15)

#: Part of the house pressure that is lost between main and unit with one tap open. Judgement.
TAP_M3_S = GPM.to_si(4)
BATH_M3_S = GPM.to_si(5)

#: Pellets as they lie: 2165 kg/m3 of salt with 0.45 of it open.
SALT_HEAP_KG_M3 = 2165.0 * (1 - brine.SALT_POROSITY)

#: Height of the overflow of a brine tank. Judgement.
OVERFLOW_M = IN.to_si(26)

#: Hour of the night at which units regenerate; common practice, no source.
REGENERATION_HOUR = 2


@dataclass(frozen=True)
class Site:
    """One house with its unit in order. SI units; `conditions`: the model's site conditions.

    `feed_pa`: pressure lost ahead of the unit at the flow of a tap. `brined_by_float`: the float
    and not the time ends the refill. The last group are habits and looks that have nothing to do
    with faults.
    """

    family: str
    conditions: tuple[tuple[str, str], ...]
    water_k: float
    altitude_m: float
    static_pa: float
    feed_pa: float
    raw_kg_m3: float
    iron_mg_l: float
    people: int
    use_m3_day: float
    resin_tank_m: float
    resin_m3: float
    dose_kg_m3: float
    hardness_set_kg_m3: float
    backwash_m3_s: float
    rubber_control: bool
    drain_line: Tube
    brine_line: Tube
    brine_tank_m: float
    open_part: float
    lift_m: float
    injector: Injector
    refill_m3_s: float
    brined_by_float: bool
    float_over_normal: float
    slow_rinse_s: float
    fast_rinse_s: float
    dwell_s: float
    salt_over_water_m: float
    volts: float
    heard_at_night: bool
    records_starts: bool
    line_in_sight: bool
    gap_at_drain: bool
    smell_elsewhere: str
    slow_dirt: bool

    @cached_property
    def known(self) -> Mapping[str, str]:
        """`conditions` by name."""
        return dict(self.conditions)

    @cached_property
    def upflow(self) -> bool:
        """Brined upwards."""
        return self.known.get("brined") == "upflow"

    @cached_property
    def refill_first(self) -> bool:
        """Refilled at the start of a regeneration, so that the tank stands empty before it."""
        return self.known.get("refill_order") == "refill_first"

    @cached_property
    def twin(self) -> bool:
        """Two resin tanks."""
        return self.known.get("tanks") == "twin"

    @cached_property
    def metered(self) -> bool:
        """A water meter starts the regeneration."""
        return self.known.get("started_by") != "timed"

    @cached_property
    def electric(self) -> bool:
        """Driven by a motor."""
        return self.known.get("drive_kind") != "water_driven"

    @cached_property
    def control(self) -> Control:
        """The drain flow control as fitted."""
        if self.rubber_control:
            return ConstantFlow(self.backwash_m3_s, KNEE_PA)
        area = hydraulics.orifice_area_m2(
            self.backwash_m3_s, self.static_pa, self.water, hydraulics.ORIFICE_DISCHARGE
        )
        return FixedOrifice(area)

    @cached_property
    def water(self) -> Liquid:
        """The water of this house."""
        return liquids.water(self.water_k)

    @cached_property
    def saturated(self) -> float:
        """Mass fraction of full brine at this temperature."""
        return brine.saturated_mass_fraction(self.water_k)

    @cached_property
    def salt_per_regeneration_kg(self) -> float:
        """Salt that the dose asks for."""
        return self.dose_kg_m3 * self.resin_m3

    @cached_property
    def normal_refill_m3(self) -> float:
        """Water that dissolves it."""
        return brine.refill_m3(self.salt_per_regeneration_kg, self.water_k)

    @cached_property
    def normal_brine_m3(self) -> float:
        """Brine that comes of it."""
        return brine.brine_m3(self.salt_per_regeneration_kg, self.water_k)

    @cached_property
    def rest_m3(self) -> float:
        """Brine below the pick-up, which is never drawn: two fingers of the tank. Judgement."""
        return brine.tank_m3(IN.to_si(1.2), self.brine_tank_m, self.open_part)

    @cached_property
    def full_m3(self) -> float:
        """What stands in the tank before a draw."""
        return self.rest_m3 + self.normal_brine_m3

    @cached_property
    def water_m(self) -> float:
        """Height of the brine before a draw."""
        return brine.height_m(self.full_m3, self.brine_tank_m, self.open_part)

    @cached_property
    def salt_kg(self) -> float:
        """Salt in the tank after it was filled: so far above its water."""
        heap_m3 = brine.tank_m3(self.water_m + self.salt_over_water_m, self.brine_tank_m)
        return heap_m3 * SALT_HEAP_KG_M3

    @cached_property
    def fill_at_kg(self) -> float:
        """Salt at which the household fills in more: when the water begins to show."""
        least_m = max(self.water_m, IN.to_si(5))
        return brine.tank_m3(least_m, self.brine_tank_m) * SALT_HEAP_KG_M3

    @cached_property
    def float_m3(self) -> float:
        """Content at which the float shuts."""
        if self.brined_by_float:
            return self.full_m3
        return min(self.full_m3 * self.float_over_normal, 0.85 * self.overflow_m3)

    @cached_property
    def overflow_m3(self) -> float:
        """Content at which the tank runs over, or out of its overflow."""
        return brine.tank_m3(OVERFLOW_M, self.brine_tank_m, self.open_part)

    @cached_property
    def refill_s(self) -> float:
        """Refill time as set; where the float ends it, generous by this factor. Judgement."""
        spare = 2.5 if self.brined_by_float else 1.0
        return spare * self.normal_refill_m3 / self.refill_m3_s

    @cached_property
    def capacity_kg(self) -> float:
        """Hardness that the bed takes up in a run, as the control was told."""
        return capacity.capacity_kg_m3(self.dose_kg_m3) * self.resin_m3

    @cached_property
    def reckoned_use_m3_day(self) -> float:
        """Use that the settings were reckoned for."""
        return self.people * PERSON_M3
