"""What would change."""

from __future__ import annotations

import pytest

from brinebayes.tuning.changes import rounded


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
