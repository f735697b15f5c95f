"""Values as the search compares them."""

from __future__ import annotations

import math
from random import Random

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from brinebayes.advice.compared import compared


class TestCompared:
    """The order in which numbers were added up decides nothing."""

    @given(st.lists(st.integers(1, 10_000), min_size=2, max_size=40), st.randoms())
    def test_sums_in_another_order_are_equal(self, hundredths: list[int], chance: Random) -> None:
        values = [one / 100 for one in hundredths]
        other = chance.sample(values, len(values))
        assert compared(sum(values)) == compared(sum(other)) == compared(math.fsum(values))

    def test_differences_that_matter_are_kept(self) -> None:
        """A cent in a bill of many thousands, and a millionth part of a small chance."""
        assert compared(20_000.01) > compared(20_000.00)
        assert compared(1.000001e-12) > compared(1e-12)

    def test_tables_as_single_values(self) -> None:
        table = np.array([[0.1 + 0.2, 0.3], [7.0, np.inf]])
        assert (compared(table) == [[compared(0.3)] * 2, [compared(7.0), np.inf]]).all()
