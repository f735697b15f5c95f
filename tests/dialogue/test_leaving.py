"""How a visit ends, and what is seen to before leaving."""

from __future__ import annotations

import pytest

from brinebayes.dialogue.leaving import PARKED_LIST, SERVICE_LIST
from brinebayes.knowledge.shop import Shop
from brinebayes.visit.ends import ENDS
from brinebayes.visit.events import Arrived, Ended
from brinebayes.wording.screen import words
from tests.dialogue.drive import TO_THE_FIRST_ACT, Sitting

SERVICE = {"flow": "through", "position": "service", "pressure": "full", "cover": "on"}


def leave(*lines: str, shop: Shop | None = None) -> Sitting:
    """Past the first questions, these lines, and then `finish`."""
    sitting = Sitting(*TO_THE_FIRST_ACT, *lines, shop=shop or Shop())
    return sitting.type("finish")


class TestEnds:
    """The end follows from what was done; only without a repair is it asked."""

    @pytest.mark.parametrize(
        ("lines", "end"),
        [
            (("take clean_injector", "1", "take proof", "passed"), "proven"),
            (("take clean_injector", "1"), "repaired_proof_pending"),
            (("take clean_injector", "1", "take proof", "failed"), "second_visit_needed"),
            (
                ("take clean_injector", "1", "take proof", "passed", "done clear_brine_line"),
                "repaired_proof_pending",
            ),
        ],
    )
    def test_after_repairs(self, lines: tuple[str, ...], end: str) -> None:
        sitting = leave(*lines)
        assert sitting.at() == ("leaving", end)

    def test_without_a_repair_it_is_asked(self) -> None:
        sitting = leave()
        assert [o.id for o in sitting.prompt.options] == [
            "second_visit_needed",
            "not_a_softener_fault",
        ]

    def test_a_rule_that_points_outside_comes_first(self) -> None:
        """Soft water and the usual salt: the small model's rule for a tap that is not softened."""
        sitting = leave("saw outlet_hardness=soft", "saw salt_use=usual")
        assert sitting.prompt.options[0].id == "not_a_softener_fault"

    def test_passing_on(self) -> None:
        sitting = Sitting(*TO_THE_FIRST_ACT, "pass on")
        assert sitting.prompt.kind == "to_whom"
        sitting.type("the plumber", "ok")
        assert sitting.state.ended == Ended("escalated", "", "the plumber", "", ())

    def test_the_rule_says_who_takes_it_on(self) -> None:
        sitting = Sitting(*TO_THE_FIRST_ACT, "done clean_injector", "saw suction_felt=pushes")
        sitting.type("pass on")
        assert sitting.prompt.text == "licensed plumber"
        sitting.type("", "ok")
        assert sitting.state.ended is not None
        assert sitting.state.ended.to == "licensed plumber"

    def test_back_goes_on_with_the_visit(self) -> None:
        assert leave().type("back").prompt.kind == "check"


class TestList:
    """Everything on it is so, or what is not stays on record."""

    def test_all_so_means_that_the_unit_stands_in_service(self) -> None:
        sitting = leave("take clean_injector", "1")
        assert [option.id for option in sitting.prompt.options] == list(SERVICE_LIST)
        assert sitting.prompt.route is not None
        assert sitting.prompt.route.moves == ("fit_cover", "open_bypass")
        sitting.type("ok", "")
        assert sitting.events[-2] == Arrived("finish", SERVICE)
        assert sitting.prompt.kind == "closed"

    def test_what_is_not_so_is_recorded_and_the_setup_is_not(self) -> None:
        sitting = leave("take clean_injector", "1").type("6, 3 3", "")
        assert sitting.state.ended is not None
        assert sitting.state.ended.still_open == ("clock_and_settings", "customer_shown")
        assert not isinstance(sitting.events[-2], Arrived)

    @pytest.mark.parametrize("line", ["yes", "0", "8", "1 x", "-"])
    def test_anything_else_is_refused(self, line: str) -> None:
        sitting = leave("take clean_injector", "1").type(line)
        assert sitting.words == ["refused"]
        assert sitting.prompt.kind == "leaving"

    def test_an_empty_line_is_no_yes(self) -> None:
        assert leave("take clean_injector", "1").type("").prompt.kind == "leaving"

    def test_a_unit_that_was_made_safe_and_not_mended_is_left_in_bypass(self) -> None:
        sitting = Sitting("tank_overflows", "", "1", "go", "1", "finish", "second_visit_needed")
        assert [option.id for option in sitting.prompt.options] == list(PARKED_LIST)

    def test_every_item_and_end_has_its_words(self) -> None:
        assert set(words()["leaving"]) == {*SERVICE_LIST, *PARKED_LIST}
        assert set(words()["ends"]) == set(ENDS)


class TestCallBack:
    """A date follows where something is still to be proven or mended."""

    @pytest.mark.parametrize(
        ("line", "day"), [("", "2024-06-03"), ("1", "2024-06-01"), ("365", "2025-05-31")]
    )
    def test_the_date(self, line: str, day: str) -> None:
        """Counted from 31 May 2024; the small model says three days."""
        sitting = leave("take clean_injector", "1").type("ok")
        assert (sitting.prompt.kind, sitting.prompt.text) == ("call_back", "3")
        sitting.type(line)
        assert sitting.state.ended == Ended("repaired_proof_pending", "", "", day, ())

    @pytest.mark.parametrize("line", ["0", "366", "soon", "-1"])
    def test_days_that_are_none(self, line: str) -> None:
        sitting = leave("take clean_injector", "1").type("ok", line)
        assert sitting.words == ["days"]

    def test_the_shop_has_its_own_number(self) -> None:
        sitting = leave("take clean_injector", "1", shop=Shop(call_back_days=9)).type("ok")
        assert sitting.prompt.text == "9"

    def test_a_proven_visit_needs_none(self) -> None:
        sitting = leave("take clean_injector", "1", "take proof", "passed").type("ok")
        assert sitting.state.ended == Ended("proven", "", "", "", ())
