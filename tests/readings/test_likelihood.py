"""Bands of a ratio: held against scipy's distributions, and the laws of any likelihood."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate, stats

from brinebayes.readings.likelihood import bands, scaled
from tests.strategies import LAW

limits = st.lists(st.floats(-2, 5), min_size=1, max_size=3, unique=True).map(sorted)
ratios = st.floats(-3, 8)
sigmas = st.floats(0.01, 1.2)
resolutions = st.floats(0.001, 0.5)


class TestBands:
    """P(true ratio in each band)."""

    @LAW
    @given(ratios, limits, sigmas, resolutions)
    def test_they_are_shares_of_one(
        self, ratio: float, limits: list[float], sigma: float, resolution: float
    ) -> None:
        found = bands(ratio, limits, sigma, resolution)
        assert len(found) == len(limits) + 1
        assert all(0 <= value <= 1 for value in found)
        assert math.fsum(found) == pytest.approx(1, abs=1e-12)

    @LAW
    @given(ratios, st.floats(1e-6, 3), limits, sigmas, resolutions)
    def test_a_larger_number_never_makes_the_smaller_outcome_likelier(
        self, ratio: float, more: float, limits: list[float], sigma: float, resolution: float
    ) -> None:
        """Monotone likelihood ratio, for every pair of outcomes: L_low(b) L_high(a) is at most
        L_low(a) L_high(b) for a < b."""
        low = bands(ratio, limits, sigma, resolution)
        high = bands(ratio + more, limits, sigma, resolution)
        for i in range(len(low)):
            for j in range(i + 1, len(low)):
                assert high[i] * low[j] <= low[i] * high[j] * (1 + 1e-9) + 1e-13

    @LAW
    @given(st.floats(0.05, 5), st.floats(0.05, 5), st.floats(0.02, 0.8))
    def test_far_above_the_resolution_it_is_a_log_normal(
        self, ratio: float, limit: float, sigma: float
    ) -> None:
        """scipy.stats.lognorm, with next to no resolution."""
        below = bands(ratio, [limit], sigma, 1e-9)[0]
        theirs = stats.lognorm.cdf(limit, s=sigma, scale=ratio)
        assert below == pytest.approx(theirs, abs=1e-9)

    @LAW
    @given(st.floats(-0.02, 0.02), st.floats(-0.02, 0.02), st.floats(0.05, 0.3))
    def test_near_nothing_it_is_a_normal_with_the_resolution(
        self, ratio: float, limit: float, sigma: float
    ) -> None:
        """scipy.stats.norm; the resolution is a hundred times the relative part."""
        resolution = 2.0 * sigma
        below = bands(ratio, [limit], sigma, resolution)[0]
        theirs = stats.norm.cdf(limit, loc=ratio, scale=resolution)
        assert below == pytest.approx(theirs, abs=1e-4)

    def test_by_numerical_integration(self) -> None:
        """The density of the true ratio, from asinh(r/s) normal, integrated over one band."""
        ratio, sigma, resolution = 0.3, 0.4, 0.05
        s = resolution / sigma

        def density(r: float) -> float:
            z = (math.asinh(r / s) - math.asinh(ratio / s)) / sigma
            return float(stats.norm.pdf(z)) / (sigma * math.hypot(s, r))

        area, _ = integrate.quad(density, 0.12, 0.75)
        assert bands(ratio, [0.12, 0.75], sigma, resolution)[1] == pytest.approx(area, abs=1e-8)

    @LAW
    @given(ratios, limits, sigmas, st.floats(1.05, 4), resolutions)
    def test_less_known_of_the_site_is_less_sure(
        self, ratio: float, limits: list[float], sigma: float, times: float, resolution: float
    ) -> None:
        """A wider spread never makes the outcome that holds the reading surer than before, if the
        reading lies in the middle of its band in the terms of either spread."""
        edges = [-math.inf, *limits, math.inf]
        band = next(i for i, (a, b) in enumerate(pairwise(edges)) if a <= ratio <= b)
        near = bands(ratio, limits, sigma, resolution)[band]
        # The same reading with the resolution kept and the relative part `times` as wide.
        wide = bands(ratio, limits, sigma * times, resolution)[band]
        assert wide <= near + 1e-12

    def test_where_limits_have_changed_places_the_band_between_is_empty(self) -> None:
        """Raw water softer than the limit of soft: nothing is in between."""
        assert bands(0.5, [1.5, 0.75], 0.1, 0.1)[1] == 0.0

    def test_far_out_it_is_still_told_apart(self) -> None:
        """Forty deviations off, the nearer of two outcomes is likelier: no rounding to nothing."""
        found = bands(1.0, [2.0, 3.0], 0.02, 1e-6)
        assert found[0] == pytest.approx(1)
        assert found[1] > found[2] >= 0


class TestScaled:
    """The largest is 1."""

    @given(st.lists(st.floats(1e-30, 1), min_size=2, max_size=5))
    def test_ratios_stay(self, values: list[float]) -> None:
        found = scaled(values)
        assert max(found) == 1.0
        for before, after in zip(values, found, strict=True):
            assert after * max(values) == pytest.approx(before)
