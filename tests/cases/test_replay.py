"""What was known when: the questions that a case puts to the engine."""

from __future__ import annotations

import pytest

from brinebayes.cases.record import Confirmed
from brinebayes.cases.replay import misfit, question, state, steps, walk
from brinebayes.errors import DataError
from brinebayes.network.belief import Seen
from brinebayes.visit.events import (
    Complained,
    Done,
    Measured,
    Note,
    Saw,
    SetupIs,
    SiteKnown,
    Undo,
)
from tests.cases.anything import PROVEN, visit
from tests.dialogue.drive import small

MODEL = small().model
WELL, HARD = SiteKnown("supply", "well"), Complained("hard_water")
STATIC, FALLS = Saw("level", "static"), Saw("level", "falls")


class TestSteps:
    """Numbers of events after which more was known."""

    def test_what_was_told_first_is_one_step(self) -> None:
        case = visit(HARD, Note(""), WELL, SetupIs("pressure", "full"), STATIC, Note(""), FALLS)
        assert steps(case) == (3, 5, 7)

    def test_nothing_was_told(self) -> None:
        assert steps(visit(STATIC, HARD, WELL, FALLS)) == (0, 1, 3, 4)

    def test_nothing_at_all(self) -> None:
        assert steps(visit()) == (0,)

    def test_a_slip_counts_until_it_is_taken_back(self) -> None:
        case = visit(HARD, STATIC, Undo(), FALLS)
        assert steps(case) == (1, 2, 3, 4)
        answers = [question(MODEL, case, step).seen for step in steps(case)]
        assert [[one.likelihood for one in seen] for seen in answers] == [
            [],
            [(0.0, 1.0)],
            [],
            [(1.0, 0.0)],
        ]


class TestWalk:
    """Every question in one pass."""

    def test_the_same_as_each_by_itself(self) -> None:
        undone = (HARD, STATIC, Done("clean_injector"), Undo(), FALLS, Undo(), WELL, STATIC)
        for events in (undone, (WELL, HARD, STATIC, Done("clean_injector"), FALLS), ()):
            case = visit(*events)
            singly = [question(MODEL, case, step) for step in steps(case)]
            assert list(walk(MODEL, case)) == singly

    def test_what_the_model_does_not_know(self) -> None:
        with pytest.raises(DataError, match="case a-visit"):
            list(walk(MODEL, visit(Saw("nothing", "no"))))


class TestQuestion:
    """Evidence by epoch, and nothing from later."""

    def test_before_and_after_a_repair(self) -> None:
        case = visit(WELL, HARD, STATIC, Done("clean_injector"), FALLS)
        first, before, done, after = (question(MODEL, case, step) for step in steps(case))
        assert (first.site, first.complaints) == ({"supply": "well"}, ("hard_water",))
        assert first.seen == first.done == ()
        assert before.seen == (Seen(0, "level", (0.0, 1.0)),)
        assert (done.done, done.seen) == (("clean_injector",), before.seen)
        assert after.seen == (*before.seen, Seen(1, "level", (1.0, 0.0)))
        assert question(MODEL, case) == after

    def test_a_number_is_read_with_what_was_known_of_the_site_then(self) -> None:
        told = Measured("raw_hardness", "30 gpg")
        case = visit(*PROVEN.events[:4], told, *PROVEN.events[4:])
        before, after = (question(MODEL, case, n).seen[-1].likelihood for n in (4, 5))
        assert before != after
        assert question(MODEL, case).seen[1].likelihood == after

    def test_a_word_that_the_model_does_not_know(self) -> None:
        case = visit(HARD, Saw("levle", "static"))
        assert question(MODEL, case, 1).complaints == ("hard_water",)
        with pytest.raises(DataError, match=r"case a-visit: there is no observation 'levle' \(did"):
            question(MODEL, case)

    def test_the_state_of_the_visit(self) -> None:
        assert state(MODEL, PROVEN).ended is not None
        assert state(MODEL, PROVEN, 4).ended is None


class TestMisfit:
    """Whether a model knows all of a case."""

    def test_it_does(self) -> None:
        assert misfit(MODEL, PROVEN) is None

    def test_a_fault_it_does_not_have(self) -> None:
        case = visit(HARD, confirmed=(Confirmed("injector", "seen", 0.9),))
        assert misfit(MODEL, case) == "there is no fault 'injector'"

    def test_an_outcome_it_does_not_have(self) -> None:
        assert "no outcome of level 'stands'" in (
            misfit(MODEL, visit(Saw("level", "stands"))) or ""
        )
