"""The bracketing root finder against scipy's and against exact roots."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from brinebayes.physics.roots import crossing


class TestCrossing:
    """Finds the sign change, whatever the shape."""

    @given(st.floats(0.01, 100), st.integers(1, 33))
    def test_agrees_with_an_exact_root(self, c: float, power: int) -> None:
        root = crossing(lambda x: x**power - c, 0.0, 200.0)
        assert root == pytest.approx(c ** (1 / power), rel=1e-9)

    @given(st.floats(-3, 3), st.floats(0.1, 5))
    def test_agrees_with_scipy(self, shift: float, slope: float) -> None:
        def f(x: float) -> float:
            return math.atan(slope * (x - shift)) + 0.1 * (x - shift) ** 3

        assert crossing(f, -10, 10) == pytest.approx(brentq(f, -10, 10.5), abs=1e-9)

    def test_finds_a_jump(self) -> None:
        assert crossing(lambda x: -1.0 if x < 0.3 else 1.0, 0, 1) == pytest.approx(0.3)

    def test_a_root_at_either_end(self) -> None:
        assert crossing(lambda x: x, 0.0, 1.0) == 0.0
        assert crossing(lambda x: x - 1, 0.0, 1.0) == 1.0

    def test_refuses_without_a_sign_change(self) -> None:
        with pytest.raises(ValueError, match="no sign change"):
            crossing(lambda x: x * x + 1, -1, 1)
