"""Numbers from cases: laws of the rounds."""

from __future__ import annotations

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from brinebayes.cases.record import Case
from brinebayes.errors import EvidenceConflict
from brinebayes.knowledge.schema import Model
from brinebayes.network.belief import believe
from brinebayes.tuning import em, spool
from brinebayes.tuning.chunk import chunk, merged
from brinebayes.tuning.em import fit
from brinebayes.tuning.gather import told_by
from brinebayes.tuning.intervals import intervals
from brinebayes.tuning.numbers import GROUPS, SAFE
from brinebayes.tuning.spool import Spool
from brinebayes.tuning.told import Found, Told, told
from brinebayes.tuning.tune import PLAIN
from tests.strategies import SLOW_LAW, small_models, visits
from tests.tuning.made import has_odds


def possible(model: Model, question: object) -> bool:
    try:
        believe(model, question)  # type: ignore[arg-type]
    except EvidenceConflict:
        return False
    return True


class TestFit:
    """The rounds of expectation and maximisation."""

    @SLOW_LAW
    @given(data=st.data())
    def test_cases_and_prior_together_never_become_less_likely(self, data: st.DataObject) -> None:
        model = data.draw(small_models())
        assume(has_odds(model))
        cases: list[tuple[Told, float]] = []
        for _ in range(data.draw(st.integers(1, 6))):
            question = data.draw(visits(model))
            faults = data.draw(st.lists(st.sampled_from(sorted(model.faults)), max_size=1))
            sure = data.draw(st.sampled_from([0.6, 0.9]))
            draw_seen = data.draw(st.booleans())
            cases.append(
                (
                    told(model, question, [Found(f, sure, draw_seen) for f in faults]),
                    data.draw(st.sampled_from([1.0, 5.0])),
                )
            )
        names = {name for one, _ in cases for name, _ in one.findings}
        whole = chunk(model, merged(cases))
        found = fit(model, lambda: iter([whole]), GROUPS, names, most_rounds=15)
        steps = list(zip(found.trace, found.trace[1:], strict=False))
        assert all(b >= a - 1e-7 * (1.0 + abs(a)) for a, b in steps), found.trace

    @pytest.mark.parametrize("first", [16, 1])
    def test_where_rounds_end_no_number_is_far_from_its_best(
        self,
        small: Model,
        visits: tuple[Case, ...],
        monkeypatch: pytest.MonkeyPatch,
        first: int,
    ) -> None:
        """Also where some of the cases are learned from first."""
        monkeypatch.setattr(em, "FIRST", first)
        monkeypatch.setattr(spool, "SIZE", 20)
        with Spool(small, [(told_by(small, case), 1.0) for case in visits]) as kept:
            groups = [group for group in SAFE if group not in PLAIN]
            usual = fit(small, kept, groups, kept.names)
            best = fit(small, kept, groups, kept.names, gain=1e-12)
        assert usual.settled
        assert best.settled
        known = intervals(best)
        assert len(known) > 15
        for key, ends in known.items():
            for a, b, end in zip(usual.values[key], best.values[key], ends, strict=False):
                assert abs(a - b) <= 0.05 * (end.high - end.low)
