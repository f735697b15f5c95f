"""What each outcome tells, against beliefs with that outcome entered."""

from __future__ import annotations

import pytest

from brinebayes.checking.exact import exact
from brinebayes.checking.informativeness import told
from brinebayes.network.belief import Question, Seen, believe
from tests.checking.planted import small


class TestTold:
    """The joints of one calibration and entering outcomes one by one agree."""

    def test_against_entering_each_outcome(self) -> None:
        model = small()
        found, now = told(exact(model)), believe(model, Question()).faults
        for name, chances in found.chances.items():
            for place, chance in enumerate(chances):
                seen = tuple(float(i == place) for i in range(len(chances)))
                then = believe(model, Question(seen=(Seen(0, name, seen),)))
                moved = max(abs(then.faults[fault] - p) for fault, p in now.items())
                assert found.moves[name][place] == pytest.approx(moved, abs=1e-12)
                assert 0.0 < chance < 1.0

    def test_chances_sum_to_one(self) -> None:
        for chances in told(exact(small())).chances.values():
            assert chances.sum() == pytest.approx(1.0, abs=1e-12)
