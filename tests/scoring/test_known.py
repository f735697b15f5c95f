"""What was known at each step, up to the first repair."""

from __future__ import annotations

from brinebayes.cases.replay import question
from brinebayes.cases.replay import steps as numbers
from brinebayes.knowledge.schema import Model
from brinebayes.scoring.known import Known, known, last_question, steps
from brinebayes.visit.events import Complained, Done, Saw, SiteKnown, Undo
from tests.cases.anything import visit

WELL, HARD = SiteKnown("supply", "well"), Complained("hard_water")
STATIC, FALLS = Saw("level", "static"), Saw("level", "falls")
TOLD = (("hard_water", (1.0, 0.0)),)


class TestSteps:
    """One set of evidence for each step."""

    def test_up_to_the_first_repair(self, small: Model) -> None:
        case = visit(WELL, HARD, STATIC, Done("clean_injector"), FALLS)
        site = (("supply", "well"),)
        assert steps(small, case) == (
            Known(site, TOLD),
            Known(site, (*TOLD, ("level", (0.0, 1.0)))),
        )

    def test_of_two_answers_to_the_same_the_last(self, small: Model) -> None:
        last = steps(small, visit(HARD, STATIC, FALLS))[-1]
        assert last.findings == (*TOLD, ("level", (1.0, 0.0)))

    def test_a_repair_that_was_a_slip(self, small: Model) -> None:
        """As long as it stood nobody asked for a ranking of what was there before."""
        case = visit(HARD, STATIC, Done("clean_injector"), Undo(), FALLS)
        assert len(steps(small, case)) == 2

    def test_every_case_has_one(self, small: Model) -> None:
        assert steps(small, visit(Done("clean_injector"))) == (Known(),)

    def test_the_same_as_one_step_after_the_other(self, small: Model) -> None:
        case = visit(WELL, HARD, STATIC, Undo(), FALLS, Undo(), STATIC)
        singly = [known(question(small, case, number)) for number in numbers(case)]
        assert list(steps(small, case)) == singly


class TestKnown:
    """Evidence that can be merged."""

    def test_the_order_does_not_matter(self, small: Model) -> None:
        first = steps(small, visit(WELL, HARD, STATIC, Saw("outlet_hardness", "hard")))[-1]
        other = steps(small, visit(HARD, WELL, Saw("outlet_hardness", "hard"), STATIC))[-1]
        assert first == other
        assert hash(first) == hash(other)


class TestLastQuestion:
    """What was known when the technician reached for his tools."""

    def test_nothing_from_later(self, small: Model) -> None:
        last = last_question(small, visit(HARD, STATIC, Done("clean_injector"), FALLS))
        assert last.done == ()
        assert [one.likelihood for one in last.seen] == [(0.0, 1.0)]
