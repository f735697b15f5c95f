"""Numbers from cases: laws of the rounds."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import chain

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from brinebayes.cases.record import Case
from brinebayes.errors import EvidenceConflict
from brinebayes.knowledge.schema import Model
from brinebayes.network.belief import believe
from brinebayes.tuning import em, spool
from brinebayes.tuning.chunk import Chunk, chunk, merged
from brinebayes.tuning.em import fit
from brinebayes.tuning.engine import engine
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

    def test_after_a_fit_to_some_of_the_cases(self, small: Model, visits: tuple[Case, ...]) -> None:
        """The first round, counted in the rest alone, is that of all cases with these numbers."""
        told_ = [(told_by(small, case), 1.0) for case in visits]
        groups = [group for group in SAFE if group not in PLAIN]
        with Spool(small, told_[:200]) as older, Spool(small, told_[200:]) as newer:
            names = older.names | newer.names

            def both() -> Iterator[Chunk]:
                return chain(older(), newer())

            early = fit(small, older, groups, names)
            later = fit(small, both, groups, names, after=(early, newer), most_rounds=0)
            assert later.slots == early.slots
            found = em.total(
                engine(early.model, early.plan, early.values), both(), early.values, early.slots
            )
        assert later.totals.cases == found.cases == 300.0
        assert later.totals.log_p == pytest.approx(found.log_p)
        for name in ("slope", "information", "lacking"):
            whole = getattr(found, name)
            assert getattr(later.totals, name) == pytest.approx(whole, rel=1e-6, abs=1e-6)
        assert later.totals.counts.keys() == found.counts.keys()
        for key, sums in found.counts.items():
            assert later.totals.counts[key] == pytest.approx(sums)
            assert later.totals.along[key] == pytest.approx(found.along[key], abs=1e-6)
