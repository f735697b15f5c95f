"""Cases some hundred at a time."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest

from brinebayes.knowledge.schema import Model
from brinebayes.scoring import batches as room
from brinebayes.scoring.batches import Sorted, batches
from brinebayes.scoring.known import Known
from brinebayes.scoring.shapes import Plan
from tests.scoring.drawn import cases


class TestBatches:
    """Windows, and smaller trees from the second on."""

    def test_windows_and_chosen_trees_change_nothing(
        self, shipped: Model, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        drawn = list(cases(shipped, 45, seed=6, looked_at=3))
        (whole,) = batches((shipped,), drawn, Sorted())
        monkeypatch.setattr(room, "WINDOW", 20)
        monkeypatch.setattr(room, "PLANNED_AFTER", 40)
        asked: list[int] = []
        plan = room.plan

        def watched(model: Model, sample: Sequence[Known] = ()) -> Plan:
            asked.append(len(sample))
            return plan(model, sample)

        monkeypatch.setattr(room, "plan", watched)
        record = Sorted()
        parts = list(batches((shipped,), drawn, record))
        assert [len(part.cases) for part in parts] == [20, 20, 5]
        assert asked[0] == 0
        assert len(asked) == 2
        assert asked[1] > 0
        for step in (0, 2, None):
            together = np.concatenate([part.at(0, step) for part in parts])
            assert np.allclose(together, whole.at(0, step), atol=1e-10)
        assert record.scored == 45

    def test_steps_beyond_the_last_are_the_last(self, small: Model) -> None:
        (batch,) = batches((small,), cases(small, 5, seed=7, looked_at=2), Sorted())
        assert batch.last.tolist() == [2] * 5
        assert np.array_equal(batch.at(0, 9), batch.at(0, None))
        assert np.array_equal(batch.at(0, 2), batch.at(0, None))

    def test_what_was_found(self, small: Model) -> None:
        drawn = list(cases(small, 8, seed=8))
        (batch,) = batches((small,), drawn, Sorted())
        faults = np.array(list(small.faults))
        for row, case in zip(batch.found, drawn, strict=True):
            assert set(faults[row]) == {one.fault for one in case.confirmed}
