"""A sample of cases."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from brinebayes.cases.record import Case
from brinebayes.errors import DataError
from brinebayes.knowledge.schema import Model
from brinebayes.scoring.known import steps
from brinebayes.sensitivity.sample import sample


class TestSample:
    """The same cases whatever the order."""

    def test_the_order_of_the_record_changes_nothing(
        self, small: Model, drawn_cases: tuple[Case, ...]
    ) -> None:
        first, other = (sample(small, c, 20) for c in (drawn_cases, drawn_cases[::-1]))
        assert first.names == other.names
        assert len(first.names) == 20
        assert first.of == len(drawn_cases)
        assert np.array_equal(first.found, other.found)

    def test_told_and_last_of_each(self, small: Model, drawn_cases: tuple[Case, ...]) -> None:
        chosen = sample(small, drawn_cases, 10)
        by_name = {case.id: case for case in drawn_cases}
        for name, told, last in zip(chosen.names, chosen.told, chosen.last, strict=True):
            known = steps(small, by_name[name])
            assert (chosen.known[told], chosen.known[last]) == (known[0], known[-1])

    def test_only_what_can_be_scored(self, small: Model, drawn_cases: tuple[Case, ...]) -> None:
        with pytest.raises(DataError, match="no case"):
            sample(small, [replace(drawn_cases[0], confirmed=())])
