"""The rows of a decision, against the exact engine."""

from __future__ import annotations

import numpy as np
import pytest

from brinebayes.advice.situation import situation
from brinebayes.advice.table import table
from brinebayes.knowledge.schema import CheckedModel
from brinebayes.network.belief import believe
from brinebayes.visit.events import Complained, Done, Event, Saw
from brinebayes.visit.state import fold, to_question
from tests.decisions import families

HISTORIES: list[list[Event]] = [
    [Complained("hard_water")],
    [Complained("hard_water"), Saw("level", "static"), Done("clean_injector")],
    [Saw("level", "static"), Done("clean_injector"), Saw("proof", "failed")],
    [Saw("level", "static"), Done("clean_injector"), Saw("level", "static")],
    [Done("clean_injector"), Saw("proof", "failed"), Done("clean_injector")],
    [Done("clear_brine_line"), Saw("proof", "failed"), Done("clean_injector")],
]


def agrees(checked: CheckedModel, events: list[Event]) -> None:
    """All joint states have rows, and say exactly what the engine says."""
    model, state = checked.model, fold(checked.model, events)
    found = table(situation(checked, state), tuple(model.repairs), rows=100_000)
    assert found.effective_rows == np.inf
    exact = believe(model, to_question(model, state))
    assert found.weights.sum() == pytest.approx(1.0)
    works = float(found.weights @ found.futures.works[found.start])
    assert works == pytest.approx(exact.works, abs=1e-6)
    for name, chances in exact.outcomes.items():
        shown = found.futures.likelihoods(name, found.start) @ found.weights
        answered = {item.observation for item in to_question(model, state).seen}
        if name not in answered:
            np.testing.assert_allclose(shown, chances, atol=1e-6)


class TestTable:
    """Where there are few joint states, all of them, with exact weights after every repair."""

    @pytest.mark.parametrize("events", HISTORIES)
    def test_says_what_the_exact_engine_says(
        self, checked: CheckedModel, events: list[Event]
    ) -> None:
        agrees(checked, events)

    @pytest.mark.parametrize("seed", range(3))
    def test_where_repairs_fail_and_do_harm(self, seed: int) -> None:
        checked = CheckedModel(families.model("harmful", seed), ())
        repairs = list(checked.model.repairs)[:2]
        events: list[Event] = []
        for repair in (*repairs, repairs[0]):
            events += [Done(repair), Saw("proof", "failed")]
        agrees(checked, events)

    def test_only_the_heaviest_are_kept(self, checked: CheckedModel) -> None:
        now = situation(checked, fold(checked.model, []))
        few = table(now, tuple(checked.model.repairs), rows=20)
        assert len(few.start) == 20
        assert 0.0 < few.left_out < 0.5
