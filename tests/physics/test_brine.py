"""Salt and brine: what must hold between the functions; values stand in tests/reference."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from brinebayes.errors import UsageError
from brinebayes.physics import brine, liquids

temperatures = st.floats(278, 305)


class TestStrength:
    """Density and strength turn into each other."""

    @given(st.floats(0, 0.26), temperatures)
    def test_there_and_back(self, w: float, kelvin: float) -> None:
        density = liquids.density_kg_m3(w, kelvin)
        assert brine.mass_fraction_from_density(density, kelvin) == pytest.approx(w, abs=1e-9)

    def test_refuses_what_is_no_brine(self) -> None:
        with pytest.raises(UsageError, match=r"1\.4 SG is no brine"):
            brine.mass_fraction_from_density(1400.0)


class TestBrinePart:
    """How much of the drain's flow is brine."""

    @given(st.floats(0.01, 0.25), temperatures)
    def test_salt_in_is_salt_out(self, bed: float, kelvin: float) -> None:
        """A litre to the bed carries the salt of its part of saturated brine."""
        part = brine.brine_part(bed, kelvin)
        w = brine.saturated_mass_fraction(kelvin)
        salt_in = part * w * liquids.density_kg_m3(w, kelvin)
        assert salt_in == pytest.approx(bed * liquids.density_kg_m3(bed, kelvin))

    def test_a_third_at_ten_per_cent(self) -> None:
        """107.07 g/L at 10 % [P density table of Torun university, 20 °C] over 0.264 x 1202 g/L."""
        assert brine.brine_part(0.10) == pytest.approx(107.07 / (0.2636 * 1202.2), rel=3e-3)


class TestHeight:
    """A volume of liquid and how high it stands."""

    @given(st.floats(0.0, 1.0), st.floats(0.2, 1.0), st.floats(0.4, 1.0))
    def test_there_and_back(self, height: float, tank: float, open_part: float) -> None:
        volume = brine.tank_m3(height, tank, open_part)
        assert brine.height_m(volume, tank, open_part) == pytest.approx(height)


class TestConductivity:
    """A salty drain conducts more, and tells how salty it is."""

    @given(st.floats(0, 0.249), st.floats(280, 300))
    def test_there_and_back(self, w: float, kelvin: float) -> None:
        value = brine.conductivity_s_m(w, kelvin)
        assert brine.mass_fraction_from_conductivity(value, kelvin) == pytest.approx(w, abs=1e-9)

    @given(st.floats(0, 0.24))
    def test_rises_with_strength(self, w: float) -> None:
        assert brine.conductivity_s_m(w + 0.001) > brine.conductivity_s_m(w)

    def test_refuses_more_than_brine_conducts(self) -> None:
        with pytest.raises(UsageError, match="400 mS/cm is more than brine"):
            brine.mass_fraction_from_conductivity(40.0)

    def test_refuses_beyond_the_table(self) -> None:
        with pytest.raises(UsageError, match="up to 25 wt%"):
            brine.conductivity_s_m(0.26)


class TestVolumes:
    """Salt, refill water, brine and level."""

    @given(st.floats(0.1, 20), temperatures)
    def test_salt_is_kept(self, salt: float, kelvin: float) -> None:
        """Mass of refill water and salt is the mass of the brine drawn."""
        w = brine.saturated_mass_fraction(kelvin)
        water = brine.refill_m3(salt, kelvin) * liquids.density_kg_m3(0.0, kelvin)
        drawn = brine.brine_m3(salt, kelvin) * liquids.density_kg_m3(w, kelvin)
        assert water + salt == pytest.approx(drawn, rel=1e-9)

    def test_level_falls_faster_in_salt(self) -> None:
        """The same fall means about half the draw in salt (porosity 0.40-0.50, judgement)."""
        clear = brine.draw_m3_s(0.1, 600, 0.45, brine.CLEAR_LIQUID)
        salt = brine.draw_m3_s(0.1, 600, 0.45, brine.SALT_POROSITY)
        assert salt == pytest.approx(clear * brine.SALT_POROSITY)
        assert 0.40 <= brine.SALT_POROSITY <= 0.50
