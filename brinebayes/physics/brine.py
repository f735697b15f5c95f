"""Salt and brine: how much dissolves, how strong it is, how much of it stands in the tank."""

from __future__ import annotations

import math

from brinebayes.errors import UsageError
from brinebayes.physics.hydraulics import circle_m2
from brinebayes.physics.liquids import COLD_WATER_K, density_kg_m3
from brinebayes.physics.roots import crossing
from brinebayes.physics.units import MS_PER_CM, SG, Quantity

NACL_KG_MOL = 0.0584428

#: Part of the salt zone that is open to brine, 0.40-0.50, and its standard uncertainty. Judgement.
SALT_POROSITY = 0.45
SALT_POROSITY_U = 0.05

#: In clear liquid all of the tank's cross-section counts.
CLEAR_LIQUID = 1.0


def solubility_mol_kg(temperature_k: float) -> float:
    """Molality of saturated brine: ln m = 2.86623 - 571.361/T + 77128/T^2.

    Source: Fluid Phase Equilibria 254 (2007) 158.
    """
    return math.exp(2.86623 - 571.361 / temperature_k + 77128 / temperature_k**2)


def saturated_mass_fraction(temperature_k: float = COLD_WATER_K) -> float:
    """Mass fraction of saturated brine, w = mM/(1 + mM)."""
    salt = solubility_mol_kg(temperature_k) * NACL_KG_MOL
    return salt / (1 + salt)


def salt_per_water_kg_m3(temperature_k: float = COLD_WATER_K) -> float:
    """Salt that a volume of refill water dissolves in the end, w/(1-w) times its density."""
    salt = solubility_mol_kg(temperature_k) * NACL_KG_MOL
    return salt * density_kg_m3(0.0, temperature_k)


def salt_per_brine_kg_m3(temperature_k: float = COLD_WATER_K) -> float:
    """Salt in a volume of saturated brine, w rho."""
    w = saturated_mass_fraction(temperature_k)
    return w * density_kg_m3(w, temperature_k)


def refill_m3(salt_kg: float, temperature_k: float = COLD_WATER_K) -> float:
    """Refill water that dissolves `salt_kg`."""
    return salt_kg / salt_per_water_kg_m3(temperature_k)


def brine_m3(salt_kg: float, temperature_k: float = COLD_WATER_K) -> float:
    """Saturated brine that carries `salt_kg`; more than the refill water, by the salt's volume."""
    return salt_kg / salt_per_brine_kg_m3(temperature_k)


def brine_part(bed_mass_fraction: float, temperature_k: float = COLD_WATER_K) -> float:
    """Part of the drain's flow that is saturated brine when the bed gets `bed_mass_fraction`.

    The salt of both is the same: c_bed / c_brine, as salt per volume.
    """
    in_bed = bed_mass_fraction * density_kg_m3(bed_mass_fraction, temperature_k)
    return in_bed / salt_per_brine_kg_m3(temperature_k)


def time_s(volume_m3: float, flow_m3_s: float) -> float:
    """How long a refill or a draw takes, in seconds."""
    return volume_m3 / flow_m3_s


def mass_fraction_from_density(density: float, temperature_k: float = COLD_WATER_K) -> float:
    """Strength of brine of `density` kg/m3.

    Slightly lighter than water is a little warmer than assumed, and gives a little less than 0.
    Raises `UsageError` for what is no brine, outside -2 to 27 wt%.
    """
    low, high = (density_kg_m3(w, temperature_k) for w in (-0.02, 0.27))
    if not low < density < high:
        raise UsageError(f"{SG.show(density)} is no brine; water is 1 and saturated brine 1.2")
    return crossing(lambda w: density_kg_m3(w, temperature_k) - density, -0.02, 0.27)


def strength(reading: Quantity, temperature_k: float = COLD_WATER_K) -> float:
    """Mass fraction from a hydrometer in specific gravity, salometer degrees or per cent."""
    if reading.dimension == "density":
        return mass_fraction_from_density(reading.value_si, temperature_k)
    return reading.value_si


def tank_m3(height_m: float, tank_m: float, open_part: float = CLEAR_LIQUID) -> float:
    """Liquid in `height_m` of a round tank; `open_part` is the salt's porosity in the salt zone."""
    return open_part * circle_m2(tank_m) * height_m


def height_m(volume_m3: float, tank_m: float, open_part: float = CLEAR_LIQUID) -> float:
    """How high `volume_m3` of liquid stands in a round tank, the inverse of `tank_m3`."""
    return volume_m3 / (open_part * circle_m2(tank_m))


def draw_m3_s(drop_m: float, seconds: float, tank_m: float, open_part: float) -> float:
    """Brine drawn, from the fall of the level.

    `open_part` has no default on purpose: the level falls about twice as fast in salt, and
    forgetting it doubles the draw.
    """
    return tank_m3(drop_m, tank_m, open_part) / seconds


#: Mass fraction -> S/m at 20 °C. Source: CRC Handbook, from memory.
CONDUCTIVITY_20C = (
    (0.005, 0.82),
    (0.01, 1.60),
    (0.02, 3.02),
    (0.05, 7.01),
    (0.10, 12.6),
    (0.15, 17.1),
    (0.20, 20.4),
    (0.25, 22.2),
)
#: S/m per mass fraction at none: 114.5 S cm2/mol. Source: McCleskey, J. Chem. Eng. Data 56
#: (2011) 317.
LIMITING_20C = 195.6
_PER_KELVIN = 0.021


def conductivity_s_m(mass_fraction: float, temperature_k: float = 293.15) -> float:
    """Conductivity of brine: kappa/w interpolated over sqrt(w) (Kohlrausch), 2.1 % per kelvin.

    Up to 25 wt%, near 20 °C. The slope with temperature is from memory. Raises `UsageError` above.
    """
    if not 0 <= mass_fraction <= 0.25:
        raise UsageError(f"conductivity is known up to 25 wt%, not at {mass_fraction:.1%}")
    w0, k0 = 0.0, LIMITING_20C
    for w1, kappa in CONDUCTIVITY_20C:
        k1 = kappa / w1
        if mass_fraction <= w1:
            break
        w0, k0 = w1, k1
    part = (math.sqrt(mass_fraction) - math.sqrt(w0)) / (math.sqrt(w1) - math.sqrt(w0))
    at_20 = mass_fraction * (k0 + part * (k1 - k0))
    return at_20 * (1 + _PER_KELVIN * (temperature_k - 293.15))


def mass_fraction_from_conductivity(conductivity: float, temperature_k: float = 293.15) -> float:
    """Strength from the drain's conductivity in S/m. Raises `UsageError` above that of 25 wt%."""
    if not 0 <= conductivity <= conductivity_s_m(0.25, temperature_k):
        raise UsageError(f"{MS_PER_CM.show(conductivity)} is more than brine of 25 wt% conducts")
    return crossing(lambda w: conductivity_s_m(w, temperature_k) - conductivity, 0.0, 0.25)
