"""Minutes from the record."""

from __future__ import annotations

import pytest

from brinebayes.cases.record import Case, Step
from brinebayes.knowledge.schema import Model
from brinebayes.tuning.minutes import Clock, Spent, mean_minutes
from brinebayes.tuning.numbers import Entry
from brinebayes.visit.events import Arrived, Done, Ended, ModelIs, Saw


def spent(model: Model, *steps: Step) -> dict[str, Spent]:
    """What a case with these steps adds to the minutes."""
    ended = Step(Ended("proven", "", "", "", ()))
    case = Case("c", "2024-01-01", "2024-01-01", ModelIs("small", "1", "x"), (*steps, ended))
    clock = Clock(model)
    clock.see(case, 1.0)
    return clock.spent


class TestClock:
    """Only acts that needed no way."""

    def test_a_question_needs_none(self, small: Model) -> None:
        found = spent(small, Step(Saw("salt_use", "usual"), 3.0))
        assert found["ask_salt"].total == 3.0

    def test_the_way_is_not_counted(self, small: Model) -> None:
        bypass, service = {"flow": "bypass"}, {"flow": "through"}
        first = Step(Arrived("", bypass))
        walked = Step(Arrived("hardness_test", service))
        seen = Step(Saw("outlet_hardness", "hard"), 12.0)
        assert "hardness_test" not in spent(small, first, walked, seen)
        stayed = Step(Arrived("", service))
        assert spent(small, stayed, walked, seen)["hardness_test"].total == 12.0

    def test_a_check_with_waiting_is_left_out(self, small: Model) -> None:
        assert small.checks["draw_test"].waiting_minutes.value > 0.0
        setup = {"flow": "through"}
        found = spent(
            small,
            Step(Arrived("", setup)),
            Step(Arrived("draw_test", setup)),
            Step(Saw("level", "falls"), 15.0),
        )
        assert found == {}

    def test_a_time_that_was_not_written_down(self, small: Model) -> None:
        assert spent(small, Step(Saw("salt_use", "usual")), Step(Done("replace_seals"), 5.0)) == {}

    def test_somebody_was_called_away(self, small: Model) -> None:
        found = spent(small, Step(Saw("salt_use", "usual"), 200.0))
        assert found["ask_salt"].total == 4.0 * small.checks["ask_salt"].minutes.value


class TestMeanMinutes:
    """A weighted mean."""

    def test_prior_and_times(self) -> None:
        entry = Entry("minutes", "checks.yaml", ("x",), (), (5.0,), 8.0)
        mean, low, high = mean_minutes(entry, Spent(24.0, 24.0 * 9.0, 24.0 * 81.0))
        assert mean == pytest.approx((8 * 5 + 24 * 9) / 32)
        assert low < mean < high
