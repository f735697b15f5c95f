"""What a case says of itself."""

from __future__ import annotations

import pytest
from hypothesis import given

from brinebayes.cases.record import Case, Confirmed, Step, is_date, problem, standing_steps
from brinebayes.visit.events import (
    Complained,
    Done,
    Ended,
    Measured,
    Saw,
    SiteKnown,
    Undo,
    standing,
)
from tests.cases.anything import PROVEN, SMALL, cases, visit


class TestCase:
    """Everything that follows from the steps is derived from them."""

    def test_site_complaints_repairs_and_end(self) -> None:
        case = visit(
            SiteKnown("supply", "well"),
            SiteKnown("supply", "town"),
            Measured("raw_hardness", "12 gpg"),
            Complained("hard_water"),
            Complained("hard_water"),
            Complained("tank_overflows"),
            Undo(),
            Done("clean_injector"),
            Done("clean_injector"),
            Ended("proven", "", "", "", ()),
        )
        assert case.site == {"supply": "town"}
        assert case.measures == {"raw_hardness": "12 gpg"}
        assert case.complaints == ("hard_water",)
        assert case.done == ("clean_injector", "clean_injector")
        assert case.ended == "proven"

    def test_after_a_call_back_only_what_was_seen_is_undisputed(self) -> None:
        seen, taken = Confirmed("salt_low", "seen", 1.0), Confirmed("salt_bridge", "judged", 0.6)
        assert visit(confirmed=(seen, taken)).undisputed == (seen, taken)
        assert visit(confirmed=(seen, taken), call_back="yes").undisputed == (seen,)

    def test_advised_beside_what_was_done(self) -> None:
        saw, done = Saw("level", "static"), Done("clean_injector")
        steps = (
            Step(Complained("hard_water"), advised="draw_test"),
            Step(saw, advised="hardness_test"),
            Step(Saw("level", "falls"), advised="draw_test"),
            Step(Undo(), advised="draw_test"),
            Step(done),
            Step(Ended("proven", "", "", "", ()), advised="finish"),
        )
        case = Case("a", "2024-05-31", "2024-05-31", SMALL, steps)
        assert case.advised == (("hardness_test", saw), ("finish", steps[-1].event))

    def test_the_demo_case_is_well(self) -> None:
        assert problem(PROVEN) is None


class TestStandingSteps:
    """The same events stand as in a visit."""

    @given(case=cases())
    def test_as_the_visit_says(self, case: Case) -> None:
        left = standing_steps(case.steps)
        assert tuple(step.event for step in left) == standing(case.events)


class TestIsDate:
    """Days of the calendar, written in one way."""

    @pytest.mark.parametrize(
        ("text", "is_one"),
        [
            ("2024-02-29", True),
            ("2023-02-29", False),
            ("20240531", False),
            ("2024-W22-5", False),
            ("2024-5-31", False),
            ("2024-05-31\n", False),
        ],
    )
    def test_by_hand(self, text: str, is_one: bool) -> None:
        assert is_date(text) is is_one
