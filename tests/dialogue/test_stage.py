"""The order of a visit: which prompt comes next."""

from __future__ import annotations

import pytest

from brinebayes.checking.ready import ready
from brinebayes.dialogue.stage import to_look_at
from brinebayes.knowledge.shipped import model_folder
from brinebayes.setups.routes import tabulate
from brinebayes.visit.events import Complained, Event, Saw, SetupIs, SiteKnown, Skipped, arrived
from tests.dialogue.drive import TO_THE_FIRST_ACT, Sitting, small

WELL = SiteKnown("supply", "well")
SERVICE = arrived("", {"flow": "through", "position": "service", "pressure": "full", "cover": "on"})


class TestFirstQuestions:
    """Complaint, make safe, the place, how it stands; each may be skipped."""

    def test_the_order(self) -> None:
        sitting = Sitting()
        met = [sitting.at()]
        for line in ("1", "", "2", "1", "1"):
            met.append(sitting.type(line).at())
        assert met[:-1] == [
            ("complaint", ""),
            ("complaint", ""),
            ("site", "supply"),
            ("site", "valve"),
            ("setup", ""),
        ]
        assert met[-1][0] == "check"
        assert sitting.events == (
            Complained("hard_water"),
            Skipped("complaint"),
            SiteKnown("supply", "well"),
            SiteKnown("valve", "piston"),
            SERVICE,
        )

    def test_everything_may_be_skipped(self) -> None:
        sitting = Sitting("", "", "", "")
        assert sitting.events == tuple(map(Skipped, ("complaint", "supply", "valve", "setup")))
        assert sitting.prompt.kind == "check"
        assert sitting.state.site == {}

    def test_go_skips_the_rest_of_the_place(self) -> None:
        assert Sitting("", "go").prompt.kind == "setup"

    def test_make_it_safe_comes_before_the_place(self) -> None:
        sitting = Sitting("2", "")
        assert sitting.at() == ("make_safe", "flood_make_safe")
        assert sitting.type("").at() == ("make_safe", "flood_make_safe")
        assert sitting.type("1").at() == ("site", "supply")
        assert "flood_make_safe" in sitting.state.heeded

    def test_make_it_safe_comes_whenever_it_is_said(self) -> None:
        sitting = Sitting(*TO_THE_FIRST_ACT, "said the tank is full")
        assert sitting.at() == ("make_safe", "flood_make_safe")
        assert sitting.type("2").prompt.kind in ("check", "repair")

    def test_a_complaint_in_the_customers_words(self) -> None:
        assert Sitting("The Water is HARD").events == (Complained("hard_water"),)

    def test_all_complaints_made_ends_the_question(self) -> None:
        assert Sitting("1", "1", "1").at() == ("site", "supply")

    @pytest.mark.parametrize(
        "events",
        [
            (
                *(
                    Complained("hard_water"),
                    SiteKnown("supply", "well"),
                    SiteKnown("valve", "disc"),
                ),
                SetupIs("cover", "on"),
            ),
            (Complained("hard_water"), Saw("level", "static"), Skipped("site"), Skipped("setup")),
            (Skipped("complaint"), Skipped("site"), Skipped("setup")),
            (Skipped("complaint"), Skipped("site"), SERVICE),
        ],
    )
    def test_what_a_file_already_tells_is_not_asked(self, events: tuple[Event, ...]) -> None:
        assert Sitting(events=events).prompt.kind in ("check", "repair")

    @pytest.mark.parametrize(
        ("events", "kind"),
        [
            ((Saw("level", "static"),), "complaint"),
            ((Complained("hard_water"), Saw("level", "static")), "site"),
            ((Complained("hard_water"), Saw("level", "static"), Skipped("site")), "setup"),
        ],
    )
    def test_what_a_file_leaves_open_is_asked(self, events: tuple[Event, ...], kind: str) -> None:
        assert Sitting(events=events).prompt.kind == kind

    def test_how_it_stands_is_told_part_by_part(self) -> None:
        sitting = Sitting("", "go", "2")
        assert sitting.at() == ("part", "flow")
        sitting.type("around")
        assert sitting.at() == ("part", "position")
        sitting.type("")
        assert sitting.events[2:] == (SetupIs("flow", "around"),)
        assert sitting.prompt.kind in ("check", "repair")

    @pytest.mark.parametrize("lines", [("2", "", ""), ("2", "go")])
    def test_when_no_part_is_known_the_question_is_not_put_again(
        self, lines: tuple[str, ...]
    ) -> None:
        sitting = Sitting("", "go", *lines)
        assert sitting.events[2:] == (Skipped("setup"),)
        assert sitting.prompt.kind in ("check", "repair")

    def test_nobody_has_looked_is_no_answer(self) -> None:
        """In the shipped setups `unsure` stands for everything else; in the small model the worst
        value is a real one."""
        shipped = Sitting("", "go", "2", checked=ready(model_folder()))
        assert shipped.at() == ("part", "water")
        assert [o.id for o in shipped.prompt.options] == ["service", "feeding", "bypassed"]
        small = Sitting("", "go", "2")
        assert [o.id for o in small.prompt.options] == ["through", "around"]

    def test_only_parts_are_looked_at_that_do_not_follow_from_others(self) -> None:
        """In the small model the pressure, and with it the cover, follow from the water's way."""
        assert to_look_at(tabulate(small().model)) == ("flow", "position")


class TestActs:
    """One act at a time; a check's questions stay together."""

    def test_every_question_of_a_check_is_put_before_anything_else(self) -> None:
        sitting = Sitting(*TO_THE_FIRST_ACT, "take draw_test", "strong")
        assert sitting.at() == ("question", "draw_test")
        assert sitting.prompt.observation == "level"
        assert sitting.type("static").at() != ("question", "draw_test")

    def test_a_question_of_a_check_may_be_left_out(self) -> None:
        sitting = Sitting(*TO_THE_FIRST_ACT, "take draw_test", "strong", "")
        assert sitting.events[-1] == Skipped("level")
        assert sitting.at() != ("question", "draw_test")
        assert sitting.type("take draw_test").words == ["refused"]

    def test_after_a_repair_the_question_is_open_again(self) -> None:
        lines = ("take draw_test", "strong", "", "take clear_brine_line", "1")
        sitting = Sitting(*TO_THE_FIRST_ACT, *lines)
        assert sitting.type("take draw_test").at() == ("check", "draw_test")

    def test_a_doubted_answer_is_asked_once_more_and_not_a_third_time(self) -> None:
        sitting = Sitting(*TO_THE_FIRST_ACT, "take draw_test", "weak", "falls")
        assert (sitting.prompt.kind, sitting.prompt.observation) == ("question", "suction_felt")
        sitting.type("weak")
        assert (sitting.prompt.kind, sitting.prompt.observation) == ("question", "level")
        sitting.type("falls")
        assert sitting.prompt.kind != "question"
        assert sitting.type("take draw_test").words == ["refused"]

    def test_an_act_that_is_taken_comes_before_the_advised_one(self) -> None:
        sitting = Sitting(*TO_THE_FIRST_ACT)
        best = sitting.prompt.subject
        assert sitting.type("take clear_brine_line").at() == ("repair", "clear_brine_line")
        assert sitting.type("back").at() == ("check", best)

    def test_the_list_is_chosen_from_by_number(self) -> None:
        sitting = Sitting(*TO_THE_FIRST_ACT, "list")
        ids = [option.id for option in sitting.prompt.options]
        assert sitting.type("2").prompt.subject == ids[1]
        assert sitting.type("list", "").prompt.subject == ids[0]

    def test_a_licensed_repair_is_no_work_for_us(self) -> None:
        """In the shipped model; the small one has none."""
        options = Sitting(*TO_THE_FIRST_ACT, "take escalate").prompt.options
        assert [option.id for option in options] == ["pass_on"]


class TestStuck:
    """What cannot hold together is said, and can be taken back."""

    def test_a_setup_that_cannot_be(self) -> None:
        sitting = Sitting("", "go", "", "setup cover=off", "setup pressure=full")
        assert sitting.prompt.kind == "stuck"
        assert "cover_under_pressure" in sitting.prompt.text
        assert sitting.type("undo").prompt.kind in ("check", "repair")

    def test_the_visit_can_still_be_ended(self) -> None:
        lines = ("", "go", "", "setup cover=off", "setup pressure=full", "finish")
        assert Sitting(*lines).prompt.kind == "which_end"
