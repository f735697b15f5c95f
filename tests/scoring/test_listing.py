"""Rows for a data frame."""

from __future__ import annotations

import pandas as pd
import pytest

from brinebayes.knowledge.schema import Model
from brinebayes.scoring.listing import rows
from brinebayes.scoring.score import LAST, score
from tests.scoring.drawn import cases


class TestRows:
    """A row for each step of each case."""

    def test_means_are_those_of_the_score(self, small: Model) -> None:
        drawn = list(cases(small, 50, seed=1, looked_at=3))
        table = pd.DataFrame(rows(small, drawn))
        ranking = score(small, drawn).rankings[0]
        for step in ranking.steps:
            part = table[table["last"] if step.answers == LAST else table.answers == step.answers]
            assert len(part) == step.going_on
        last = ranking.steps[-1].figures
        ended = table[table["last"]]
        for place, figure in enumerate(("top_1", "top_3", "reciprocal_rank", "log_score", "brier")):
            assert ended[figure].mean() == pytest.approx(last[place].value, abs=1e-6)

    def test_what_a_row_says(self, small: Model) -> None:
        (case,) = cases(small, 1, seed=2, looked_at=2)
        told = list(rows(small, [case]))
        assert [one["answers"] for one in told] == [0, 1, 2]
        assert [one["last"] for one in told] == [False, False, True]
        assert told[0]["found"] == " ".join(one.fault for one in case.confirmed)
        assert told[0]["leader"] in small.faults
        assert (told[0]["site"], told[0]["technician"]) == (case.unit, case.technician)
