"""Which cases count, and how much."""

from __future__ import annotations

from dataclasses import replace

import pytest

from brinebayes.cases.record import Case
from brinebayes.errors import UsageError
from brinebayes.knowledge.schema import Model
from brinebayes.tuning.gather import Sorted, Terms, gather, split_day, told_by
from brinebayes.visit.events import Saw


def gathered(model: Model, cases: list[Case], terms: Terms) -> tuple[list[float], Sorted]:
    """Weights of those that count, and how all were sorted."""
    record = Sorted()
    return [one.weight for one in gather(model, cases, terms, record)], record


class TestGather:
    """Windows, fading, and what does not fit."""

    def test_held_back_until_the_window_has_passed(
        self, small: Model, visits: tuple[Case, ...]
    ) -> None:
        case = replace(visits[0], opened="2025-03-01", closed="2025-03-01", call_back="unknown")
        day_before, day = "2025-03-14", "2025-03-15"
        weights, record = gathered(small, [case], Terms(day_before))
        assert (weights, record.held_back) == ([], 1)
        weights, record = gathered(small, [case], Terms(day))
        assert (weights, record.held_back) == ([1.0], 0)

    def test_who_is_known_not_to_have_called_counts_at_once(
        self, small: Model, visits: tuple[Case, ...]
    ) -> None:
        case = replace(visits[0], opened="2025-03-01", closed="2025-03-01", call_back="no")
        assert gathered(small, [case], Terms("2025-03-01"))[0] == [1.0]

    def test_old_cases_fade(self, small: Model, visits: tuple[Case, ...]) -> None:
        case = replace(visits[0], opened="2025-03-01", closed="2025-03-01")
        terms = Terms("2025-03-31", half_life_days=15.0)
        assert gathered(small, [case], terms)[0] == [0.25]

    def test_a_name_that_the_model_does_not_know(
        self, small: Model, visits: tuple[Case, ...]
    ) -> None:
        first = visits[0]
        odd = replace(
            first, steps=(replace(first.steps[0], event=Saw("moon", "full")), *first.steps)
        )
        weights, record = gathered(small, [odd], Terms("2026-01-01"))
        assert weights == []
        assert "moon" in next(iter(record.misfits))

    def test_terms_that_make_no_sense(self) -> None:
        with pytest.raises(UsageError, match="days"):
            Terms("2025-01-01", window_days=-1)
        with pytest.raises(UsageError, match="half"):
            Terms("2025-01-01", half_life_days=0.0)


class TestToldBy:
    """What a case tells."""

    def test_after_a_call_back_a_passed_proof_tells_nothing(
        self, small: Model, visits: tuple[Case, ...]
    ) -> None:
        case = next(c for c in visits if c.proven and c.confirmed[0].how == "repaired_and_proven")
        assert told_by(small, case).proofs
        back = told_by(small, replace(case, call_back="yes"))
        assert len(back.proofs) < len(told_by(small, case).proofs)
        assert case.confirmed[0].fault not in dict(back.findings)

    def test_what_was_not_complained_of_was_not_the_trouble(
        self, small: Model, visits: tuple[Case, ...]
    ) -> None:
        case = next(c for c in visits if len(c.complaints) == 1)
        said = {n: v for n, v in told_by(small, case).findings if n in small.complaints}
        assert set(said) == set(small.complaints)
        assert said[case.complaints[0]] == (1.0, 0.0)
        assert all(v == (0.0, 1.0) for n, v in said.items() if n not in case.complaints)


class TestSplitDay:
    """The newest cases are kept back."""

    def test_a_part_of_all(self, visits: tuple[Case, ...]) -> None:
        day = split_day(lambda: iter(visits), 0.75)
        late = sum(case.closed > day for case in visits)
        assert late == pytest.approx(75, abs=3)

    def test_no_case(self) -> None:
        assert split_day(lambda: iter(()), 0.75) == ""
