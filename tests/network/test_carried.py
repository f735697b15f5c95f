"""Rows carried through repairs, against exact beliefs where both can be had."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from brinebayes.errors import EvidenceConflict
from brinebayes.knowledge.reading import read_model
from brinebayes.knowledge.schema import Model
from brinebayes.network import trees
from brinebayes.network.belief import Belief, Question, Seen, believe
from brinebayes.network.carried import CarriedBelief, carried
from brinebayes.network.tables import TooLargeError
from tests.network.test_sampling import off

BOUND = 4.5
FAILED = (0.0, 1.0)

VISITS = [
    Question(
        {"supply": "well"},
        ("hard_water",),
        ("clean_injector",),
        (Seen(0, "suction_felt", (0.0, 1.0, 0.0)), Seen(1, "proof", FAILED)),
    ),
    Question(
        {},
        (),
        ("clean_injector", "clean_injector"),
        (Seen(0, "level", (0.0, 1.0)), Seen(1, "proof", FAILED), Seen(2, "level", (0.0, 1.0))),
    ),
    Question(
        {},
        ("hard_water",),
        ("replace_seals", "clear_brine_line", "replace_seals"),
        (
            Seen(0, "salt_use", (0.3, 0.7)),
            Seen(1, "proof", FAILED),
            Seen(2, "draw", (1.0, 0.2)),
            Seen(3, "seals_worn", (1.0, 0.5)),
            Seen(3, "outlet_hardness", (0.0, 1.0)),
        ),
    ),
]


@pytest.fixture(scope="module")
def small() -> Model:
    return read_model(Path(__file__).resolve().parents[1] / "models" / "small")


class TestAgainstExactBeliefs:
    """The last repair carried, all before it exact."""

    @pytest.mark.parametrize("question", VISITS)
    def test_everything_that_is_believed(self, small: Model, question: Question) -> None:
        exact = believe(small, question)
        assert isinstance(exact, Belief)
        rows = carried(small, question)
        draws = rows.effective_draws
        assert draws > 500.0
        for fault, p in exact.faults.items():
            assert off(rows.faults[fault], p, draws) < BOUND
        assert off(rows.works, exact.works, draws) < BOUND
        assert off(rows.no_fault, exact.no_fault, draws) < BOUND
        assert rows.log_evidence == pytest.approx(exact.log_evidence, abs=BOUND / np.sqrt(draws))
        assert list(rows.outcomes) == list(exact.outcomes)
        for name, outcomes in exact.outcomes.items():
            for k, p in enumerate(outcomes.tolist()):
                assert off(float(rows.outcomes[name][k]), p, draws) < BOUND
                for j, both in enumerate(exact.joint[name][k].tolist()):
                    assert off(float(rows.joint[name][k, j]), both, draws) < BOUND

    def test_a_second_try_with_the_same_luck_still_brings_nothing(self, small: Model) -> None:
        """The first try lies in the exact part, the second is carried: its luck is known."""
        clogged = (Seen(0, "injector_clogged", (0.0, 1.0)),)
        rows = carried(small, Question(done=("clean_injector",) * 2, seen=clogged))
        assert off(rows.faults["injector_clogged"], 0.08, rows.effective_draws) < BOUND

    def test_fewer_rows_for_the_search(self, small: Model) -> None:
        rows = carried(small, VISITS[2])
        table = rows.worlds(2_000, 3)
        assert table.weights.sum() == pytest.approx(1.0, abs=1e-12)
        for fault, p in rows.faults.items():
            assert off(float(table.weights @ table.has(fault)), p, 2_000) < BOUND


class TestBudget:
    """When it comes to that."""

    def test_beyond_the_budget_rows_are_carried_and_it_is_said(
        self, small: Model, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        question = VISITS[2]
        exact = believe(small, question)
        first = trees.trees_for(small, (), ())
        monkeypatch.setattr(trees, "MOST_ENTRIES", first.whole.tree.entries)
        monkeypatch.setattr(trees, "_kept", {})
        monkeypatch.setenv("BRINEBAYES_CACHE", "off")
        rows = believe(small, question)
        assert isinstance(rows, CarriedBelief)
        assert np.isfinite(rows.effective_draws)
        for fault, p in exact.faults.items():
            assert off(rows.faults[fault], p, rows.effective_draws) < BOUND

    def test_a_model_too_large_for_a_single_epoch_is_refused(
        self, small: Model, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr(trees, "MOST_ENTRIES", 1)
        monkeypatch.setattr(trees, "_kept", {})
        monkeypatch.setenv("BRINEBAYES_CACHE", "off")
        with pytest.raises(TooLargeError, match="entries"):
            believe(small, Question())

    def test_what_no_row_fits_is_a_conflict(self, small: Model) -> None:
        """A line that was just cleared with certainty known, and is blocked all the same."""
        seen = (
            Seen(0, "brine_line_blocked", (1.0, 0.0)),
            Seen(1, "brine_line_blocked", (0.0, 1.0)),
        )
        with pytest.raises(EvidenceConflict):
            carried(small, Question(done=("clear_brine_line",), seen=seen))
