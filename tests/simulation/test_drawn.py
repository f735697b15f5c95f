"""Drawn units are the model's: the same shares, answers and luck as its network says."""

from __future__ import annotations

from math import sqrt
from pathlib import Path

import pytest

from brinebayes.checking.ready import ready
from brinebayes.knowledge.schema import CheckedModel
from brinebayes.network.belief import Question, Seen, believe
from brinebayes.simulation.drawn import DrawnUnit, draw

SMALL = Path(__file__).resolve().parent.parent / "models" / "small"
VISITS = 1_500


@pytest.fixture(scope="module")
def small() -> CheckedModel:
    return ready(SMALL)


@pytest.fixture(scope="module")
def units(small: CheckedModel) -> list[DrawnUnit]:
    return [draw(small, 3, visit) for visit in range(VISITS)]


def near(found: int, of: int, chance: float) -> bool:
    """Within four standard errors of a count."""
    return abs(found / of - chance) <= 4.0 * sqrt(chance * (1.0 - chance) / of) + 1e-9


class TestDraw:
    """The same visit is the same unit; many visits have the model's shares."""

    def test_the_same_visit_is_the_same_unit(self, small: CheckedModel) -> None:
        one, two, other = draw(small, 3, 5), draw(small, 3, 5), draw(small, 4, 5)
        assert (one.site, one.faults, one.complaints) == (two.site, two.faults, two.complaints)
        assert one.observe("draw_test") == two.observe("draw_test")
        assert one.name != other.name

    @pytest.mark.parametrize("complaint", ["hard_water", "tank_overflows"])
    def test_faults_have_the_shares_of_the_network(
        self, small: CheckedModel, units: list[DrawnUnit], complaint: str
    ) -> None:
        belief = believe(small.model, Question(complaints=(complaint,)))
        mine = [unit for unit in units if unit.complaints == (complaint,)]
        assert len(mine) > 100
        for fault, share in belief.faults.items():
            assert near(sum(fault in unit.faults for unit in mine), len(mine), share)
        assert near(sum(unit.works for unit in mine), len(mine), belief.works)


class TestDrawnUnit:
    """Answers, repairs and proofs."""

    def test_answers_are_as_likely_as_the_network_says(
        self, small: CheckedModel, units: list[DrawnUnit]
    ) -> None:
        mine = [unit for unit in units if unit.complaints == ("hard_water",)]
        belief = believe(small.model, Question(complaints=("hard_water",)))
        for name, check in (("level", "draw_test"), ("outlet_hardness", "hardness_test")):
            outcomes = small.model.observation(name).outcomes
            answers = [unit.observe(check)[name] for unit in mine]
            for outcome, chance in zip(outcomes, belief.outcomes[name].tolist(), strict=True):
                assert near(answers.count(outcome), len(mine), chance)

    def test_after_a_repair_too(self, small: CheckedModel) -> None:
        """Given what was seen before it: the same copies, the same misreading."""
        mine = [draw(small, 8, visit) for visit in range(700)]
        mine = [
            unit
            for unit in mine
            if unit.complaints == ("hard_water",) and unit.observe("draw_test")["level"] == "static"
        ]
        for unit in mine:
            unit.repair("clean_injector")
        seen = (Seen(0, "level", (0.0, 1.0)),)
        question = Question(complaints=("hard_water",), done=("clean_injector",), seen=seen)
        belief = believe(small.model, question)
        assert near(sum(unit.works for unit in mine), len(mine), belief.works)
        passed = sum(unit.prove() == "passed" for unit in mine)
        assert near(passed, len(mine), float(belief.outcomes["proof"][0]))

    def test_asked_again_the_answer_is_the_same(self, units: list[DrawnUnit]) -> None:
        for unit in units[:50]:
            assert unit.observe("draw_test") == unit.observe("draw_test")

    def test_a_repair_that_shares_its_luck_fails_again(self, small: CheckedModel) -> None:
        """Cleaning the injector fails now and then, and then the second time as well."""
        failed = 0
        for visit in range(400):
            unit = draw(small, 11, visit)
            if "injector_clogged" in unit.faults:
                unit.repair("clean_injector")
                if "injector_clogged" in unit.faults:
                    failed += 1
                    unit.repair("clean_injector")
                    assert "injector_clogged" in unit.faults
        assert failed > 3

    def test_a_repair_may_do_harm(self, small: CheckedModel) -> None:
        """A seal pinched on reassembly."""
        harmed = 0
        for visit in range(600):
            unit = draw(small, 12, visit)
            before = "seals_worn" in unit.faults
            unit.repair("clean_injector")
            harmed += "seals_worn" in unit.faults and not before
        assert 0 < harmed < 60
