"""All of it together."""

from __future__ import annotations

import pytest

from brinebayes.cases.record import Case
from brinebayes.errors import UsageError
from brinebayes.knowledge.schema import Model
from brinebayes.sensitivity.moves import movable
from brinebayes.sensitivity.sensitivity import sensitivity


class TestSensitivity:
    """Draws, then one number at a time."""

    def test_what_is_told(self, small: Model, drawn_cases: tuple[Case, ...]) -> None:
        seen: list[tuple[str, int, int]] = []
        found = sensitivity(small, drawn_cases, 3, lambda *told: seen.append(told))
        assert (found.cases, found.of, found.holds.draws) == (80, 80, 3)
        assert found.numbers == len(movable(small))
        assert ("draws", 3, 3) in seen
        assert all(done <= of for _, done, of in seen)

    def test_one_draw_is_no_spread(self, small: Model, drawn_cases: tuple[Case, ...]) -> None:
        with pytest.raises(UsageError, match="2 or more"):
            sensitivity(small, drawn_cases, 1)
