"""Simulated visits as cases: the same acts, what the unit showed, and what was put into it."""

from __future__ import annotations

from pathlib import Path

import pytest

from brinebayes.cases.lines import parse_line, to_line
from brinebayes.cases.replay import misfit
from brinebayes.checking.ready import ready
from brinebayes.knowledge.schema import CheckedModel
from brinebayes.knowledge.shipped import model_folder
from brinebayes.simulation import trials
from brinebayes.simulation.records import case
from brinebayes.visit.events import Arrived, Done, Saw

SMALL = Path(__file__).resolve().parent.parent / "models" / "small"


@pytest.fixture(scope="module")
def small() -> CheckedModel:
    return ready(SMALL)


class TestCase:
    """One visit told again."""

    @pytest.mark.parametrize("policy", ["search", "fixed order"])
    def test_is_a_case_of_this_model_with_the_acts_of_the_visit(
        self, small: CheckedModel, policy: str
    ) -> None:
        trial = trials.trial("model", 6)
        for served in trials.run(small, trials.chosen([policy]), trial):
            found = case(small, trial, served)
            assert found.invented
            assert misfit(small.model, found) is None
            assert parse_line("here", to_line(found).encode()) == found
            walked = [event.act for event in found.events if isinstance(event, Arrived)]
            assert walked == list(served.acts[:-1])
            unit = trials.makers()["model"](small, trial.seed, served.visit)
            assert {one.fault for one in found.confirmed} == unit.faults
            assert (found.call_back == "yes") == served.called_back

    def test_of_a_physical_unit(self) -> None:
        """What it showed is what the same unit shows again."""
        shipped = ready(model_folder("softener"))
        trial = trials.trial("A", 1, first=3)
        (served,) = trials.run(shipped, trials.chosen(["fixed order"]), trial)
        found = case(shipped, trial, served)
        unit = trials.makers()["A"](shipped, trial.seed, served.visit).copy()
        for event in found.events:
            if isinstance(event, Done):
                break
            if isinstance(event, Saw):
                assert (
                    unit.observe(shipped.model.check_of[event.observation])[event.observation]
                    == event.outcome
                )
