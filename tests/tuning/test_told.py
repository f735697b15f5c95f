"""What a case tells about the unit as it was found."""

from __future__ import annotations

import pytest

from brinebayes.knowledge.schema import Model
from brinebayes.network.evidence import Question, Seen
from brinebayes.tuning.told import Found, confirmation, told


class TestTold:
    """What counts and what does not."""

    def test_what_a_repair_has_changed_is_not_used(self, small: Model) -> None:
        """The level hangs on the injector; the customer's word on the salt is about the past."""
        asked = Question(
            done=("clean_injector",),
            seen=(Seen(1, "level", (1.0, 0.0)), Seen(1, "salt_use", (0.0, 1.0))),
        )
        assert [name for name, _ in told(small, asked).findings] == ["salt_use"]

    def test_the_last_answer_to_the_same_question_counts(self, small: Model) -> None:
        asked = Question(seen=(Seen(0, "level", (1.0, 0.0)), Seen(0, "level", (0.0, 1.0))))
        assert told(small, asked).findings == (("level", (0.0, 1.0)),)

    def test_a_fault_that_a_proof_speaks_for_counts_by_the_proof(self, small: Model) -> None:
        asked = Question(done=("clean_injector",), seen=(Seen(1, "proof", (1.0, 0.0)),))
        unseen = Found("injector_clogged", 0.9, seen=False)
        assert told(small, asked, [unseen]).findings == ()
        assert told(small, asked, [unseen]).proofs == ((1, (0.04, 0.97)),)
        without = Question(done=("clean_injector",))
        assert [n for n, _ in told(small, without, [unseen]).findings] == ["injector_clogged"]

    def test_a_fault_is_looked_at_when_it_is_first_repaired(self, small: Model) -> None:
        asked = Question(done=("replace_seals", "clean_injector"))
        looked = told(small, asked, [Found("injector_clogged", 0.97)]).looked
        assert looked == (
            ("replace_seals", "injector_clogged", True),
            ("replace_seals", "seals_worn", False),
        )

    def test_the_same_case_is_told_the_same(self, small: Model) -> None:
        one = Question({"valve": "disc", "supply": "well"}, seen=(Seen(0, "level", (2.0, 0.0)),))
        other = Question({"supply": "well", "valve": "disc"}, seen=(Seen(0, "level", (1.0, 0.0)),))
        assert told(small, one) == told(small, other)


class TestConfirmation:
    """A likelihood for how surely a fault was there."""

    @pytest.mark.parametrize("sure", [0.3, 0.6, 0.97, 1.0])
    def test_alone_it_makes_the_fault_about_as_likely(self, small: Model, sure: float) -> None:
        """sure + (1 - sure) share, by Bayes' rule on the share."""
        share = small.faults["seals_worn"].share.value
        absent, present = confirmation(small, "seals_worn", sure)
        posterior = share * present / (share * present + (1.0 - share) * absent)
        assert posterior == pytest.approx(sure + (1.0 - sure) * share)
