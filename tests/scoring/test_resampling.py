"""Intervals against the bootstrap of scipy."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import bootstrap

from brinebayes.scoring.resampling import FEW, Sums, intervals, weights


def summed(values: np.ndarray, units: list[str], resamples: int = 4000) -> Sums:
    """Sums over all values at once."""
    sums = Sums(values.shape[1], resamples)
    sums.add(values, weights(units, resamples), units)
    return sums


class TestIntervals:
    """Percentile intervals of means."""

    @pytest.mark.parametrize("seed", [1, 2, 3])
    def test_by_case_as_scipy(self, seed: int) -> None:
        """Ends within a tenth of the width: both have the error of their own draws."""
        values = np.random.default_rng(seed).gamma(2.0, 1.0, 250)
        theirs = bootstrap(
            (values,), np.mean, n_resamples=4000, method="percentile", rng=seed
        ).confidence_interval
        (ours,) = summed(values[:, None], [f"{seed}-{k}" for k in range(250)]).figures()
        width = theirs.high - theirs.low
        assert ours.value == pytest.approx(values.mean())
        assert ours.low == pytest.approx(theirs.low, abs=0.1 * width)
        assert ours.high == pytest.approx(theirs.high, abs=0.1 * width)

    def test_by_site_as_scipy_on_whole_sites(self) -> None:
        """Cases of one site are alike, and the interval is as wide as that of whole sites."""
        draw = np.random.default_rng(4)
        site = np.repeat(np.arange(60), 5)
        values = draw.normal(size=60)[site] + 0.1 * draw.normal(size=300)
        by_site = values.reshape(60, 5).mean(axis=1)
        theirs = bootstrap(
            (by_site,), np.mean, n_resamples=4000, method="percentile", rng=4
        ).confidence_interval
        (ours,) = summed(values[:, None], [f"site {k}" for k in site]).figures()
        (apart,) = summed(values[:, None], [f"case {k}" for k in range(300)]).figures()
        width = theirs.high - theirs.low
        assert ours.low == pytest.approx(theirs.low, abs=0.1 * width)
        assert ours.high == pytest.approx(theirs.high, abs=0.1 * width)
        assert apart.high - apart.low < 0.7 * width

    def test_a_paired_difference_as_scipy(self) -> None:
        draw = np.random.default_rng(5)
        first = draw.normal(size=200)
        second = first + 0.1 + 0.2 * draw.normal(size=200)
        theirs = bootstrap(
            (first, second),
            lambda a, b, axis: np.mean(b, axis=axis) - np.mean(a, axis=axis),
            paired=True,
            n_resamples=4000,
            method="percentile",
            rng=5,
        ).confidence_interval
        units = [f"pair {k}" for k in range(200)]
        means = [summed(v[:, None], units).means for v in (first, second)]
        (ours,) = intervals(means[1] - means[0])
        width = theirs.high - theirs.low
        assert ours.low == pytest.approx(theirs.low, abs=0.1 * width)
        assert ours.high == pytest.approx(theirs.high, abs=0.1 * width)


class TestSums:
    """Sums over cases as they go by."""

    def test_the_order_and_the_parts_change_nothing(self) -> None:
        values = np.random.default_rng(6).random((40, 2))
        units = [f"u{k}" for k in range(40)]
        whole = summed(values, units, 50).means
        parts = Sums(2, 50)
        for k in reversed(range(40)):
            parts.add(values[k : k + 1], weights(units[k : k + 1], 50), units[k : k + 1])
        assert np.allclose(parts.means, whole, atol=1e-6)

    def test_few_units(self) -> None:
        values = np.ones((30, 1))
        assert summed(values, [f"t{k % (FEW - 1)}" for k in range(30)], 10).few
        assert not summed(values, [f"t{k % FEW}" for k in range(30)], 10).few


class TestWeights:
    """How often a unit was drawn."""

    def test_first_comes_the_data(self) -> None:
        assert weights(["a", "b"], 5)[:, 0].tolist() == [1.0, 1.0]

    def test_poisson_with_mean_one(self) -> None:
        drawn = weights(["a"], 200_000)[0, 1:]
        assert drawn.mean() == pytest.approx(1.0, abs=0.01)
        assert drawn.var() == pytest.approx(1.0, abs=0.02)
        assert (drawn == 0).mean() == pytest.approx(np.exp(-1.0), abs=0.005)

    def test_the_same_unit_is_drawn_alike(self) -> None:
        first, other, again = weights(["a", "b", "a"], 100)
        assert np.array_equal(first, again)
        assert not np.array_equal(first, other)
