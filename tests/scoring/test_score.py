"""Planted errors are found, and cases are counted as the rules say."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pytest

from brinebayes.cases.lines import read_cases
from brinebayes.cases.record import Case, Confirmed
from brinebayes.errors import DataError, UsageError
from brinebayes.knowledge.schema import Model
from brinebayes.knowledge.shipped import case_file
from brinebayes.network import graph
from brinebayes.network.belief import believe
from brinebayes.scoring.known import last_question
from brinebayes.scoring.ranking import FIGURES
from brinebayes.scoring.resampling import Figure
from brinebayes.scoring.score import LAST, Score, score
from brinebayes.tuning.numbers import entries, with_values
from tests.scoring.drawn import cases

NAMES = list(FIGURES)


def figure(one: object, name: str) -> Figure:
    """A figure of a step, a group or a difference."""
    found: Figure = one.figures[NAMES.index(name)]  # type: ignore[attr-defined]
    return found


def last(found: Score, model: int = 0) -> object:
    """The step before the first repair."""
    return next(step for step in found.rankings[model].steps if step.answers == LAST)


def swapped(model: Model, observation: str, check: str) -> Model:
    """The likelihoods of two rows of an observation the wrong way round."""
    rows = graph.observations(model)[observation].rows
    states = list(rows[0].gives.of)
    at = ("checks", check, "observations", observation, "rows")
    assert set(rows[0].gives.of) == set(rows[1].gives.of)
    return with_values(
        model,
        {
            (*at, 0, "gives"): [rows[1].gives.of[s] for s in states],
            (*at, 1, "gives"): [rows[0].gives.of[s] for s in rows[1].gives.of],
        },
    )


def overconfident(model: Model) -> Model:
    """Every observation said to be surer than it is: likelihoods to the power three, no slips."""
    values = {}
    for entry in entries(model, ("observations", "misreadings")):
        if entry.group == "misreadings":
            values[entry.key] = (0.1 * entry.value[0],)
        else:
            sharp = np.array(entry.value) ** 3
            values[entry.key] = tuple((sharp / sharp.sum()).tolist())
    return with_values(model, values)


@pytest.fixture(scope="module")
def drawn(shipped: Model) -> list[Case]:
    """Cases of the shipped model itself, eight looks each."""
    return list(cases(shipped, 400, seed=11, looked_at=8))


@pytest.fixture(scope="module")
def against_overconfident(shipped: Model, drawn: list[Case]) -> Score:
    """The shipped model and an overconfident one on the same cases."""
    return score(shipped, drawn, overconfident(shipped))


class TestPlanted:
    """What was made wrong on purpose shows."""

    def test_two_swapped_likelihoods_are_clearly_worse(self, small: Model) -> None:
        visits = list(cases(small, 400, seed=12, looked_at=3))
        found = score(small, visits, swapped(small, "outlet_hardness", "hardness_test"))
        by_step = {one.answers: one for one in found.differences}
        assert figure(by_step[LAST], "log_score").low > 0.0
        assert figure(by_step[LAST], "reciprocal_rank").high < 0.0

    def test_one_swap_in_the_large_model_is_clearly_worse(self, shipped: Model) -> None:
        """Of more than a hundred observations one is wrong, and it is made in every case."""
        visits = cases(shipped, 400, seed=22, looked_at=5, always=("salt_probe",))
        found = score(shipped, visits, swapped(shipped, "salt_probe", "probe_salt"))
        by_step = {one.answers: one for one in found.differences}
        assert figure(by_step[LAST], "log_score").low > 0.0
        assert figure(by_step[LAST], "top_1").high < 0.0

    def test_a_model_against_itself_shows_no_difference(self, small: Model) -> None:
        found = score(small, cases(small, 40, seed=13), small)
        for one in found.differences:
            for each in one.figures:
                assert (each.value, each.low, each.high) == (0.0, 0.0, 0.0)

    def test_the_model_that_the_cases_come_from_is_calibrated(
        self, against_overconfident: Score
    ) -> None:
        """With room for bad luck: the cases are other ones after every change of the model."""
        right = against_overconfident.rankings[0].calibration[LAST]
        assert right.miscalibration.value < 2.0 * right.by_chance
        step = last(against_overconfident)
        says, true = figure(step, "leader_chance"), figure(step, "leader_found")
        assert abs(says.value - true.value) < true.high - true.low

    def test_overconfidence_shows(self, against_overconfident: Score) -> None:
        wrong = against_overconfident.rankings[1].calibration[LAST]
        assert wrong.miscalibration.low > wrong.by_chance
        high = [one for one in wrong.bins if one.low >= 0.8]
        assert high
        assert all(one.found.high < one.stated for one in high)
        step = last(against_overconfident, 1)
        assert figure(step, "leader_found").high < figure(step, "leader_chance").low


class TestCounted:
    """Which cases count, and how."""

    def test_the_first_and_the_last_step_are_those_of_a_visit(self, shipped: Model) -> None:
        some = [c for c in read_cases(case_file("harbour")) if c.undisputed][:25]
        found = score(shipped, some)
        top = []
        for case in some:
            faults = believe(shipped, last_question(shipped, case)).faults
            there = {one.fault for one in case.undisputed}
            others = [p for f, p in faults.items() if f not in there]
            top.append(np.mean([faults[f] > max(others) for f in there]))
        assert figure(last(found), "top_1").value == pytest.approx(np.mean(top))

    def test_a_case_with_fewer_answers_stays_with_its_last_ranking(self, small: Model) -> None:
        short, long = cases(small, 1, 14, looked_at=1), cases(small, 1, 15, looked_at=3)
        found = score(small, [*short, *long])
        steps = {one.answers: one.going_on for one in found.rankings[0].steps}
        assert steps == {0: 2, 1: 2, 2: 1, 3: 1, LAST: 2}

    def test_nothing_found_is_counted_apart(self, small: Model) -> None:
        one, two = cases(small, 2, 16)
        found = score(small, [one, replace(two, confirmed=())])
        assert (found.sorted.scored, found.sorted.nothing_found) == (1, 1)

    def test_after_a_call_back_only_what_was_seen_counts(self, small: Model) -> None:
        one, two = cases(small, 2, 17)
        doubtful = (Confirmed(two.confirmed[0].fault, "repaired_and_proven", 0.9),)
        called = replace(two, confirmed=doubtful, call_back="yes")
        found = score(small, [one, called])
        assert (found.sorted.scored, found.sorted.nothing_found) == (1, 1)

    def test_a_case_that_the_model_does_not_know_is_counted_apart(self, small: Model) -> None:
        one, two = cases(small, 2, 18)
        other = replace(two, model=replace(two.model, id="another"))
        found = score(small, [one, other])
        assert found.sorted.scored == 1
        assert sum(found.sorted.misfits.values()) == 1

    def test_identical_evidence_is_merged_and_counted_apart(self, small: Model) -> None:
        (case,) = cases(small, 1, 19)
        found = score(small, [replace(case, id=f"c{k}") for k in range(20)])
        assert found.sorted.scored == 20
        assert found.sorted.different * 20 == found.sorted.evidence

    def test_groups_add_up(self, shipped: Model, drawn: list[Case]) -> None:
        found = score(shipped, drawn[:100])
        groups = found.rankings[0].groups
        by_count = [one for one in groups if one.kind == "count"]
        assert sum(one.cases for one in by_count) == 100
        mean = sum(one.cases * figure(one, "top_1").value for one in by_count) / 100
        assert mean == pytest.approx(figure(last(found), "top_1").value)
        assert sum(g.cases for g in groups if g.kind == "fault") == sum(
            len(case.confirmed) for case in drawn[:100]
        )
        assert sum(g.cases for g in groups if g.kind == "age") == 100

    @pytest.mark.parametrize(
        ("resampled", "units"), [("case", 60), ("site", 40), ("technician", 3)]
    )
    def test_what_is_resampled(self, small: Model, resampled: str, units: int) -> None:
        found = score(small, cases(small, 60, 20), resampled=resampled)
        assert found.units == units
        assert found.few == (units < 10)

    def test_cases_one_at_a_time(self, small: Model) -> None:
        """A file is gone through once."""
        seen = 0

        def one_by_one() -> Iterator[Case]:
            nonlocal seen
            for case in cases(small, 30, 21):
                seen += 1
                yield case

        assert score(small, one_by_one()).sorted.scored == seen == 30

    def test_nothing_to_score(self, small: Model) -> None:
        with pytest.raises(DataError, match="no case can be scored"):
            score(small, [])

    def test_no_such_unit(self, small: Model) -> None:
        with pytest.raises(UsageError, match="unit of resampling"):
            score(small, [], resampled="shop")

    def test_models_of_different_faults(self, small: Model, shipped: Model) -> None:
        with pytest.raises(UsageError, match="same faults"):
            score(small, [], shipped)
