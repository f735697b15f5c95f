"""Screens of a visit: what a technician reads, in the width of any terminal."""

from __future__ import annotations

import json
import string
from collections.abc import Iterator
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from brinebayes.knowledge.shop import Shop
from brinebayes.visit.events import KINDS
from brinebayes.wording.fill import templates
from brinebayes.wording.screen import screen, words
from brinebayes.wording.talk import talk
from tests.dialogue.drive import TO_THE_FIRST_ACT, Sitting
from tests.dialogue.test_answer import LINES

COLUMNS = 80


def shown(*lines: str, shop: Shop | None = None) -> str:
    """The screen after these lines."""
    return screen(Sitting(*lines, shop=shop or Shop()).dialogue)


def at_act(*lines: str, shop: Shop | None = None) -> str:
    """The screen after the first questions and these lines."""
    return shown(*TO_THE_FIRST_ACT, *lines, shop=shop)


class TestScreen:
    """What hurts comes first, then why, then the way with its dangers, then the question."""

    def test_a_check(self) -> None:
        text = at_act("take draw_test")
        order = [
            "CHECK: Watch the brine draw",
            "  !     Wear eye protection; brine may spurt.",
            "  takes 5 min + 10 min waiting",
            "  why   ",
            "  first 1. Step to the brine draw",
            "  do    Step to the brine draw, mark the level",
            "  wait  10 min. Type start to begin it; meanwhile there is: Ask about the",
            "How strong is the suction with the line off?",
            "   1  holds a thumb",
            "   3  pushes water out",
        ]
        places = [text.find(line) for line in order]
        assert -1 not in places
        assert places == sorted(places)

    def test_the_dangers_of_a_move_stand_with_it(self) -> None:
        lines = at_act("take clear_brine_line").splitlines()
        here = lines.index("        2. Let the pressure off")
        assert lines[here + 1] == "           ! Water may spurt; keep clear of the vent."

    def test_local_codes_are_named_where_it_can_hurt_and_nowhere_else(self) -> None:
        assert templates()["local_codes"] in at_act("take draw_test")
        assert templates()["local_codes"] not in at_act("take hardness_test")

    def test_make_it_safe(self) -> None:
        text = shown("tank_overflows", "")
        assert text.startswith("\nFIRST OF ALL, MAKE IT SAFE\n  !   Turn the bypass shut")

    def test_a_part_with_the_shops_code(self) -> None:
        shop = Shop(van=("seal_kit",), codes={"seal_kit": "S 17"})
        assert "  parts seal kit (S 17), in the van\n" in at_act("take replace_seals", shop=shop)
        assert "not in the van: seal kit" in at_act("take replace_seals", shop=shop)

    @pytest.mark.parametrize(("van", "words"), [((), "not in the van"), (None, "in 80 % of vans")])
    def test_a_part_that_may_not_be_there(self, van: tuple[str, ...] | None, words: str) -> None:
        assert f"  parts seal kit, {words}\n" in at_act("take replace_seals", shop=Shop(van=van))

    def test_the_wait_that_runs(self) -> None:
        text = at_act("take draw_test", "start")
        assert text.startswith("\nRUNNING: Watch the brine draw, about 10 min.")
        moving = at_act("take draw_test", "start", "take hardness_test")
        assert "This act moves the unit and ends that wait." in moving
        assert "This act moves the unit" not in text

    def test_a_refill_before_a_draw(self) -> None:
        lines = ("take draw_test", "strong", "static", "take clear_brine_line", "1")
        assert "  brine Run a refill and let the brine stand first: 2 min + 60 min" in at_act(
            *lines, "take draw_test"
        )

    def test_a_rule_is_told_once(self) -> None:
        sitting = Sitting(*TO_THE_FIRST_ACT, "saw level=falls", "saw suction_felt=weak")
        assert "Doubtful: The level cannot fall" in screen(sitting.dialogue)
        assert "Doubtful" not in screen(sitting.type("note x").dialogue)

    def test_answers_that_fit_badly_are_told_once_and_when_asked(self) -> None:
        """Suction pushes water, and yet everything is soft and salt is used as ever."""
        saws = ("saw suction_felt=pushes", "saw outlet_hardness=soft", "saw salt_use=usual")
        sitting = Sitting(*TO_THE_FIRST_ACT, *saws)
        assert sitting.dialogue.clash
        lines = screen(sitting.dialogue)
        assert "? What was seen fits together badly (" in lines
        assert "saw suction_felt=OUTCOME answers it anew." in " ".join(lines.split())
        assert "fits together badly" not in screen(sitting.type("note x").dialogue)
        sitting.type("think")
        assert "fits together badly" in talk(sitting.dialogue, sitting.said[0])

    @settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.too_slow])
    @given(lines=st.lists(LINES, max_size=10))
    def test_no_line_is_wider_than_a_terminal(self, lines: list[str]) -> None:
        sitting = Sitting()
        for line in lines:
            sitting.type(line)
            texts = [screen(sitting.dialogue), *(talk(sitting.dialogue, s) for s in sitting.said)]
            assert [row for text in texts for row in text.splitlines() if len(row) > COLUMNS] == []


def texts(found: Any) -> Iterator[str]:
    """Every sentence among the templates of a visit."""
    if isinstance(found, str):
        yield found
    else:
        for item in found.values() if isinstance(found, dict) else found:
            yield from texts(item)


class TestTemplates:
    """Data that other shells use too."""

    def test_every_template_is_used(self) -> None:
        """Its key stands somewhere in the code, or among the ids that the code names."""
        code = _code()
        unused = [
            f"{group}.{key}"
            for group, found in words().items()
            if isinstance(found, dict) and group not in ("ends", "leaving", "labels", "events")
            for key in found
            if f'"{key}"' not in code and f'"{key.removesuffix("_more")}' not in code
        ]
        assert unused == []

    def test_every_event_that_can_be_taken_back_has_a_name(self) -> None:
        assert set(words()["events"]) == set(KINDS) - {"undo", "model", "cut_off"}

    def test_places_are_well_formed(self) -> None:
        for text in texts(words()):
            assert all(name != "" for _, name, _, _ in string.Formatter().parse(text)), text

    def test_it_is_plain_json(self) -> None:
        assert json.loads(json.dumps(words())) == words()


def _code() -> str:
    from pathlib import Path

    import brinebayes

    rooms = ("wording", "dialogue", "visit")
    package = Path(brinebayes.__file__).parent
    return "\n".join(
        path.read_text(encoding="utf-8") for room in rooms for path in (package / room).glob("*.py")
    )
