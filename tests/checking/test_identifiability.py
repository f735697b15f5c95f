"""What each fault alone shows, against a plain enumeration of the small model by hand."""

from __future__ import annotations

import numpy as np
import pytest

from brinebayes.checking.exact import exact
from brinebayes.checking.identifiability import Columns, alike, columns
from tests.checking.planted import small


class TestColumns:
    """P(outcome | only this fault), worked out from the files by hand."""

    def test_only_the_brine_line_blocked(self) -> None:
        """Suction leaks to weak in 0.02; the draw is poor for sure; softening fails in 0.9 or 0.01.

        level static: 0.96 * 0.93 + 0.04 / 2. outlet hard: softening is hard in
        1 - 0.1 * 0.99 = 0.901; then 0.96, else 0.03; misread 0.02. pushes: only misread, 0.03 / 3.
        """
        found = exact(small()).with_only(["brine_line_blocked"])
        assert found["level"][0] == pytest.approx([0.96 * 0.07 + 0.02, 0.96 * 0.93 + 0.02])
        hard = 0.98 * (0.901 * 0.96 + 0.099 * 0.03) + 0.01
        assert found["outlet_hardness"][0] == pytest.approx([1 - hard, hard])
        strong = 0.97 * (0.98 * 0.95 + 0.02 * 0.1) + 0.01
        assert found["suction_felt"][0] == pytest.approx([strong, 1 - strong - 0.01, 0.01])

    def test_without_a_fault(self) -> None:
        """The draw is poor only when suction leaks to weak, 0.02."""
        found = exact(small()).with_only([None])
        static = 0.96 * (0.98 * 0.04 + 0.02 * 0.93) + 0.02
        assert found["level"][0] == pytest.approx([1 - static, static])

    def test_each_row_is_a_distribution(self) -> None:
        made = columns(exact(small()))
        shown = exact(small()).shown
        for column in (*made.of.values(), made.none):
            assert column.sum() == pytest.approx(len(shown))


class TestAlike:
    """Groups of the same columns, in the order of the file."""

    def test_groups(self) -> None:
        x, y, z = np.array([0.2, 0.8]), np.array([0.3, 0.7]), np.array([0.5, 0.5])
        made = Columns({"a": x, "b": y, "c": x + 1e-13, "d": z, "e": y}, z)
        assert alike(made) == (("a", "c"), ("b", "e"))

    def test_nearly_is_not_the_same(self) -> None:
        x = np.array([0.2, 0.8])
        assert alike(Columns({"a": x, "b": x + np.array([1e-6, -1e-6])}, x)) == ()
