"""What the page's readings take from `physics`: units, and constants that no reading changes."""

from __future__ import annotations

from typing import Any

from brinebayes.knowledge.measuring import COMPARISONS, INSTRUMENTS
from brinebayes.physics import brine, capacity, hydraulics, liquids, units
from brinebayes.readings import expected, site


def measuring() -> dict[str, Any]:
    """Units, instruments, what each comparison looks at, and `physics`; mappings are to be kept."""
    return {
        "units": [
            {
                "symbol": unit.symbol,
                "dimension": unit.dimension,
                "scale": unit.scale,
                "spellings": unit.spellings,
                "offset": unit.offset,
            }
            for unit in units.UNITS
        ],
        "metric": [unit.symbol for unit in units.METRIC],
        "instruments": {name: item.units for name, item in INSTRUMENTS.items()},
        "comparisons": {
            name: {"needs": tuple(item.needs), "may_use": tuple(item.may_use)}
            for name, item in COMPARISONS.items()
        },
        "physics": physics(),
    }


def physics() -> dict[str, Any]:
    """Constants in SI, at the temperature of cold water where it matters."""
    cold, water = liquids.COLD_WATER_K, liquids.water()
    return {
        "temperature_c": units.DEG_C.from_si(cold),
        "water_kg_m3": water.density_kg_m3,
        "water_pa_s": water.viscosity_pa_s,
        "gravity": units.GRAVITY_M_S2,
        "saturated": brine.saturated_mass_fraction(),
        "salt_per_brine": brine.salt_per_brine_kg_m3(),
        "brine_part": brine.brine_part(capacity.BRINED_BED),
        "brined_bed": capacity.BRINED_BED,
        "brining_rate": capacity.brining_m3_s(1.0),
        "brining_inlet_pa": capacity.BRINING_INLET_PA,
        "least_inlet_pa": expected.LEAST_INLET_PA,
        "backwash_m_s": hydraulics.BACKWASH_M_S,
        "atmosphere_pa": liquids.atmosphere_pa(),
        "vapour_pa": liquids.vapour_pressure_pa(cold),
        "usual_resin": capacity.USUAL_RESIN,
        "usual_resin_factor": site.USUAL_RESIN_FACTOR,
        "run_share": expected.RUN_SHARE,
        "smooth_m": hydraulics.SMOOTH_M,
        "half_inch_m": hydraulics.HALF_INCH_M,
        "half_inch_limit_m": hydraulics.HALF_INCH_LIMIT_M,
        "conductivity": brine.CONDUCTIVITY_20C,
        "limiting_conductivity": brine.LIMITING_20C,
    }
