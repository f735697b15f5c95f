"""A visit is a fold over its events."""

from __future__ import annotations

from pathlib import Path

import pytest

from brinebayes.errors import UsageError
from brinebayes.knowledge.reading import read_model
from brinebayes.knowledge.schema import Model
from brinebayes.visit.events import (
    Complained,
    CouldNot,
    Done,
    Event,
    PartMissing,
    Saw,
    SetupIs,
    SiteKnown,
)
from brinebayes.visit.state import fold, to_question

SMALL = Path(__file__).resolve().parent.parent / "models" / "small"


@pytest.fixture(scope="module")
def model() -> Model:
    return read_model(SMALL)


class TestFold:
    """Events in, state out."""

    def test_each_kind_of_event_arrives(self, model: Model) -> None:
        state = fold(
            model,
            [
                SiteKnown("supply", "well"),
                Complained("hard_water"),
                Saw("level", "static"),
                Done("clean_injector"),
                Saw("level", "falls"),
                SetupIs("cover", "on"),
                CouldNot("hardness_test"),
                PartMissing("seal_kit"),
            ],
        )
        assert state.site == {"supply": "well"}
        assert state.complaints == ("hard_water",)
        assert state.seen == ((0, "level", "static"), (1, "level", "falls"))
        assert state.done == ("clean_injector",)
        assert state.setup == {"cover": "on"}
        assert state.could_not == {"hardness_test"}
        assert state.parts_missing == {"seal_kit"}

    def test_folding_in_two_parts_is_the_same(self, model: Model) -> None:
        events: list[Event] = [
            Saw("level", "static"),
            Done("clean_injector"),
            Saw("level", "falls"),
        ]
        assert fold(model, events[1:], fold(model, events[:1])) == fold(model, events)

    def test_a_repair_makes_earlier_observations_speak_of_the_past(self, model: Model) -> None:
        state = fold(model, [Saw("level", "static"), Done("clean_injector")])
        assert state.seen_now() == {}
        assert state.seen_ever() == {"level": "static"}

    def test_what_was_said_of_the_setup_does_not_outlive_the_next_act(self, model: Model) -> None:
        """Whoever looked or worked may have left the unit otherwise: worst case again."""
        for event in (Saw("level", "static"), Done("clean_injector")):
            assert fold(model, [SetupIs("cover", "on"), event]).setup == {}

    def test_the_same_complaint_twice_counts_once(self, model: Model) -> None:
        state = fold(model, [Complained("hard_water"), Complained("hard_water")])
        assert state.complaints == ("hard_water",)

    @pytest.mark.parametrize(
        ("event", "words"),
        [
            (SiteKnown("suply", "well"), "site condition 'suply' (did you mean supply?)"),
            (SiteKnown("supply", "lake"), "value of supply 'lake'"),
            (Complained("hard_watr"), "did you mean hard_water?"),
            (Saw("levle", "static"), "observation 'levle'"),
            (Saw("level", "statc"), "outcome of level 'statc' (did you mean static?)"),
            (Saw("proof", "good"), "outcome of proof 'good'; it is one of passed, failed"),
            (Done("clean_injectr"), "repair 'clean_injectr' (did you mean clean_injector?)"),
            (SetupIs("lid", "on"), "setup variable 'lid'"),
            (SetupIs("cover", "half"), "value of cover 'half'"),
            (CouldNot("dance"), "check or repair 'dance'"),
            (PartMissing("pump"), "part 'pump'"),
        ],
    )
    def test_an_unknown_name_is_refused_in_words(
        self, model: Model, event: Event, words: str
    ) -> None:
        with pytest.raises(UsageError, match="there is no") as refusal:
            fold(model, [event])
        assert words in str(refusal.value)


class TestToQuestion:
    """What the exact engine is asked."""

    def test_an_outcome_becomes_a_likelihood_in_the_order_of_the_model(self, model: Model) -> None:
        question = to_question(
            model, fold(model, [Saw("suction_felt", "weak"), Saw("proof", "failed")])
        )
        assert [item.likelihood for item in question.seen] == [(0.0, 1.0, 0.0), (0.0, 1.0)]
