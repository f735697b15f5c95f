"""Is a new model better?"""

from __future__ import annotations

from brinebayes.cases.record import Case
from brinebayes.knowledge.schema import Model
from brinebayes.tuning.acceptance import compare
from brinebayes.tuning.gather import told_by
from brinebayes.tuning.numbers import with_values
from brinebayes.tuning.spool import Spool
from tests.tuning.conftest import OTHERWISE


class TestCompare:
    """Two models on the same cases."""

    def test_the_truth_beats_the_judgement_and_never_the_other_way(
        self, small: Model, visits: tuple[Case, ...]
    ) -> None:
        truth = with_values(small, OTHERWISE)
        with Spool(small, [(told_by(small, case), 1.0) for case in visits]) as kept:
            for_it = compare(small, truth, kept(), kept.names)
            against = compare(truth, small, kept(), kept.names)
        assert for_it.better
        assert for_it.record.low > 0.0
        assert not against.better
        assert against.record.gain == -for_it.record.gain

    def test_a_model_is_no_better_than_itself(self, small: Model, visits: tuple[Case, ...]) -> None:
        with Spool(small, [(told_by(small, case), 1.0) for case in visits[:50]]) as kept:
            found = compare(small, small, kept(), kept.names)
        assert found.record.gain == 0.0
        assert not found.better
