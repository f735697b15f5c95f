"""Log probability along one number."""

from __future__ import annotations

import numpy as np
import pytest

from brinebayes.tuning.along import NODES, along, quantiles
from brinebayes.tuning.intervals import LEVEL


class TestAlong:
    """One count of complete records gives the log probability at every other value."""

    def test_of_whole_records_it_is_the_binomial(self) -> None:
        """7 of 10, counted at .6: by hand."""
        found = along(
            np.array([0.6, 0.4]), np.array([[1.0, 0.0], [0.0, 1.0]]), np.array([7.0, 3.0])
        )
        near = np.abs(NODES) < 12.0  # beyond, what is left of a probability is rounding
        p = 1.0 / (1.0 + np.exp(-(np.log(0.6 / 0.4) + NODES[near])))
        wanted = 7.0 * np.log(p / 0.6) + 3.0 * np.log((1.0 - p) / 0.4)
        assert found[0, near] == pytest.approx(wanted, rel=1e-3)
        assert found[1, near] == pytest.approx(wanted[::-1], rel=1e-3)

    def test_of_partial_records_it_is_the_mixture(self) -> None:
        """By hand: x is seen with p t + (1 - p) u; at p the part of the first is expected."""
        p, t, u = 0.3, 0.9, 0.2
        whole = p * t + (1.0 - p) * u
        counts = np.array([[p * t / whole], [(1.0 - p) * u / whole]])
        found = along(np.array([p, 1.0 - p]), counts, np.array([5.0]))
        moved = 1.0 / (1.0 + np.exp(-(np.log(p / (1.0 - p)) + NODES)))
        assert found[0] == pytest.approx(
            5.0 * np.log((moved * t + (1.0 - moved) * u) / whole), abs=1e-9
        )


class TestQuantiles:
    """Against scipy's beta distribution."""

    @pytest.mark.parametrize(
        ("weight", "prior", "yes", "no"),
        [(10.0, 0.1, 0, 99), (20.0, 0.02, 3, 77), (15.0, 0.9, 40, 2), (8.0, 0.5, 0, 0)],
    )
    def test_whole_records(self, weight: float, prior: float, yes: int, no: int) -> None:
        from scipy.stats import beta

        a, b = weight * prior + yes, weight * (1.0 - prior) + no
        p = a / (a + b)
        counts = np.array([[1.0, 0.0], [0.0, 1.0]])
        gain = along(np.array([p, 1.0 - p]), counts, np.array([float(yes), float(no)]))[0]
        found = quantiles(p, gain, (weight * prior, weight * (1.0 - prior)), 1.0, LEVEL)
        assert found == pytest.approx(beta.ppf([0.025, 0.975], a, b), rel=0.02)

    def test_what_hangs_together_with_others_is_wider(self) -> None:
        gain = np.zeros(len(NODES))
        near = quantiles(0.3, gain, (3.0, 7.0), 1.0, LEVEL)
        wide = quantiles(0.3, gain, (3.0, 7.0), 2.0, LEVEL)
        assert wide[0] < near[0] < 0.3 < near[1] < wide[1]
