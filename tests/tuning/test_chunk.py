"""Cases as arrays, taken apart and put together."""

from __future__ import annotations

import numpy as np
import pytest

from brinebayes.cases.record import Case
from brinebayes.knowledge.schema import Model
from brinebayes.tuning.chunk import Chunk, chunk, some, together
from brinebayes.tuning.gather import told_by


@pytest.fixture(scope="module")
def whole(small: Model, visits: tuple[Case, ...]) -> Chunk:
    """Thirty cases."""
    return chunk(small, [(told_by(small, case), 1.0 + at) for at, case in enumerate(visits[:30])])


def same(one: Chunk, other: Chunk) -> bool:
    return (
        np.array_equal(one.weights, other.weights)
        and np.array_equal(one.site, other.site)
        and one.found.keys() == other.found.keys()
        and all(
            np.array_equal(a, b)
            for name in one.found
            for a, b in zip(one.found[name], other.found[name], strict=True)
        )
        and (one.columns, one.done, one.looked) == (other.columns, other.done, other.looked)
    )


class TestSome:
    """A part of the cases."""

    def test_as_if_made_of_these_alone(
        self, small: Model, visits: tuple[Case, ...], whole: Chunk
    ) -> None:
        wanted = np.array([3, 4, 11, 29])
        cases = [(told_by(small, visits[at]), 1.0 + at) for at in wanted]
        assert same(some(whole, wanted), chunk(small, cases))


class TestTogether:
    """Parts put together."""

    def test_what_was_taken_apart(self, whole: Chunk) -> None:
        parts = [some(whole, np.arange(*ends)) for ends in ((0, 7), (7, 8), (8, 30))]
        assert same(together(parts), whole)
