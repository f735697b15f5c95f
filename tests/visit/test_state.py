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
    CutOff,
    Done,
    Ended,
    Event,
    Found,
    Heeded,
    ModelIs,
    Note,
    PartHere,
    PartMissing,
    Refilled,
    Saw,
    SetupIs,
    SiteKnown,
    Skipped,
    Undo,
    Waiting,
    arrived,
)
from brinebayes.visit.state import VisitState, fold, lacks, to_question

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

    def test_each_kind_of_event_that_changes_no_belief_arrives(self, model: Model) -> None:
        ended = Ended("proven", "clean_injector", "nobody", "2024-06-01", ("note_left",))
        state = fold(
            model,
            [
                Skipped("complaint"),
                Skipped("level"),
                Heeded("flood_make_safe"),
                PartMissing("seal_kit"),
                PartHere("seal_kit"),
                CouldNot("proof"),
                Saw("level", "falls"),
                Refilled(),
                Note("a"),
                Note("b"),
                Found("seals_worn", ""),
                Found("seals_worn", "seen"),
                ModelIs("small", "1", "x"),
                CutOff(),
                ended,
            ],
        )
        assert state.was_asked("complaint")
        assert state.was_skipped("level")
        assert state.heeded == {"flood_make_safe"}
        assert (state.parts_missing, state.parts_here) == (frozenset(), {"seal_kit"})
        assert state.could_not == {"proof"}
        assert state.before_refill == 1
        assert state.notes == ("a", "b")
        assert state.found == {"seals_worn": "seen"}
        assert state.ended == ended

    def test_a_skipped_observation_is_open_again_after_a_repair(self, model: Model) -> None:
        state = fold(model, [Skipped("level"), Skipped("supply"), Done("clean_injector")])
        assert not state.was_skipped("level")
        assert state.was_asked("supply")

    def test_an_undo_is_honoured(self, model: Model) -> None:
        events: list[Event] = [Saw("level", "static"), Done("clean_injector"), Undo(), Undo()]
        assert fold(model, events) == VisitState()

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
            (Skipped("dance"), "question 'dance'"),
            (Heeded("flood_make_saf"), "rule 'flood_make_saf' (did you mean flood_make_safe?)"),
            (arrived("dance", {}), "act 'dance'"),
            (arrived("", {"lid": "on"}), "setup variable 'lid'"),
            (arrived("", {"cover": "half"}), "value of cover 'half'"),
            (Waiting("clean_injector"), "check 'clean_injector'"),
            (PartHere("pump"), "part 'pump'"),
            (Ended("well", "", "", "", ()), "way to end a visit 'well'"),
            (Ended("proven", "dance", "", "", ()), "repair 'dance'"),
            (PartMissing("pump"), "part 'pump'"),
        ],
    )
    def test_an_unknown_name_is_refused_in_words(
        self, model: Model, event: Event, words: str
    ) -> None:
        with pytest.raises(UsageError, match="there is no") as refusal:
            fold(model, [event])
        assert words in str(refusal.value)
        said = lacks(model, event)
        assert said is not None
        assert words in said


class TestStillKnown:
    """A repair makes old what it may have changed, until that is looked at again."""

    def test_a_repair_elsewhere_leaves_an_answer_as_it_is(self, model: Model) -> None:
        seen: list[Event] = [Saw("suction_felt", "weak"), Saw("level", "static")]
        after = fold(model, [*seen, Done("clear_brine_line")])
        assert after.still_known() == {"suction_felt": "weak"}
        again = fold(model, [Saw("level", "falls")], after)
        assert again.still_known() == {"suction_felt": "weak", "level": "falls"}

    def test_what_is_told_of_the_weeks_before_never_grows_old(self, model: Model) -> None:
        told: list[Event] = [Saw("salt_use", "stopped"), Done("clean_injector")]
        assert fold(model, told).still_known() == {"salt_use": "stopped"}


DRAW = {"flow": "through", "position": "brine_draw", "pressure": "full", "cover": "on"}
AT_DRAW = arrived("draw_test", DRAW)


class TestWalked:
    """A route that was walked tells how the unit stands, until an act is done in another way."""

    def test_its_own_answers_leave_it_so(self, model: Model) -> None:
        state = fold(model, [AT_DRAW, Saw("suction_felt", "weak"), Saw("level", "static")])
        assert state.walked == DRAW
        assert state.since == ()

    def test_what_is_stated_at_the_act_stays_with_it(self, model: Model) -> None:
        state = fold(model, [AT_DRAW, SetupIs("cover", "on"), Saw("level", "static")])
        assert state.setup == {"cover": "on"}

    def test_a_repair_at_the_end_of_its_route(self, model: Model) -> None:
        events = [arrived("clean_injector", {"cover": "off"}), Done("clean_injector")]
        assert fold(model, events).since == ()
        again = fold(model, [*events, Done("clean_injector")])
        assert again.since == ("clean_injector",)

    def test_other_acts_are_listed_in_order_and_what_was_stated_is_gone(self, model: Model) -> None:
        saws = [Saw("outlet_hardness", "soft"), Saw("injector_seen", "clear")]
        state = fold(model, [AT_DRAW, SetupIs("cover", "on"), *saws, Done("clear_brine_line")])
        assert state.since == ("hardness_test", "open_injector", "clear_brine_line")
        assert state.setup == {}
        assert state.walked == DRAW

    def test_the_next_walk_tells_everything_anew(self, model: Model) -> None:
        state = fold(model, [Done("clean_injector"), AT_DRAW])
        assert state.since == ()
        assert state.walked == DRAW


class TestWaiting:
    """A wait runs until its answer comes or something moves the unit."""

    RUNNING = (AT_DRAW, Waiting("draw_test"))

    @pytest.mark.parametrize(
        "events",
        [
            (),
            (arrived("ask_salt", DRAW), Saw("salt_use", "usual")),
            (Saw("salt_use", "usual"),),
            (Note("x"), Heeded("flood_make_safe"), CouldNot("ask_salt")),
        ],
    )
    def test_it_goes_on(self, model: Model, events: tuple[Event, ...]) -> None:
        assert fold(model, [*self.RUNNING, *events]).waiting == "draw_test"

    @pytest.mark.parametrize(
        "events",
        [
            (Saw("level", "falls"),),
            (Skipped("level"),),
            (CouldNot("draw_test"),),
            (arrived("hardness_test", {**DRAW, "position": "service"}),),
            (Saw("outlet_hardness", "soft"),),
            (Done("clear_brine_line"),),
            (SetupIs("flow", "around"),),
        ],
    )
    def test_it_ends(self, model: Model, events: tuple[Event, ...]) -> None:
        """The hardness test needs the valve in service, so seeing its outcome moved the unit."""
        assert fold(model, [*self.RUNNING, *events]).waiting == ""

    def test_after_other_checks_the_answer_is_still_its_own(self, model: Model) -> None:
        between = (arrived("ask_salt", DRAW), Saw("salt_use", "usual"))
        state = fold(model, [*self.RUNNING, *between, Saw("level", "falls")])
        assert (state.at, state.since) == ("draw_test", ())


class TestToQuestion:
    """What the exact engine is asked."""

    def test_an_outcome_becomes_a_likelihood_in_the_order_of_the_model(self, model: Model) -> None:
        question = to_question(
            model, fold(model, [Saw("suction_felt", "weak"), Saw("proof", "failed")])
        )
        assert [item.likelihood for item in question.seen] == [(0.0, 1.0, 0.0), (0.0, 1.0)]
