"""Water and brine against CoolProp, thermo and the standard atmosphere of fluids."""

import pytest
from CoolProp.CoolProp import PropsSI
from fluids.atmosphere import ATMOSPHERE_1976
from thermo.electrochem import Laliberte_density, Laliberte_viscosity

from brinebayes.physics import liquids
from brinebayes.physics.units import WATER_60F_KG_M3

SALT = ["7647-14-5"]
TEMPERATURES_K = [278.15, 288.706, 293.15, 303.15]


def melinder(what: str, mass_fraction: float, temperature_k: float) -> float:
    """CoolProp's brine, from Melinder's tables; an independent fit."""
    name = f"INCOMP::MNA[{mass_fraction}]"
    return float(PropsSI(what, "T", temperature_k, "P", 101325, name))


@pytest.mark.parametrize("temperature_k", TEMPERATURES_K)
class TestDensity:
    """kg/m3 of water and brine."""

    @pytest.mark.parametrize("w", [0.0, 0.05, 0.1, 0.2, 0.26])
    def test_same_correlation_in_thermo(self, w: float, temperature_k: float) -> None:
        expected = Laliberte_density(temperature_k, [w], SALT)
        assert liquids.density_kg_m3(w, temperature_k) == pytest.approx(expected, rel=1e-9)

    @pytest.mark.parametrize("w", [0.05, 0.1, 0.2, 0.23])
    def test_independent_fit_in_coolprop(self, w: float, temperature_k: float) -> None:
        expected = melinder("D", w, temperature_k)
        assert liquids.density_kg_m3(w, temperature_k) == pytest.approx(expected, rel=1e-3)

    def test_water_in_coolprop(self, temperature_k: float) -> None:
        expected = PropsSI("D", "T", temperature_k, "P", 101325, "Water")
        assert liquids.density_kg_m3(0.0, temperature_k) == pytest.approx(expected, rel=1e-5)


@pytest.mark.parametrize("temperature_k", TEMPERATURES_K)
class TestViscosity:
    """Pa s of water and brine."""

    @pytest.mark.parametrize("w", [0.0, 0.05, 0.1, 0.2, 0.26])
    def test_same_correlation_in_thermo(self, w: float, temperature_k: float) -> None:
        expected = Laliberte_viscosity(temperature_k, [w], SALT)
        assert liquids.viscosity_pa_s(w, temperature_k) == pytest.approx(expected, rel=1e-9)

    @pytest.mark.parametrize("w", [0.05, 0.1, 0.2, 0.23])
    def test_independent_fit_in_coolprop(self, w: float, temperature_k: float) -> None:
        expected = melinder("V", w, temperature_k)
        assert liquids.viscosity_pa_s(w, temperature_k) == pytest.approx(expected, rel=0.03)

    def test_water_in_coolprop(self, temperature_k: float) -> None:
        expected = PropsSI("V", "T", temperature_k, "P", 101325, "Water")
        assert liquids.viscosity_pa_s(0.0, temperature_k) == pytest.approx(expected, rel=2e-3)


class TestPressures:
    """Vapour pressure and the atmosphere, which limit suction."""

    @pytest.mark.parametrize("temperature_k", [275.0, 288.706, 320.0, 372.0])
    def test_vapour_pressure_in_coolprop(self, temperature_k: float) -> None:
        expected = PropsSI("P", "T", temperature_k, "Q", 0, "Water")
        assert liquids.vapour_pressure_pa(temperature_k) == pytest.approx(expected, rel=2e-4)

    @pytest.mark.parametrize("altitude_m", [0.0, 1500.0, 3000.0])
    def test_atmosphere_in_fluids(self, altitude_m: float) -> None:
        expected = ATMOSPHERE_1976(altitude_m).P
        assert liquids.atmosphere_pa(altitude_m) == pytest.approx(expected, rel=1e-3)


def test_water_at_60_f_is_what_specific_gravity_refers_to() -> None:
    """Two ways to the same figure."""
    assert liquids.water().density_kg_m3 == pytest.approx(WATER_60F_KG_M3, rel=1e-5)
