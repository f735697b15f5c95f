"""What the resin can exchange, the salt for it, and how long it lasts.

Capacity is the mass of hardness removed, in kg of CaCO3 (1 grain is a mass like any other).
"""

from __future__ import annotations

import math
from itertools import pairwise

from brinebayes.errors import UsageError
from brinebayes.physics.brine import NACL_KG_MOL
from brinebayes.physics.units import (
    CACO3_KG_MOL,
    FT3,
    GPM,
    GR_PER_FT3,
    GR_PER_LB,
    IN,
    LB_PER_FT3,
    PSI,
)

#: kg of CaCO3 per equivalent of exchange: two charges per calcium.
CACO3_KG_EQ = CACO3_KG_MOL / 2

#: Hardness exchanged per salt used, kg/kg, if no salt were wasted.
STOICHIOMETRIC = CACO3_KG_EQ / NACL_KG_MOL

#: What rated units must reach. Sources: NSF/ANSI 44; California Health & Safety Code §116785.
RATED_EFFICIENCY = GR_PER_LB.to_si(3350)
RATED_EFFICIENCY_CALIFORNIA = GR_PER_LB.to_si(4000)

#: Salt dose -> capacity, both per volume of resin. Source: trade journal, February 2015:
#: 20,000 gr/ft3 at 5 lb/ft3, 24,000 at 8, and 2,500 gr/lb at 12.
DOSES = tuple(
    (LB_PER_FT3.to_si(lb), GR_PER_FT3.to_si(gr))
    for lb, gr in ((5.0, 20_000.0), (8.0, 24_000.0), (12.0, 30_000.0))
)

#: Tank diameter -> resin in it. Common practice, no source.
USUAL_RESIN = tuple(
    (IN.to_si(inches), FT3.to_si(ft3))
    for inches, ft3 in (
        (8.0, 0.625),
        (9.0, 1.0),
        (10.0, 1.5),
        (12.0, 2.0),
        (13.0, 2.5),
        (14.0, 3.0),
        (16.0, 4.0),
    )
)

#: Flow to the drain in the brine step per volume of resin, and what then reaches the bed. Source:
#: trade-association certification column, January 2014: 0.25-0.40 gpm/ft3 at about 10 %.
BRINING_1_S = (GPM.to_si(0.25) / FT3.scale, GPM.to_si(0.40) / FT3.scale)
BRINED_BED = 0.10

#: Inlet pressure that these rates are taken for. Judgement.
BRINING_INLET_PA = PSI.to_si(50)


def usual_resin_m3(tank_m: float) -> float:
    """Resin of a tank of this diameter, straight between the usual sizes, by area beyond them."""
    smallest, largest = USUAL_RESIN[0], USUAL_RESIN[-1]
    if tank_m <= smallest[0]:
        return smallest[1] * (tank_m / smallest[0]) ** 2
    for (x0, y0), (x1, y1) in pairwise(USUAL_RESIN):
        if tank_m <= x1:
            return y0 + (y1 - y0) * (tank_m - x0) / (x1 - x0)
    return largest[1] * (tank_m / largest[0]) ** 2


def brining_m3_s(resin_m3: float, inlet_pa: float = BRINING_INLET_PA) -> float:
    """Drain flow in the brine step: the middle of the published range, by ratio.

    It goes with the root of the pressure, as through any nozzle.
    """
    low, high = BRINING_1_S
    return math.sqrt(low * high) * resin_m3 * math.sqrt(inlet_pa / BRINING_INLET_PA)


def capacity_kg_m3(dose_kg_m3: float) -> float:
    """Capacity of new resin for a salt dose, straight between the published points.

    Raises `UsageError` outside 5 to 12 lb/ft3, where nothing was published to go by.
    """
    for (x0, y0), (x1, y1) in pairwise(DOSES):
        if x0 <= dose_kg_m3 <= x1:
            return y0 + (y1 - y0) * (dose_kg_m3 - x0) / (x1 - x0)
    raise UsageError(
        f"capacity is known from {LB_PER_FT3.show(DOSES[0][0])} to {LB_PER_FT3.show(DOSES[-1][0])},"
        f" not at {LB_PER_FT3.show(dose_kg_m3)}"
    )


def exchange_kg_m3(equivalents_per_m3: float) -> float:
    """CaCO3 per volume of resin for a capacity in equivalents (1 eq/L = 1000 per m3)."""
    return equivalents_per_m3 * CACO3_KG_EQ


def efficiency(capacity_kg: float, salt_kg: float) -> float:
    """Hardness removed per salt used, kg/kg; `STOICHIOMETRIC` is the most there can be."""
    return capacity_kg / salt_kg


def daily_load_kg(hardness_kg_m3: float, use_m3_day: float) -> float:
    """Hardness to be removed in a day."""
    return hardness_kg_m3 * use_m3_day


def treated_m3(
    capacity_kg: float, hardness_kg_m3: float, use_m3_day: float, reserve_days: float = 1.0
) -> float:
    """Water softened between regenerations; the reserve is held back for the day it is due."""
    left_kg = capacity_kg - reserve_days * daily_load_kg(hardness_kg_m3, use_m3_day)
    return max(left_kg, 0.0) / hardness_kg_m3


def days_between(
    capacity_kg: float, hardness_kg_m3: float, use_m3_day: float, reserve_days: float = 1.0
) -> float:
    """Days from one regeneration of a metered unit to the next."""
    return treated_m3(capacity_kg, hardness_kg_m3, use_m3_day, reserve_days) / use_m3_day
