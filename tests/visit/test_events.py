"""What still holds after every undo."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from brinebayes.errors import UsageError
from brinebayes.visit.events import (
    Arrived,
    Event,
    ModelIs,
    Note,
    Saw,
    Undo,
    Waiting,
    arrived,
    standing,
)
from tests.visit.anything import step

HERE = arrived("draw_test", {"flow": "through"})
FOUND_SO = arrived("", {"flow": "through"})
STRONG = Saw("suction_felt", "strong")
FALLS = Saw("level", "falls")
MODEL = ModelIs("small", "1", "abc")


class TestStanding:
    """An undo takes back the last step, and an arrival goes with the answer it led to."""

    @given(events=st.lists(step(), max_size=8))
    def test_without_an_undo_everything_holds(self, events: list[Event]) -> None:
        assert list(standing(events)) == events

    @given(before=st.lists(step(), max_size=6), last=step())
    def test_undo_right_after_a_step_leaves_what_was_before_it(
        self, before: list[Event], last: Event
    ) -> None:
        """Unless the step is one half of an arrival and its answer, or no step at all."""
        if isinstance(last, ModelIs) or any(isinstance(item, Arrived) for item in before):
            return
        assert list(standing([*before, last, Undo()])) == before

    @pytest.mark.parametrize(
        ("events", "left"),
        [
            ([HERE, STRONG, Undo()], []),
            ([HERE, STRONG, FALLS, Undo()], [HERE, STRONG]),
            ([HERE, STRONG, FALLS, Undo(), Undo()], []),
            ([FOUND_SO, STRONG, Undo()], [FOUND_SO]),
            ([HERE, Waiting("draw_test"), HERE, STRONG, Undo()], [HERE, Waiting("draw_test")]),
            ([HERE, Waiting("draw_test"), Undo()], []),
            ([HERE, Note("x"), Undo()], [HERE]),
            ([STRONG, MODEL, Undo()], [MODEL]),
            ([STRONG, Undo(), FALLS], [FALLS]),
            ([STRONG, FALLS, Undo(), Undo()], []),
        ],
    )
    def test_what_is_left(self, events: list[Event], left: list[Event]) -> None:
        assert list(standing(events)) == left

    @pytest.mark.parametrize("events", [[Undo()], [MODEL, Undo()], [STRONG, Undo(), Undo()]])
    def test_an_undo_of_nothing_is_refused(self, events: list[Event]) -> None:
        with pytest.raises(UsageError, match="nothing left to take back"):
            standing(events)
