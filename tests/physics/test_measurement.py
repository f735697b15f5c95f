"""Uncertainty of products and differences against the uncertainties library."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from uncertainties import ufloat

from brinebayes.physics import measurement
from brinebayes.physics.measurement import Estimate

estimates = st.builds(Estimate, st.floats(0.1, 100), st.floats(0.001, 5))
powers = st.sampled_from([-2.0, -1.0, 0.5, 1.0, 2.0])


class TestProduct:
    """y = c x1^p1 x2^p2 ..."""

    @given(st.lists(st.tuples(estimates, powers), min_size=1, max_size=4), st.floats(-3, 3))
    def test_in_uncertainties(self, factors: list[tuple[Estimate, float]], times: float) -> None:
        ours = measurement.product(*factors, times=times)
        theirs = times * math.prod(ufloat(x.value, x.u) ** p for x, p in factors)
        assert ours.value == pytest.approx(theirs.nominal_value, rel=1e-9)
        assert ours.u == pytest.approx(theirs.std_dev, rel=1e-9)

    def test_a_level_that_stood_still_is_still_uncertain(self) -> None:
        """A fall of 0 +- 0.1 in says how large a draw would have been overlooked."""
        still = measurement.level_draw_m3_s(
            Estimate(0.0, 0.1), Estimate(600.0), Estimate(0.45), Estimate(1.0)
        )
        assert still.value == 0.0
        assert still.u == pytest.approx(math.pi / 4 * 0.45**2 * 0.1 / 600)


class TestDifference:
    """Two tape readings."""

    @given(estimates, estimates)
    def test_in_uncertainties(self, first: Estimate, second: Estimate) -> None:
        theirs = ufloat(first.value, first.u) - ufloat(second.value, second.u)
        ours = measurement.difference(first, second)
        assert (ours.value, ours.u) == pytest.approx((theirs.nominal_value, theirs.std_dev))


def test_even_within_a_half_width() -> None:
    """JCGM 100, 4.3.7: a^2/3."""
    assert measurement.within(1.0, 0.03).u ** 2 == pytest.approx(0.03**2 / 3)
