"""A line in; events and words out."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from brinebayes.checking.ready import ready
from brinebayes.dialogue.answer import answer
from brinebayes.dialogue.dialogue import open_dialogue, proceed
from brinebayes.knowledge.frozen import ReadOnly
from brinebayes.knowledge.shipped import model_folder
from brinebayes.visit.events import (
    Arrived,
    Complained,
    CouldNot,
    Done,
    Event,
    Found,
    Measured,
    Note,
    PartHere,
    PartMissing,
    Read,
    Refilled,
    Saw,
    SetupIs,
    SiteKnown,
    Skipped,
    Undo,
    Waiting,
    arrived,
)
from brinebayes.visit.record import parse, to_lines
from brinebayes.visit.state import fold
from brinebayes.wording.summary import office
from tests.dialogue.drive import TO_THE_FIRST_ACT, TODAY, Sitting, small

AT_DRAW = {"flow": "through", "position": "brine_draw", "pressure": "full", "cover": "on"}


def first_act(*lines: str) -> Sitting:
    """Past the first questions, and then these lines."""
    return Sitting(*TO_THE_FIRST_ACT, *lines)


def new(sitting: Sitting) -> tuple[Event, ...]:
    """What was recorded after the first questions."""
    return sitting.events[len(Sitting(*TO_THE_FIRST_ACT).events) :]


class TestAnswers:
    """An answer to an act says that its route was walked."""

    def test_a_check(self) -> None:
        sitting = first_act("take draw_test", "strong", "falls")
        draw = arrived("draw_test", AT_DRAW)
        assert new(sitting) == (draw, Saw("suction_felt", "strong"), Saw("level", "falls"))
        assert sitting.state.walked == AT_DRAW

    def test_the_route_to_the_next_act_starts_there(self) -> None:
        sitting = first_act("take draw_test", "strong", "falls", "take hardness_test")
        assert sitting.prompt.route is not None
        assert sitting.prompt.route.moves == ("step_to_service",)

    def test_a_repair(self) -> None:
        sitting = first_act("take clean_injector", "done")
        open_cover = {"flow": "around", "position": "service", "pressure": "none", "cover": "off"}
        assert new(sitting) == (arrived("clean_injector", open_cover), Done("clean_injector"))
        assert sitting.words == ["after_repair"]

    def test_a_repair_that_could_not_be_done(self) -> None:
        sitting = first_act("take clean_injector", "2")
        assert new(sitting) == (CouldNot("clean_injector"),)
        assert sitting.type("take clean_injector").words == ["refused"]

    def test_a_part_that_is_missing_and_then_here(self) -> None:
        sitting = first_act("take replace_seals", "3")
        assert new(sitting) == (PartMissing("seal_kit"),)
        sitting.type("take replace_seals")
        assert sitting.at() == ("fetch", "replace_seals")
        sitting.type("1", "take replace_seals")
        assert new(sitting) == (PartMissing("seal_kit"), PartHere("seal_kit"))
        assert sitting.at() == ("repair", "replace_seals")
        assert len(sitting.prompt.options) == 2

    def test_a_part_that_is_not_fetched(self) -> None:
        sitting = first_act("take replace_seals", "3", "take replace_seals", "later")
        assert new(sitting)[-1] == CouldNot("replace_seals")

    def test_the_proof(self) -> None:
        sitting = first_act("take clean_injector", "1", "take proof")
        assert sitting.at() == ("prove", "proof")
        sitting.type("passed")
        assert sitting.events[-1] == Saw("proof", "passed")
        assert isinstance(sitting.events[-2], Arrived)

    def test_an_answer_without_a_question(self) -> None:
        assert first_act("take clean_injector", "4").words == ["unknown"]
        assert first_act("").words == ["no_answer"]


class TestBrine:
    """A second draw needs a refill, and answering it says that it was made."""

    def test_it_is_said_before_and_recorded_after(self) -> None:
        sitting = first_act("take draw_test", "weak", "falls")
        assert sitting.prompt.kind == "question"  # doubted: the same draw is looked at again
        sitting.type("weak", "static", "take clear_brine_line", "done", "take draw_test")
        assert sitting.prompt.refill == (2.0, 60.0)
        sitting.type("strong")
        assert sitting.events[-3:-1] == (Refilled(), arrived("draw_test", AT_DRAW))

    def test_the_technician_may_say_so(self) -> None:
        lines = ("take draw_test", "strong", "static", "take clear_brine_line", "done")
        sitting = first_act(*lines, "refilled", "take draw_test")
        assert sitting.prompt.refill == (0.0, 0.0)


class TestCommands:
    """What each word records, says, or turns to."""

    @pytest.mark.parametrize(
        ("line", "event"),
        [
            ("saw level=falls", Saw("level", "falls")),
            ("saw Level = FALLS", Saw("level", "falls")),
            ("saw proof=failed", Saw("proof", "failed")),
            ("saw supply=well", SiteKnown("supply", "well")),
            ("saw complaint=hard_water", Complained("hard_water")),
            ("saw hard_water", Complained("hard_water")),
            ("said scale on the taps", Complained("hard_water")),
            ("done clean_injector", Done("clean_injector")),
            ("setup cover=off", SetupIs("cover", "off")),
            ("note the lid is cracked", Note("the lid is cracked")),
            ("found seals_worn", Found("seals_worn", "")),
            ("found Piston seals worn = Seen", Found("seals_worn", "seen")),
            ("part missing seal_kit", PartMissing("seal_kit")),
            ("part here seal_kit", PartHere("seal_kit")),
            ("refilled", Refilled()),
            ("undo", Undo()),
        ],
    )
    def test_recorded(self, line: str, event: Event) -> None:
        assert new(first_act(line)) == (event,)

    @pytest.mark.parametrize(
        ("line", "why"),
        [
            ("saw level=fals", "no outcome of level 'fals' (did you mean falls?)"),
            ("saw levle=falls", "no observation 'levle' (did you mean level?)"),
            ("saw", "saw OBSERVATION=OUTCOME"),
            ("said it rattles", "a complaint"),
            ("done clean", "no repair 'clean'"),
            ("done", "done REPAIR"),
            ("setup cover", "setup PART=STATE"),
            ("setup lid=on", "no setup variable 'lid'"),
            ("part missing", "part missing PART"),
            ("part here pump", "no part 'pump'"),
            ("note", "note TEXT"),
            ("found", "found FAULT"),
            ("found seals", "no fault 'seals' (did you mean seals_worn?)"),
            ("found seals_worn=sene", "no way to find a fault 'sene' (did you mean seen?)"),
            ("take dance", "no act 'dance' open now"),
            ("take 99", "no act '99' open now"),
        ],
    )
    def test_refused_with_what_would_be_right(self, line: str, why: str) -> None:
        sitting = first_act(line)
        assert sitting.words == ["refused"]
        assert why in sitting.said[0].values["why"]
        assert new(sitting) == ()

    def test_an_act_that_a_rule_holds_back(self) -> None:
        """Hard water: nothing is opened before the water was tested (rules of the small model)."""
        sitting = first_act("said hard_water", "take open_injector")
        assert sitting.words == ["held_back"]
        assert sitting.said[0].values["why"] == "Test the water before anything is opened."

    @pytest.mark.parametrize("word", ["why", "think", "help"])
    def test_said_and_nothing_changed(self, word: str) -> None:
        sitting = first_act()
        before = sitting.dialogue
        sitting.type(word)
        assert sitting.words == [word]
        assert sitting.dialogue.prompt == before.prompt
        assert sitting.dialogue.events == before.events

    @pytest.mark.parametrize(
        "line", ["note x", "found seals_worn", "take replace_seals", "list", "said nothing new"]
    )
    def test_advice_is_not_worked_out_again_for_what_it_does_not_depend_on(self, line: str) -> None:
        sitting = first_act()
        before = sitting.dialogue.advised
        assert before is not None
        assert sitting.type(line).dialogue.advised is before
        assert sitting.type("saw level=falls").dialogue.advised is not before

    def test_could_not(self) -> None:
        sitting = first_act("take draw_test", "could not")
        assert new(sitting) == (CouldNot("draw_test"),)
        assert sitting.type("list", "could not").words == ["no_answer"]

    def test_quit_ends_the_sitting_and_records_nothing(self) -> None:
        sitting = first_act("quit")
        assert sitting.over
        assert new(sitting) == ()


class TestUndo:
    """The last step is taken back, as far as there are steps."""

    def test_an_answer_goes_with_its_arrival(self) -> None:
        sitting = first_act("take draw_test", "strong", "undo")
        assert sitting.state.seen == ()
        assert sitting.state.walked == first_act().state.walked
        assert sitting.said[0].values == {"event": "saw", "words": "suction_felt = strong"}

    def test_all_the_way_back(self) -> None:
        sitting = first_act("take draw_test", "strong", "falls")
        sitting.type(*["undo"] * 5)
        assert sitting.at() == ("complaint", "")
        assert sitting.type("undo").words == ["nothing_to_undo"]

    def test_an_ended_visit_is_open_again(self) -> None:
        sitting = first_act("finish", "1", "ok", "")
        assert sitting.prompt.kind == "closed"
        assert sitting.type("saw level=falls").words == ["closed"]
        assert sitting.type("undo").prompt.kind == "check"


class TestOutOfOrder:
    """What was done in another way leaves the setup unknown: the worst case."""

    def test_an_observation(self) -> None:
        sitting = first_act("take draw_test", "strong", "falls", "saw injector_seen=clear")
        assert sitting.state.walked == AT_DRAW
        assert sitting.state.since == ("open_injector",)

    def test_a_repair(self) -> None:
        sitting = first_act("done clean_injector")
        assert sitting.state.since == ("clean_injector",)
        assert sitting.state.done == ("clean_injector",)


class TestNumbers:
    """A number with its unit instead of an answer; the shipped model knows how to read some."""

    BEGUN = (Skipped("complaint"), Skipped("site"), Skipped("setup"))

    def test_at_the_question(self) -> None:
        """Nine inches across and a third of the usual backwash: low."""
        sitting = shipped("saw tank_diameter=9 in", "take bucket_backwash", "0.7 gpm")
        assert sitting.events[len(self.BEGUN)] == Measured("tank_diameter", "9 in")
        assert sitting.events[-1] == Read("backwash_at_drain", "0.7 gpm")
        assert isinstance(sitting.events[-2], Arrived)
        assert sitting.state.seen_now() == {"backwash_at_drain": "low"}
        assert [item.reading.text for item in sitting.dialogue.read] == ["0.7 gpm"]
        office_text = office(sitting.dialogue, parse("x", to_lines(sitting.events).encode()))
        assert "Backwash at the drain: clearly less (0.7 gpm)" in office_text

    def test_at_any_time(self) -> None:
        assert shipped("saw backwash_at_drain=2 gpm").events[len(self.BEGUN) :] == (
            Read("backwash_at_drain", "2 gpm"),
        )

    def test_a_number_that_cannot_be_is_not_taken(self) -> None:
        sitting = shipped("saw backwash_at_drain=2 psi")
        assert sitting.words == ["refused"]
        assert "psi" in sitting.said[0].values["why"]

    def test_a_number_taken_too_early_leaves_the_question_open(self) -> None:
        sitting = shipped("take watch_level", "0.2 in in 2 min")
        assert (sitting.prompt.kind, sitting.prompt.observation) == ("question", "level_in_draw")
        assert sitting.dialogue.read[0].reading.challenge is not None
        assert sitting.state.seen == ()


def shipped(*lines: str) -> Sitting:
    """On the shipped model, past the first questions."""
    return Sitting(*lines, events=TestNumbers.BEGUN, checked=ready(model_folder()))


class TestWaiting:
    """While a check waits others are offered that do not disturb it."""

    def test_start_offers_another_and_comes_back(self) -> None:
        sitting = first_act("take draw_test")
        assert sitting.prompt.meanwhile == ("ask_salt",)
        sitting.type("start")
        assert new(sitting) == (arrived("draw_test", AT_DRAW), Waiting("draw_test"))
        assert sitting.at() == ("check", "ask_salt")
        assert sitting.prompt.running == "draw_test"
        sitting.type("usual")
        assert (sitting.at(), sitting.prompt.observation) == (
            ("question", "draw_test"),
            "suction_felt",
        )
        sitting.type("strong", "falls")
        assert sitting.state.waiting == ""
        assert sitting.state.walked == AT_DRAW
        assert sitting.state.since == ()

    def test_what_would_disturb_it_is_not_offered(self) -> None:
        model = small().model
        ask = replace(model.checks["ask_salt"], disturbs=("draw_test",))
        disturbing = replace(model, checks=ReadOnly({**model.checks, "ask_salt": ask}))
        checked = replace(small(), model=disturbing)
        sitting = Sitting(*TO_THE_FIRST_ACT, "take draw_test", checked=checked)
        assert sitting.prompt.meanwhile == ()
        assert sitting.type("start").at() == ("question", "draw_test")

    def test_now_looks_at_once(self) -> None:
        sitting = first_act("take draw_test", "start", "now")
        assert sitting.at() == ("question", "draw_test")

    def test_an_act_that_moves_the_unit_ends_the_wait(self) -> None:
        sitting = first_act("take draw_test", "start", "take hardness_test")
        assert sitting.prompt.running == "draw_test"
        sitting.type("soft")
        assert sitting.state.waiting == ""

    @pytest.mark.parametrize(
        ("lines", "word"),
        [
            (("now",), "nothing_waits"),
            (("take hardness_test", "start"), "cannot_wait"),
            (("take clean_injector", "start"), "cannot_wait"),
        ],
    )
    def test_refused(self, lines: tuple[str, ...], word: str) -> None:
        assert first_act(*lines).words == [word]


#: Lines of every kind, sensible and not.
LINES = st.sampled_from(
    [
        "1",
        "2",
        "3",
        "",
        "go",
        "undo",
        "could not",
        "why",
        "think",
        "list",
        "back",
        "show",
        "start",
        "now",
        "refilled",
        "help",
        "finish",
        "ok",
        "pass on",
        "saw level=falls",
        "saw suction_felt=pushes",
        "saw x=y",
        "done clean_injector",
        "setup cover=off",
        "setup flow=around",
        "note x",
        "found seals_worn",
        "part missing seal_kit",
        "part here seal_kit",
        "take draw_test",
        "take replace_seals",
        "take proof",
        "quit",
        "nonsense",
        "99",
    ]
)


class TestLaws:
    """Whatever is typed."""

    @settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
    @given(lines=st.lists(LINES, max_size=12))
    def test_a_sitting_can_be_broken_off_anywhere(self, lines: list[str]) -> None:
        """The events alone give back the same state; a later sitting stands at the same point."""
        dialogue = open_dialogue(small(), (), Sitting().dialogue.shop)
        for line in lines:
            turn = answer(dialogue, line, TODAY)
            after = proceed(dialogue, turn)
            assert after.events == (*dialogue.events, *turn.events)
            assert fold(small().model, after.events) == after.state
            dialogue = after
        again = open_dialogue(small(), dialogue.events, dialogue.shop)
        assert again.state == dialogue.state
        if dialogue.scene.focus == again.scene.focus:
            assert again.prompt == dialogue.prompt
