"""The cases that were got most wrong, with their reasons."""

from __future__ import annotations

from dataclasses import replace

import pytest

from brinebayes.cases.record import Confirmed
from brinebayes.knowledge.schema import Model
from brinebayes.network.belief import believe
from brinebayes.scoring.known import last_question
from brinebayes.scoring.score import score
from brinebayes.visit.events import Complained, Saw
from tests.cases.anything import visit
from tests.scoring.drawn import cases


class TestWorst:
    """The least expected first."""

    def test_in_order_and_no_more_than_asked_for(self, shipped: Model) -> None:
        drawn = list(cases(shipped, 60, seed=1))
        every = score(shipped, drawn, worst=200).rankings[0].missed
        three = score(shipped, reversed(drawn), worst=3).rankings[0].missed
        chances = [one.chance for one in every]
        assert chances == sorted(chances)
        assert [one.case for one in three] == [one.case for one in every[:3]]
        assert all(one.place > 1 for one in every)

    def test_what_is_said_is_so(self, shipped: Model) -> None:
        drawn = {case.id: case for case in cases(shipped, 30, seed=2)}
        for one in score(shipped, drawn.values(), worst=3).rankings[0].missed:
            faults = believe(shipped, last_question(shipped, drawn[one.case])).faults
            assert one.chance == pytest.approx(faults[one.found])
            assert one.leader_chance == pytest.approx(faults[one.leader])
            there = {c.fault for c in drawn[one.case].confirmed}
            assert one.leader not in there
            assert one.leader_chance == max(p for f, p in faults.items() if f not in there)

    def test_the_observation_that_misled_is_named(self, small: Model) -> None:
        """Brine falls, so the injector is hardly clogged; it was all the same."""
        case = visit(Complained("hard_water"), Saw("level", "falls"))
        wrong = replace(case, confirmed=(Confirmed("injector_clogged", "seen", 1.0),))
        (one,) = score(small, [wrong]).rankings[0].missed
        assert one.found == "injector_clogged"
        assert ("level", "falls") in [(push.what, push.outcome) for push in one.pushes]
