"""What would change."""

from __future__ import annotations

import pytest
from scipy.stats import binomtest

from brinebayes.tuning.changes import allowed_by_count, rounded
from brinebayes.tuning.intervals import LEVEL


class TestRounded:
    """Values with few digits."""

    def test_a_spread_still_sums_to_one(self) -> None:
        found = rounded((1 / 3, 1 / 3, 1 / 3), True)
        assert sum(found) == pytest.approx(1.0, abs=1e-15)
        assert sorted(found) == [0.3333, 0.3333, 0.3334]

    def test_a_rare_thing_keeps_its_digits(self) -> None:
        assert rounded((0.000123456,), False) == (0.0001235,)
        assert rounded((12.34567,), False) == (12.35,)
        assert rounded((0.0,), False) == (0.0,)


class TestAllowedByCount:
    """Whether a count alone speaks against a chance; scipy's exact interval is the judge."""

    @pytest.mark.parametrize(("seen", "cases"), [(0, 360), (1, 40), (7, 20), (20, 20), (75, 360)])
    def test_interval_is_that_of_scipy(self, seen: int, cases: int) -> None:
        ends = binomtest(seen, cases).proportion_ci(confidence_level=LEVEL, method="exact")
        for end, inside in ((ends.low, 1e-6), (ends.high, -1e-6)):
            if 0.0 < end < 1.0:
                assert allowed_by_count(seen, cases, end + inside)
                assert not allowed_by_count(seen, cases, end - inside)

    def test_none_of_a_rare_fault_refutes_nothing(self) -> None:
        """0.4 % lets one or two be expected in 360 calls, and none in a quarter of such years."""
        assert allowed_by_count(0.0, 360.0, 0.004)
        assert not allowed_by_count(0.0, 360.0, 0.014)
