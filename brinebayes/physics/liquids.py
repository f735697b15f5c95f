"""Density, viscosity and vapour pressure of water and of salt brine.

`mass_fraction` is kg NaCl per kg of solution; 0 is water.
"""

from __future__ import annotations

import math

from brinebayes.record import record

#: Where a temperature is not given: 60 °F, common for a cold-water main.
COLD_WATER_K = 288.706


@record
class Liquid:
    """What hydraulics needs to know of a liquid."""

    density_kg_m3: float
    viscosity_pa_s: float


def brine(mass_fraction: float, temperature_k: float = COLD_WATER_K) -> Liquid:
    """Brine of `mass_fraction`; 0 gives water."""
    return Liquid(
        density_kg_m3(mass_fraction, temperature_k), viscosity_pa_s(mass_fraction, temperature_k)
    )


def water(temperature_k: float = COLD_WATER_K) -> Liquid:
    """Plain water, which the hardness of tap water does not change noticeably."""
    return brine(0.0, temperature_k)


def density_kg_m3(mass_fraction: float, temperature_k: float) -> float:
    """1/rho = (1 - w)/rho_water + w/rho_a, rho_a = (c0 w + c1) e^(1e-6 (t + c4)^2)/(w + c2 + c3 t).

    t in °C; 0 to 140 °C, up to 26.6 wt%.
    Source: Laliberté & Cooper, J. Chem. Eng. Data 49 (2004) 1141; coefficients of Laliberté,
    J. Chem. Eng. Data 54 (2009) 1725.
    """
    t, w = temperature_k - 273.15, mass_fraction
    apparent = (-0.00324112223655149 * w + 0.0636354335906616) * math.exp(
        1e-6 * (t + 3317.34854426537) ** 2
    )
    apparent /= w + 1.01371399467365 + 0.0145951015210159 * t
    return 1 / ((1 - w) / _water_density_kg_m3(t) + w / apparent)


def _water_density_kg_m3(t: float) -> float:
    """Source: the water equation that Laliberté & Cooper 2004 fitted their brines with; t in °C."""
    over = -2.8054253e-10
    for coefficient in (1.0556302e-7, -4.6170461e-5, -0.0079870401, 16.945176, 999.83952):
        over = over * t + coefficient
    return over / (1 + 0.01687985 * t)


def viscosity_pa_s(mass_fraction: float, temperature_k: float) -> float:
    """mu = mu_water^(1-w) mu_salt^w, mu_salt = e^((v1 w^v2 + v3)/(v4 t + 1))/(v5 w^v6 + 1) mPa s.

    t in °C; 5 to 154 °C, up to 26.4 wt%.
    Source: Laliberté, J. Chem. Eng. Data 52 (2007) 321; coefficients of the 2009 paper above.
    """
    t, w = temperature_k - 273.15, mass_fraction
    mu_water = (t + 246) / ((0.05594 * t + 5.2842) * t + 137.37)
    mu_salt = math.exp(
        (16.221788633396 * math.pow(w, 1.32293086770011) + 1.48485985010431)
        / (0.00746912559657377 * t + 1)
    ) / (30.7802007540575 * math.pow(w, 2.05826852322558) + 1)
    return 1e-3 * math.pow(mu_water, 1 - w) * math.pow(mu_salt, w)


def vapour_pressure_pa(temperature_k: float) -> float:
    """Absolute pressure at which water boils at `temperature_k`, 273 to 647 K.

    Source: saturation equation of Wagner & Pruss, J. Phys. Chem. Ref. Data 22 (1993) 783
    (IAPWS SR1-86).
    """
    tau = 1 - temperature_k / 647.096
    terms = (
        (-7.85951783, 1.0),
        (1.84408259, 1.5),
        (-11.7866497, 3.0),
        (22.6807411, 3.5),
        (-15.9618719, 4.0),
        (1.80122502, 7.5),
    )
    power = sum(a * tau**exponent for a, exponent in terms)
    return 22.064e6 * math.exp(647.096 / temperature_k * power)


def atmosphere_pa(altitude_m: float = 0.0) -> float:
    """Absolute air pressure at `altitude_m`, below 11 km.

    Source: US Standard Atmosphere 1976.
    """
    return 101325.0 * math.pow(1 - 0.0065 * altitude_m / 288.15, 5.25588)
